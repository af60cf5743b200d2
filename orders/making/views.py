"""What an order holds, and changing it by hand."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.making.forms import HOLD, LET_GO, TAKE, HoldForm
from orders.making.queries.holds import Source, Wanted, holds_and_wants
from orders.making.services.holding_by_hand import Changed, hold_by_hand, let_go_by_hand, take_over
from orders.models import Order, StockReservation
from stock.models import Balance, ItemKind
from stock.services.moves import say_glass, say_quantity
from workshop.doors import may
from workshop.typed import whole_number
from workshop.views.edit import add_error, form_page
from workshop.views.idempotent import idempotent


@dataclass(frozen=True)
class Row:
    """One line of the page with its own small form."""

    key: str
    act: str
    source: Source
    form: HoldForm | None


@idempotent
def order_holds(request, number: int) -> HttpResponse:
    """Everything an order is made of: what it holds of it, and what else it could hold."""
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    may_act = order.is_open and may(request, "orders:order_holds", "POST")
    sent: HoldForm | None = None
    if request.method == "POST":
        sent = _sent(request)
        if sent.is_valid() and (changed := _done(request, order, sent)):
            for sentence in _said(changed):
                messages.success(request, sentence)
            return redirect("orders:order_holds", number=number)
    context = {
        "order": order,
        "groups": [
            {"of": group, "held": held, "others": others, "words": _words(group)}
            for group in (holds_and_wants(order) if order.is_open else [])
            for held, others in [_rows(group, request, sent, may_act)]
        ],
        "may_act": may_act,
        "form": sent,
    }
    return form_page(request, "orders/making/holds.html", context)


def _sent(request) -> HoldForm:
    act, _dash, pk = request.POST.get("row", "").partition("-")
    key = whole_number(pk)
    if act not in {LET_GO, HOLD, TAKE} or key is None:
        raise Http404
    thing = _thing(act, key)
    item = thing.item if isinstance(thing, Balance) else thing.balance.item if thing else None
    kind = item.kind if item else ItemKind.BEADS
    form = HoldForm(request.POST, kind=kind, act=act, auto_id=f"{act}-{pk}-%s")
    form.act, form.thing = act, thing
    return form


def _thing(act: str, pk: int) -> Balance | StockReservation | None:
    if act == HOLD:
        return get_object_or_404(Balance.objects.select_related("item", "place"), pk=pk)
    return StockReservation.objects.select_related("balance__item", "order").filter(pk=pk).first()


def _done(request, order: Order, form: Any) -> Changed | None:
    quantity, why, thing = form.quantity(), form.cleaned_data["why"], form.thing
    try:
        if thing is None or (form.act == LET_GO and thing.order_id != order.pk):
            raise ValidationError(
                _("That hold is gone: it was used or let go meanwhile. Look at what is held now.")
            )
        if form.act == HOLD:
            return hold_by_hand(order, thing, quantity, person=request.user, why=why)
        if form.act == LET_GO:
            return let_go_by_hand(thing, quantity, person=request.user, why=why)
        return take_over(order, thing, quantity, person=request.user, why=why)
    except ValidationError as error:
        add_error(form, error)
        return None


def _rows(
    group: Wanted, request, sent: HoldForm | None, may_act: bool
) -> tuple[list[Row], list[Row]]:
    """What is held, and what could be; the form that was sent keeps what was typed."""

    def row(act: str, source: Source) -> Row:
        pk = source.hold.pk if source.hold is not None else source.balance.pk
        key = f"{act}-{pk}"
        if not may_act:
            return Row(key, act, source, None)
        if sent is not None and request.POST.get("row") == key:
            return Row(key, act, source, sent)
        most = source.quantity if act == LET_GO else source.most
        return Row(
            key, act, source, HoldForm(kind=group.kind, act=act, most=most, auto_id=f"{key}-%s")
        )

    held = [row(LET_GO, source) for source in group.holds]
    others = [row(HOLD, source) for source in group.free]
    return held, others + [row(TAKE, source) for source in group.younger]


def _words(group: Wanted) -> str:
    """How a kind of thing stands, in one sentence."""
    wanted, held = group.said(group.wanted), group.said(group.held)
    if group.kind == ItemKind.STRANDS:
        if group.coming:
            words = {"wanted": wanted, "held": held, "coming": group.coming}
            sentence = _("%(wanted)s wanted, %(held)s ready and held, %(coming)s to be strung.")
            return sentence % words
        return _("%(wanted)s wanted, all ready and held.") % {"wanted": wanted}
    if group.kind == ItemKind.GLASS and not group.held:
        return _("%(wanted)s still to go into moulds, none of it held.") % {
            "wanted": say_glass(group.wanted)
        }
    if group.kind == ItemKind.GLASS:
        return _("%(wanted)s still to go into moulds, %(held)s held for it.") % {
            "wanted": say_glass(group.wanted),
            "held": say_glass(group.held),
        }
    if not group.wanted and not group.held and not group.coming:
        return _("All are on their strands.")
    if group.coming:
        return _("%(wanted)s to be strung, %(held)s held, %(coming)s still to be made.") % {
            "wanted": wanted, "held": held, "coming": group.coming,
        }  # fmt: skip
    return _("%(wanted)s to be strung, %(held)s held.") % {"wanted": wanted, "held": held}


def _said(changed: Changed) -> list[str]:
    words = {
        "much": say_quantity(changed.item, changed.quantity),
        "item": changed.item,
        "order": changed.order.number,
    }
    return [
        _("%(much)s of %(item)s: changed for order %(order)s.") % words,
        *_to_make(changed.order, changed.beads),
        *(_to_make(changed.other, changed.other_beads or {}) if changed.other else []),
    ]


def _to_make(order: Order, beads: dict[str, int]) -> list[str]:
    found = []
    for bead, count in beads.items():
        words = {"count": abs(count), "bead": bead, "order": order.number}
        if count > 0:
            found.append(
                ngettext(
                    "Order %(order)s: one more good %(bead)s is to be made.",
                    "Order %(order)s: %(count)s more good %(bead)s are to be made.",
                    count,
                )
                % words
            )
        else:
            found.append(
                ngettext(
                    "Order %(order)s: one good %(bead)s fewer is to be made.",
                    "Order %(order)s: %(count)s good %(bead)s fewer are to be made.",
                    -count,
                )
                % words
            )
    return found
