"""Stock promised to one order: held, used, or let go again."""

from collections.abc import Iterable

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from orders.costing.results import OrderCosting
from orders.models import Allocation, Order, OrderLine, StrandDesign
from stock.models import Balance, Item, ItemKind, PlaceKind
from stock.services.book import NotEnough, hold, let_go


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
    for line_costing in costing.lines:
        line = lines[int(line_costing.design or 0)]
        if line_costing.ready_taken:
            _hold_strands(order, line, line_costing.ready_taken)
    balances = Balance.objects.in_bulk(
        [taken.key for bead in costing.beads for taken in bead.taken]
    )
    for bead in costing.beads:
        for taken in bead.taken:
            hold_for(order, balances[int(taken.key)], taken.count)


def _hold_strands(order: Order, line: OrderLine, strands: int) -> None:
    rows = Balance.objects.at(PlaceKind.STRAND_SHELF).free().filter(item=line.design.item)
    left = strands
    for row in rows.order_by("pk"):
        piece = min(left, row.free_quantity)
        if piece:
            hold_for(order, row, piece, line=line)
            left -= piece
    if left:
        # Taken by somebody since; `hold` on the first shelf says so in its own words.
        hold(Balance.objects.at(PlaceKind.STRAND_SHELF).filter(item=line.design.item)[0], left)
    OrderLine.objects.filter(pk=line.pk).update(strung=F("strung") + strands)


@transaction.atomic
def hold_for(
    order: Order,
    balance: Balance,
    quantity: int,
    *,
    line: OrderLine | None = None,
    by_hand: bool = False,
) -> Allocation:
    """Hold part of one balance for an order."""
    hold(balance, quantity)
    return Allocation.objects.create(
        order=order, line=line, balance=balance, quantity=quantity, by_hand=by_hand
    )


@transaction.atomic
def let_all_go(order: Order) -> int:
    """Give everything an order holds back to the shelf; returns how many holds there were."""
    rows = list(order.allocations.select_related("balance"))
    for row in rows:
        let_go(row.balance, row.quantity)
    order.allocations.all().delete()
    return len(rows)


def held_strands(line: OrderLine) -> QuerySet[Allocation]:
    """Ready strands held for one line of an order."""
    return line.allocations.filter(balance__item__kind=ItemKind.STRANDS).select_related(
        "balance__item", "balance__place"
    )


def held_beads(order: Order, bead_ids: Iterable[int]) -> QuerySet[Allocation]:
    """Beads held for an order, the oldest batch first."""
    return (
        order.allocations.filter(
            balance__item__kind=ItemKind.BEADS, balance__item__batch__bead__in=list(bead_ids)
        )
        .select_related("balance__item__batch", "balance__place")
        .order_by("balance__item__batch__made_on", "balance__item__batch__number", "pk")
    )


def use_up(allocation: Allocation, quantity: int) -> None:
    """A held quantity has been used; call after the posting that took it from its hold."""
    if quantity >= allocation.quantity:
        allocation.delete()
    else:
        Allocation.objects.filter(pk=allocation.pk).update(quantity=F("quantity") - quantity)


def strand_item(design: StrandDesign) -> Item:
    """The book's item of a design, made when the first strand of it is strung."""
    if design.item is None:
        design.item = Item.objects.create(kind=ItemKind.STRANDS, name=design.name)
        design.save(update_fields=["item"])
    return design.item
