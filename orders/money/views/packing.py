"""Packing: what goes into which box, then the list to print."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.drawn.masses import strand_masses
from orders.models import Document, Order, StrandDesign
from orders.money.forms.packing import PackingForm
from orders.money.papers.packing import pack, packing_list_html
from orders.papers.respond import printed
from workshop.typed import whole_number


@require_GET
def packing_list(request, number):
    """Say what is in which box; `print` gives the PDF. Nothing is written."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    invoice = order.papers.filter(kind=Document.Kind.INVOICE, on_account=False).first()
    if invoice is None:
        messages.warning(
            request, _("A packing list names its invoice; issue the invoice of the order first.")
        )
        return redirect("orders:order_detail", number)
    lines = list(
        invoice.lines.filter(role="goods").select_related("order_line").order_by("position")
    )
    boxes = whole_number(request.GET.get("boxes", "1"), 99) or 1
    business = request.business
    initial = {"heading": business.customs_heading, "origin": business.country}
    sent = "print" in request.GET
    form = PackingForm(request.GET if sent else None, lines=lines, boxes=boxes, initial=initial)
    if sent and form.is_valid():
        designs = StrandDesign.objects.filter(
            pk__in=[line.order_line.design_id for line in lines if line.order_line]
        ).with_findings()
        packed = pack(form.packages(), lines, strand_masses(list(designs)))
        html = packing_list_html(
            invoice,
            packed,
            business,
            heading=form.cleaned_data["heading"],
            origin=form.cleaned_data["origin"],
            marks=form.cleaned_data["marks"],
        )
        return printed(request, html, f"packing-{invoice.number}")
    context = {
        "order": order,
        "invoice": invoice,
        "form": form,
        "boxes": form.box_count,
        "one_more": form.box_count + 1,
    }
    return render(request, "orders/money/packing.html", context, status=422 if sent else 200)
