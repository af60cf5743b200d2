"""Telling a customer: the texts that fit, the way to send them, and the note that one was sent."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from orders.counter.forms.telling import LateForm, SentForm
from orders.counter.services.telling import (
    ShortText,
    say_sent,
    sms_address,
    texts_for,
    was_told,
)
from orders.counter.views.customer_page import has_page
from orders.models import Order, Stage
from workshop.views.edit import add_error, refusals_in
from workshop.views.idempotent import idempotent


@idempotent
def order_tell(request, number: int) -> HttpResponse:
    """What the customer of an order can be told now."""
    order = get_object_or_404(
        Order.objects.select_related("customer").prefetch_related("lines__design"), number=number
    )
    sent = SentForm(request.POST) if request.method == "POST" else None
    if sent is not None and sent.is_valid():
        said = sent.cleaned_data
        with refusals_in(sent):
            say_sent(order, said["kind"], said["text"], to=said["to"], person=request.user)
            messages.success(request, _("Noted: the customer was told."))
            return redirect("orders:order_tell", number=number)
    late = LateForm(request.GET or None, prefix="late")
    texts = _texts(request, order, late)
    context = {
        "order": order,
        "late": late if order.is_open and order.stage < Stage.STRUNG else None,
        "rows": [_row(request, order, each, sent) for each in texts],
        "told": was_told(order),
        "sent": sent,
    }
    status = 422 if sent is not None else 200
    return render(request, "orders/counter/tell.html", context, status=status)


def _texts(request, order: Order, late: LateForm) -> list[ShortText]:
    day = late.cleaned_data["day"] if late.is_bound and late.is_valid() else None
    try:
        return texts_for(order, request.business, late_until=day, page=_page_of(request, order))
    except ValidationError as error:
        add_error(late, error)
        return texts_for(order, request.business, page=_page_of(request, order))


def _page_of(request, order: Order) -> str:
    """The address of the customer's page; "" where there is none."""
    if not has_page(order, request.business):
        return ""
    return request.build_absolute_uri(reverse("orders:customer_page", args=[order.key]))


def _row(request, order: Order, each: ShortText, sent: SentForm | None) -> dict[str, Any]:
    """One text with its boxes; what was typed and refused is kept."""
    nameless = order.customer.nameless
    initial = {
        "kind": each.kind,
        "to": "" if nameless else order.customer.phone,
        "text": each.text,
    }
    form = SentForm(initial=initial, auto_id=f"id_{each.kind}_%s")
    if sent is not None and sent.data.get("kind") == each.kind:
        form = sent
        form.auto_id = f"id_{each.kind}_%s"
    to, text = form["to"].value() or "", form["text"].value() or ""
    return {
        "name": each.name,
        "form": form,
        "address": sms_address(to, text, request.business) if to else "",
        "unreadable": bool(to) and not sms_address(to, text, request.business),
        "no_number": not to,
    }
