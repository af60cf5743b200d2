"""Part of an order handed over and invoiced, while the rest stays promised."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _

from orders.counter.forms.orders import PartForm
from orders.counter.services.collecting import PartGone, hand_over_part, look_at_part
from orders.making.queries.orders import OrderDrawings, listed_orders
from orders.models import Order
from orders.money.queries.snapshot import text
from workshop.views.edit import add_error, form_page
from workshop.views.idempotent import idempotent


@idempotent
def order_part(request, number: int) -> HttpResponse:
    """How many leave now; then what that comes to, how it is paid, and it is done."""
    order = get_object_or_404(listed_orders(), number=number)
    if not order.is_open:
        messages.error(
            request,
            _("Order %(number)s is %(state)s, so no part of it can be handed over.")
            % {"number": number, "state": order.get_state_display()},
        )
        return redirect("orders:order_detail", number=number)
    lines = [line for line in order.lines.all() if line.to_hand_over]
    form = PartForm(request.POST or None, lines=lines, may_wait=request.user.is_owner)
    seen = None
    if request.method == "POST":
        seen = _looked_at(request, order, form)
        agreed = seen is not None and request.POST.get("seen") == text(seen.left)
        if "do" in request.POST and agreed and _handed_over(request, order, form):
            return redirect("orders:order_detail", number=number)
    drawings = OrderDrawings([order])
    context = {
        "order": order,
        "form": form,
        "rows": [
            {"line": line, "drawn": drawings.of_line(line), "n": form[f"n_{line.pk}"]}
            for line in lines
        ],
        "seen": seen,
        "seen_sum": text(seen.left) if seen else "",
    }
    return form_page(request, "orders/counter/part.html", context)


def _looked_at(request, order: Order, form: PartForm) -> PartGone | None:
    if not form.is_valid():
        return None
    try:
        return look_at_part(order, form.strands(), person=request.user)
    except ValidationError as error:
        add_error(form, error)
        return None


def _handed_over(request, order: Order, form: PartForm) -> bool:
    order.refresh_from_db()
    try:
        with transaction.atomic():
            gone = hand_over_part(
                order, form.strands(), person=request.user, way=form.way(),
                on_account=form.way() is None,
            )  # fmt: skip
    except ValidationError as error:
        add_error(form, error)
        return False
    messages.success(
        request,
        _("%(n)s strands of order %(number)s are handed over.")
        % {"n": gone.strands, "number": gone.order.number},
    )
    return True
