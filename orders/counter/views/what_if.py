"""What if: change figures on a copy of an order and see both side by side."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from orders.counter.forms.what_if import WhatIfForm
from orders.models import Order
from orders.reckoning.what_if import compare


def what_if(request, number: int) -> HttpResponse:
    """The order as it is beside the order as it would be; nothing is written."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    form = WhatIfForm(request.POST or None, order=order)
    comparison = None
    if request.method == "POST" and form.is_valid():
        comparison = compare(order, form.changes(), business=request.business)
        if comparison.refusal:
            form.refuse(comparison.refusal, *comparison.refused)
    context = {"order": order, "form": form, "comparison": comparison}
    template = (
        "orders/counter/_what_if_result.html" if request.htmx else "orders/counter/what_if.html"
    )
    return render(request, template, context, status=422 if form.errors else 200)
