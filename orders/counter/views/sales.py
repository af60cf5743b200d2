"""What became of each sale: their list, one of them, and strands that come back."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from orders.counter.filters import SaleFilter
from orders.counter.forms.sell import SaleBackForm
from orders.counter.services.sale_returns import take_sale_back
from orders.counter.tables import SaleTable
from orders.drawn.strands import Draughtsman
from orders.models import Document, Sale
from workshop import formats
from workshop.services.second_look import NeedsAnother, ask
from workshop.views.edit import add_error
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.second_look import waits_sentence


class SaleList(ListPage):
    queryset = (
        Sale.objects.select_related("order__customer", "order__taken_by", "invoice", "payment")
        .defer("invoice__content")
        .prefetch_related("order__lines__design", "returns")
    )
    table_class = SaleTable
    filterset_class = SaleFilter
    heading = gettext_lazy("Sold from the shelf")
    room = "counter"
    add_url_name = "orders:sell"
    add_label = gettext_lazy("Sell from the shelf")
    empty = gettext_lazy("Nothing was sold from the shelf yet.")


sale_list = SaleList.as_view()


def _sale(number: int) -> Sale:
    return get_object_or_404(
        Sale.objects.select_related(
            "order__customer", "order__taken_by", "invoice", "payment", "stall_day__place"
        ).defer("invoice__content"),
        order__number=number,
    )


@require_GET
def sale(request, number: int) -> HttpResponse:
    """One sale: its strands, its papers, what came back."""
    found = _sale(number)
    lines = list(found.order.lines.select_related("design__clasp"))
    drawer = Draughtsman([line.design for line in lines])
    context = {
        "sale": found,
        "lines": [
            {"line": line, "drawn": drawer.strand(line.design_id), "sum": line.price * line.strands}
            for line in lines
        ],
        "receipt": Document.objects.filter(payment=found.payment_id)
        .exclude(payment=None)
        .defer("content")
        .first(),
        "returns": found.returns.select_related("credit", "refund").defer("credit__content"),
        "may_take_back": any(line.came_back < line.strands for line in lines),
    }
    return render(request, "orders/counter/sale.html", context)


@idempotent
def sale_back(request, number: int) -> HttpResponse:
    """Strands of a sale come back: how many, how sound, why, and how the money goes back."""
    found = _sale(number)
    lines = found.order.lines.filter(came_back__lt=F("strands")).select_related("design")
    paid = found.payment
    initial = (
        {"method": paid.method, "drawer": paid.drawer, "network": paid.network} if paid else {}
    )
    form = SaleBackForm(request.POST or None, lines=lines, initial=initial)
    if request.method == "POST" and form.is_valid():
        told = {
            "came_back": form.came_back(),
            "reason": form.cleaned_data["reason"],
            "way": form.way(),
        }
        try:
            with transaction.atomic():
                back = take_sale_back(found, person=request.user, **told)
        except NeedsAnother as error:
            facts = {
                "sale": found.pk,
                "came_back": [[e.line, e.good, e.broken] for e in told["came_back"]],
                "reason": told["reason"],
                "way": {
                    name: getattr(told["way"], name)
                    for name in ("method", "drawer", "network", "payer_number", "reference")
                },
            }
            ask("sale back", error.message, facts, person=request.user)
            messages.warning(request, waits_sentence())
            return redirect("orders:sale", number=number)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(
                request,
                _("%(sum)s is given back and the strands are in the book again.")
                % {"sum": formats.money(back.credit.total)},
            )
            return redirect("orders:sale", number=number)
    status = 422 if request.method == "POST" else 200
    return render(
        request, "orders/counter/sale_back.html", {"sale": found, "form": form}, status=status
    )
