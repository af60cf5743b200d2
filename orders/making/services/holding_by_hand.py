"""Holds changed by hand: let go, held from somewhere else, taken over from a younger order.

Each act locks the orders it concerns, moves the hold by conditional updates, and fits the beads
still to be made to what is held now, all in one transaction.
"""

from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q, Sum
from django.utils.translation import gettext as _

from orders.floor.kiln_room import hold_the_kilns
from orders.making.queries.holds import beads_to_string
from orders.making.services.holds import held_beads, hold_for, release
from orders.making.services.refit import refit
from orders.models import GlassNeed, Order, OrderLine, StockReservation, WorkOrder
from stock.models import Balance, Item, ItemKind, LocationKind
from stock.services.moves import say_quantity
from stock.services.places import usual_place
from workshop.models import Person
from workshop.services.acts import record_act


@dataclass(frozen=True)
class Changed:
    """A hold as changed, and the good beads more (or fewer) that are to be made for it, by bead."""

    order: Order
    item: Item
    quantity: int
    beads: dict[str, int]
    other: Order | None = None
    other_beads: dict[str, int] | None = None


@transaction.atomic
def let_go_by_hand(
    hold: StockReservation, quantity: int, *, person: Person, why: str = ""
) -> Changed:
    """Give so much of what an order holds back to everybody; the order makes it anew."""
    lock_orders([hold.order_id], hold.balance_id)
    order = _open(hold.order_id)
    hold = _still(hold, quantity)
    _give_back(hold, quantity)
    changed = refit(order, person=person)
    _log(person, "let go", order, hold.balance, quantity, why)
    return Changed(order, hold.balance.item, quantity, changed)


@transaction.atomic
def hold_by_hand(
    order: Order, balance: Balance, quantity: int, *, person: Person, why: str = ""
) -> Changed:
    """Hold so much of a named batch, of ready strands or of prepared glass for an order."""
    lock_orders([order.pk], balance.pk)
    order = _open(order.pk)
    _hold(order, balance, quantity)
    changed = refit(order, person=person)
    _log(person, "hold", order, balance, quantity, why)
    return Changed(order, balance.item, quantity, changed)


@transaction.atomic
def take_over(
    order: Order, hold: StockReservation, quantity: int, *, person: Person, why: str
) -> Changed:
    """Hold for an order what a younger order held; the younger one makes its own anew."""
    if not why.strip():
        raise ValidationError(
            {"why": _("Say why the older order goes first; both orders keep the reason.")}
        )
    lock_orders([order.pk, hold.order_id], hold.balance_id)
    order, other = _open(order.pk), _open(hold.order_id)
    if other.number <= order.number:
        raise ValidationError(
            _(
                "Order %(other)s was taken before order %(order)s and goes first. Let go of it on "
                "the page of order %(other)s if it is to wait."
            )
            % {"other": other.number, "order": order.number}
        )
    hold = _still(hold, quantity)
    _give_back(hold, quantity)
    _hold(order, hold.balance, quantity)
    changed = Changed(
        order, hold.balance.item, quantity, refit(order, person=person), other,
        refit(other, person=person),
    )  # fmt: skip
    _log(person, "take hold over", order, hold.balance, quantity, why, of=other.number)
    _log(person, "give hold up", other, hold.balance, quantity, why, to=order.number)
    return changed


# --- steps ------------------------------------------------------------------------------------


def lock_orders(orders: list[int], balance: int | None = None) -> None:
    """Kilns, beads being made, balances, orders: whoever works at the bench locks in this order.

    So two people who take from each other, or one who strings meanwhile, do not wait for ever.
    """
    hold_the_kilns()
    jobs = WorkOrder.objects.select_for_update().filter(order__in=orders)
    list(jobs.order_by("pk").values_list("pk"))
    held = Balance.objects.filter(Q(pk=balance) | Q(allocations__order__in=orders))
    rows = Balance.objects.select_for_update().filter(pk__in=held.values("pk"))
    list(rows.order_by("item_id", "place_id").values_list("pk"))
    list(Order.objects.select_for_update().filter(pk__in=orders).order_by("pk").values_list("pk"))


def _open(pk: int) -> Order:
    order = Order.objects.select_for_update().get(pk=pk)
    if order.state != Order.State.CONFIRMED:
        raise ValidationError(
            _("Order %(number)s is %(state)s; holds are changed while an order is confirmed.")
            % {"number": order.number, "state": order.get_state_display()}
        )
    return order


def _still(hold: StockReservation, quantity: int) -> StockReservation:
    """The hold as it is now, if it still holds that much."""
    now = (
        StockReservation.objects.select_for_update(of=("self",))
        .select_related("balance__item__batch__bead", "balance__place", "line__design", "order")
        .filter(pk=hold.pk)
        .first()
    )
    if quantity < 1:
        raise ValidationError({"quantity": _("Write how much, more than nothing.")})
    if now is None:
        raise ValidationError(
            _("That hold is gone: it was used or let go meanwhile. Look at what is held now.")
        )
    if now.quantity < quantity:
        item = now.balance.item
        raise ValidationError(
            {
                "quantity": _(
                    "Order %(order)s holds %(held)s of %(item)s there; write that much or less."
                )
                % {
                    "order": now.order.number,
                    "held": say_quantity(item, now.quantity),
                    "item": item,
                }
            }
        )
    return now


def _give_back(hold: StockReservation, quantity: int) -> None:
    release(hold, quantity)
    if hold.line_id is not None:
        OrderLine.objects.filter(pk=hold.line_id).update(strung=F("strung") - quantity)


def _hold(order: Order, balance: Balance, quantity: int) -> None:
    if quantity < 1:
        raise ValidationError({"quantity": _("Write how much, more than nothing.")})
    balance = Balance.objects.select_related("item__batch__bead", "place").get(pk=balance.pk)
    line = _line_for(order, balance) if balance.item.kind == ItemKind.STRANDS else None
    most = _room(order, balance, line)
    if quantity > most:
        raise ValidationError({"quantity": _too_much(order, balance.item, most)})
    hold_for(order, balance, quantity, line=line, by_hand=True)
    if line is not None:
        OrderLine.objects.filter(pk=line.pk).update(strung=F("strung") + quantity)


def _line_for(order: Order, balance: Balance) -> OrderLine:
    line = order.lines.filter(design__item=balance.item).first()
    if line is None or balance.place.kind != LocationKind.STRAND_SHELF:
        raise ValidationError(
            _("Order %(number)s has no line of %(item)s.")
            % {"number": order.number, "item": balance.item}
        )
    return line


def _room(order: Order, balance: Balance, line: OrderLine | None) -> int:
    """How much more of a thing an order can use than it holds already."""
    item = balance.item
    if line is not None:
        return line.strands - line.strung
    if item.kind == ItemKind.BEADS and balance.place.kind == LocationKind.BEAD_SHELF:
        assert item.batch is not None, "beads have their batch"
        bead = item.batch.bead_id
        wanted = beads_to_string(list(order.lines.with_designs()))
        return wanted.get(bead, 0) - sum(hold.quantity for hold in held_beads(order, [bead]))
    # Moulds are filled from the usual glass shelf, and only prepared glass goes into them.
    if item.kind == ItemKind.GLASS and balance.place == usual_place(LocationKind.GLASS_SHELF):
        return _glass_room(order, item)
    raise ValidationError(
        _("%(item)s at %(place)s cannot be held for an order; move it to its shelf first.")
        % {"item": item, "place": balance.place}
    )


def _glass_room(order: Order, item: Item) -> int:
    need = GlassNeed.objects.filter(order=order, colour=item.colour_id, form=item.form).first()
    held = order.allocations.filter(balance__item=item).aggregate(mg=Sum("quantity"))["mg"] or 0
    return (need.needed_mg - need.used_mg if need else 0) - held


def _too_much(order: Order, item: Item, most: int) -> str:
    words: dict[str, Any] = {"number": order.number, "item": item}
    if most <= 0:
        return (
            _("Order %(number)s needs no more of %(item)s than it holds. Let go of some first.")
            % words
        )
    words["most"] = say_quantity(item, most)
    return _("Order %(number)s can use %(most)s more of %(item)s; write that much or less.") % words


def _log(
    person: Person, act: str, order: Order, balance: Balance, quantity: int, why: str, **more: Any
) -> None:
    told = {"item": str(balance.item), "place": str(balance.place), "quantity": quantity}
    record_act(person, act, order, after={**told, "why": why.strip()} | more)
