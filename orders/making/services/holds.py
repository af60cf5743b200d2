"""Stock promised to one order: held, used, or let go again."""

from collections.abc import Iterable, Mapping

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, QuerySet, Sum
from django.utils.translation import gettext as _

from orders.costing.results import OrderCosting
from orders.models import Order, OrderLine, StockReservation, StrandDesign
from stock.models import Balance, Item, ItemKind, LocationKind
from stock.services.book import NotEnough, hold, hold_all, let_go


class ShelfChanged(NotEnough):
    """Between looking and taking, somebody else took what an order was counting on."""

    def __init__(self, refused: NotEnough, since: str) -> None:
        super().__init__(refused.item, refused.place, refused.needed, refused.found)
        self.message = _(
            "%(since)s Of %(item)s %(found)s are free now and %(needed)s were wanted. "
            "Look at the new figures and take the order again."
        ) % {
            "since": since,
            "item": refused.item.name,
            "found": refused.found,
            "needed": refused.needed,
        }
        self.error_list = [self]
        self.params = None


@transaction.atomic
def hold_stock(order: Order, costing: OrderCosting, lines: dict[int, OrderLine]) -> None:
    """Hold the ready strands and free beads that the costing counted on, older ones first.

    `lines` by design key. Raises NotEnough when somebody else holds them by now.
    """
    parts = [
        part
        for line_costing in costing.lines
        if line_costing.ready_taken
        for part in ready_strands(lines[int(line_costing.design or 0)], line_costing.ready_taken)
    ]
    taken = [each for bead in costing.beads for each in bead.taken]
    balances = Balance.objects.select_for_update().in_bulk([each.key for each in taken])
    parts += [(None, balances[int(each.key)], each.count) for each in taken]
    hold_all((balance, quantity) for _line, balance, quantity in parts)
    StockReservation.objects.bulk_create(
        StockReservation(order=order, line=line, balance=balance, quantity=quantity)
        for line, balance, quantity in parts
    )


def ready_strands(line: OrderLine, strands: int) -> list[tuple[OrderLine | None, Balance, int]]:
    """What of which shelf makes up the ready strands of a line; they count as strung for it."""
    shelves = Balance.objects.at(LocationKind.STRAND_SHELF).filter(item=line.design.item)
    left = strands
    parts: list[tuple[OrderLine | None, Balance, int]] = []
    for row in shelves.free().order_by("pk"):
        piece = min(left, row.free_quantity)
        if piece:
            parts.append((line, row, piece))
            left -= piece
    if left:
        # Taken by somebody since; `hold` on the first shelf says so in its own words.
        hold(shelves[0], left)
    OrderLine.objects.filter(pk=line.pk).update(strung=F("strung") + strands)
    return parts


@transaction.atomic
def hold_for(
    order: Order,
    balance: Balance,
    quantity: int,
    *,
    line: OrderLine | None = None,
    by_hand: bool = False,
) -> StockReservation:
    """Hold part of one balance for an order."""
    hold(balance, quantity)
    return StockReservation.objects.create(
        order=order, line=line, balance=balance, quantity=quantity, by_hand=by_hand
    )


@transaction.atomic
def release(allocation: StockReservation, quantity: int) -> None:
    """Give part of one hold back to everybody; refused when somebody else was quicker."""
    let_go(allocation.balance, quantity)
    kept = StockReservation.objects.filter(pk=allocation.pk)
    if kept.filter(quantity=quantity).delete()[0]:
        return
    if not kept.filter(quantity__gt=quantity).update(quantity=F("quantity") - quantity):
        raise ValidationError(_("That hold was changed meanwhile; look at what is held now."))


@transaction.atomic
def let_all_go(order: Order) -> int:
    """Give everything an order holds back to the shelf; returns how many holds there were."""
    rows = list(order.allocations.select_related("balance"))
    for row in rows:
        let_go(row.balance, row.quantity)
    order.allocations.all().delete()
    order.finding_needs.all().delete()
    return len(rows)


def held_strands(line: OrderLine) -> QuerySet[StockReservation]:
    """Ready strands held for one line of an order."""
    return line.allocations.filter(balance__item__kind=ItemKind.STRANDS).select_related(
        "balance__item", "balance__place"
    )


def held_beads(order: Order, bead_ids: Iterable[int]) -> QuerySet[StockReservation]:
    """Beads held for an order, the oldest batch first."""
    return (
        order.allocations.filter(
            balance__item__kind=ItemKind.BEADS, balance__item__batch__bead__in=list(bead_ids)
        )
        .select_related("balance__item__batch", "balance__place")
        .order_by("balance__item__batch__made_on", "balance__item__batch__number", "pk")
    )


def glass_holds(order: Order) -> dict[int, int]:
    """Prepared glass held for an order by hand, in milligrams by item (1 query)."""
    rows = order.allocations.filter(balance__item__kind=ItemKind.GLASS)
    sums = rows.order_by().values_list("balance__item").annotate(mg=Sum("quantity"))
    return {item: int(mg) for item, mg in sums}


@transaction.atomic
def use_glass(order: Order, used_mg: Mapping[int, int]) -> None:
    """Held glass that went into moulds, by item; call after the posting that took it."""
    left = dict(used_mg)
    rows = order.allocations.filter(balance__item__in=list(left)).select_related("balance")
    for row in rows:
        item = row.balance.item_id
        piece = min(row.quantity, left[item])
        if piece:
            use_up(row, piece)
            left[item] -= piece


@transaction.atomic
def free_spare_glass(order: Order) -> None:
    """Let go of held glass that no bead of the order will take any more."""
    rows = order.allocations.filter(balance__item__kind=ItemKind.GLASS).select_related(
        "balance__item"
    )
    left: dict[tuple[int | None, str], int] = {
        (need.colour_id, need.form): need.needed_mg - need.used_mg
        for need in order.glass_needs.all()
    }
    for row in rows:
        glass = (row.balance.item.colour_id, row.balance.item.form)
        kept = min(row.quantity, max(0, left.get(glass, 0)))
        left[glass] = left.get(glass, 0) - kept
        if kept < row.quantity:
            release(row, row.quantity - kept)


def use_up(allocation: StockReservation, quantity: int) -> None:
    """A held quantity has been used; call after the posting that took it from its hold."""
    if quantity >= allocation.quantity:
        allocation.delete()
    else:
        StockReservation.objects.filter(pk=allocation.pk).update(quantity=F("quantity") - quantity)


def strand_item(design: StrandDesign) -> Item:
    """The book's item of a design, made when the first strand of it is strung."""
    if design.item is None:
        design.item = Item.objects.create(kind=ItemKind.STRANDS, name=design.name)
        design.save(update_fields=["item"])
    return design.item
