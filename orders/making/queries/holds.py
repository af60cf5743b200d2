"""What an order holds, what it still wants, and what else it could hold."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.models import Q
from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.drawn.strands import Draughtsman
from orders.models import Order, OrderLine, StockReservation, WorkOrder
from stock.models import Balance, Bead, GlassForm, ItemKind, LocationKind
from stock.services.moves import say_quantity

NOT_MOULDED = (WorkOrder.Step.GLASS, WorkOrder.Step.MOULDING)
MG_PER_G = 1000
HELD_WHERE = (LocationKind.STRAND_SHELF, LocationKind.BEAD_SHELF, LocationKind.GLASS_SHELF)


@dataclass(frozen=True)
class Source:
    """Somewhere a hold comes from or could come from.

    quantity  held here, free here, or held by the other order
    most      of it, how much this order can still use
    """

    balance: Balance
    quantity: int
    most: int = 0
    hold: StockReservation | None = None

    @property
    def name(self) -> str:
        batch = self.balance.item.batch
        return str(batch) if batch is not None else str(self.balance.item)

    @property
    def said(self) -> str:
        return say_quantity(self.balance.item, self.quantity)


@dataclass
class Wanted:
    """One kind of thing an order is made of: strands of a line, beads of a kind, or glass.

    wanted  all that the order still takes of it; of strands, what the line has
    held    of it, what is held
    coming  of it, what is still to be made: beads moulded or to be moulded, strands to be strung
    Quantities are in the item's smallest unit (pieces, milligrams).
    """

    kind: str
    name: str
    wanted: int
    line: OrderLine | None = None
    bead: int | None = None
    colour: tuple[int, str] | None = None
    used_for: list[str] = field(default_factory=list)
    coming: int = 0
    holds: list[Source] = field(default_factory=list)
    free: list[Source] = field(default_factory=list)
    younger: list[Source] = field(default_factory=list)

    @property
    def held(self) -> int:
        return sum(source.quantity for source in self.holds)

    @property
    def lacks(self) -> int:
        """What could still be held for the order; less than a gram of glass is not asked for."""
        left = max(0, self.wanted - self.held)
        return 0 if self.colour and left < MG_PER_G else left

    def said(self, quantity: int) -> str:
        row = next(iter((*self.holds, *self.free, *self.younger)), None)
        if row is not None:
            return say_quantity(row.balance.item, quantity)
        return str(quantity)


def beads_to_string(lines: Sequence[OrderLine]) -> dict[int, int]:
    """Beads of each kind that the strands not strung yet take (2 queries).

    The lines come `with_designs`. A design that no longer fits its cord takes none.
    """
    draughtsman = Draughtsman([line.design for line in lines])
    found: dict[int, int] = {}
    for line in lines:
        left = line.strands - line.strung
        try:
            layout = draughtsman.layout(line.design_id)
        except CostingError:
            continue
        for bead, each in layout.beads:
            found[int(bead)] = found.get(int(bead), 0) + each * left
    return found


def holds_and_wants(order: Order) -> list[Wanted]:
    """Everything an open order is made of, with what it holds and could hold (9 queries)."""
    lines = list(order.lines.with_designs().select_related("design__item"))
    found = [*_strands(lines), *_beads(order, lines), *_glass(order)]
    _fill(found, order)
    return found


def _strands(lines: Sequence[OrderLine]) -> list[Wanted]:
    return [
        Wanted(
            ItemKind.STRANDS, line.design.name, line.to_hand_over, line=line,
            coming=line.strands - line.strung,
        )
        for line in lines
    ]  # fmt: skip


def _beads(order: Order, lines: Sequence[OrderLine]) -> list[Wanted]:
    wanted = beads_to_string(lines)
    coming = {job.bead_id: max(0, job.needed - job.good) for job in order.jobs.all()}
    used_for: dict[int, list[str]] = {}
    for line in lines:
        for part in line.design.parts.all():
            if part.bead_id and line.design.name not in used_for.setdefault(part.bead_id, []):
                used_for[part.bead_id].append(line.design.name)
    held = set(
        order.allocations.filter(balance__item__kind=ItemKind.BEADS).values_list(
            "balance__item__batch__bead", flat=True
        )
    )
    names = dict(Bead.objects.filter(pk__in={*wanted, *coming, *held}).values_list("pk", "name"))
    return [
        Wanted(
            ItemKind.BEADS, name, wanted.get(bead, 0), bead=bead, coming=coming.get(bead, 0),
            used_for=used_for.get(bead, []),
        )
        for bead, name in names.items()
    ]  # fmt: skip


def _glass(order: Order) -> list[Wanted]:
    return [
        Wanted(
            ItemKind.GLASS,
            _("%(colour)s %(form)s")
            % {"colour": need.colour.name, "form": GlassForm(need.form).label},
            need.needed_mg - need.used_mg,
            colour=(need.colour_id, need.form),
        )
        for need in order.glass_needs.select_related("colour")
        if need.needed_mg > need.used_mg
        or order.allocations.filter(balance__item__colour=need.colour_id).exists()
    ]


def _fill(groups: Sequence[Wanted], order: Order) -> None:
    """Put every balance where it belongs: held by the order, free, or held by a younger one."""
    own = StockReservation.objects.filter(order=order).select_related(
        "balance__item__batch__bead", "balance__place", "line__design"
    )
    for hold in own.order_by("balance__item__batch__made_on", "pk"):
        for group in _groups_of(groups, hold.balance, hold.line_id):
            group.holds.append(Source(hold.balance, hold.quantity, hold=hold))
    balances = (
        Balance.objects.at(*HELD_WHERE)
        .filter(_which(groups), quantity__gt=0)
        .select_related("item__batch__bead", "place")
        .order_by("item__batch__made_on", "item__batch__number", "pk")
    )
    for row in balances.free():
        for group in _groups_of(groups, row):
            if group.lacks:
                group.free.append(
                    Source(row, row.free_quantity, min(group.lacks, row.free_quantity))
                )
    for hold in _younger(order, balances):
        for group in _groups_of(groups, hold.balance):
            if group.lacks:
                group.younger.append(
                    Source(hold.balance, hold.quantity, min(group.lacks, hold.quantity), hold)
                )


def _younger(order: Order, balances):
    return (
        StockReservation.objects.filter(
            order__state=Order.State.CONFIRMED, order__number__gt=order.number, balance__in=balances
        )
        .select_related("order__customer", "balance__item__batch__bead", "balance__place")
        .order_by("-order__number", "pk")
    )


def _groups_of(groups: Sequence[Wanted], row: Balance, line: int | None = None) -> list[Wanted]:
    item = row.item
    if item.kind == ItemKind.STRANDS:
        return [
            group
            for group in groups
            if group.line is not None
            and group.line.design.item_id == item.pk
            and (line is None or group.line.pk == line)
        ]
    if item.kind == ItemKind.BEADS and item.batch is not None:
        return [group for group in groups if group.bead == item.batch.bead_id]
    return [group for group in groups if group.colour == (item.colour_id, item.form)]


def _which(groups: Sequence[Wanted]) -> Q:
    strands = {g.line.design.item_id for g in groups if g.line is not None and g.lacks}
    beads = {group.bead for group in groups if group.bead and group.lacks}
    which = Q(place__kind=LocationKind.STRAND_SHELF, item__in=strands - {None})
    which |= Q(place__kind=LocationKind.BEAD_SHELF, item__batch__bead__in=beads)
    for group in groups:
        if group.colour and group.lacks:
            colour, form = group.colour
            which |= Q(
                place__kind=LocationKind.GLASS_SHELF, item__kind=ItemKind.GLASS,
                item__colour=colour, item__form=form,
            )  # fmt: skip
    return which
