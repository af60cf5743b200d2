"""The rows that only a promise is worked out from: how beads are fired, what stands, what waits."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import F, Q, Sum

from orders.floor.facts import ACTIVE, FloorFacts, heat_of, standing_floor
from orders.floor.five_minutes import firing_on_grid
from orders.floor.heat import Heat
from orders.models import Order, WorkOrder
from orders.planning.instance import Firing
from stock.models import Bead, KilnLoad, LoadTray
from workshop.models import Mould, Programme
from workshop.standing import kept

TO_BE_FIRED = (
    WorkOrder.Step.GLASS,
    WorkOrder.Step.MOULDING,
    WorkOrder.Step.FIRING,
    WorkOrder.Step.PAINTING,
    WorkOrder.Step.SECOND,
)
BEFORE_FIRST = TO_BE_FIRED[:3]


@dataclass(slots=True)
class BeadRow:
    """How a bead is fired: what `heat.FiredBead` asks for."""

    kind: str
    mould: Mould
    programme: Programme
    second_programme: Programme | None
    pierced_hot: bool
    pierce_min: Decimal | None
    soft_min: Decimal
    drawn_together: bool
    anneal_min: int
    fired_in: str


def firings_of(facts: FloorFacts) -> "FiringOf":
    """The firings of every bead (1 query, 6 after a change of the workshop itself)."""
    return kept("firings", facts.today, lambda: _read_firings(facts.today))


def _read_firings(today: date) -> "FiringOf":
    stands = standing_floor(today)
    return FiringOf(heat_of(stands.kilns.values(), stands.hands, stands.labour))


class FiringOf:
    """The firings of every bead as the planner sees them, each worked out once (3 queries)."""

    def __init__(self, heat: Heat) -> None:
        self.heat = heat
        self.moulds = Mould.objects.in_bulk()
        self.beads = self._beads()
        self.known: dict[tuple[int, int], Firing | None] = {}

    def _beads(self) -> dict[int, BeadRow]:
        programmes = Programme.objects.in_bulk()
        rows: Iterable[Any] = Bead.objects.order_by().values_list(
            "pk", "kind", "mould_id", "programme_id", "second_programme_id", "pierced_hot",
            "pierce_min", "soft_min", "drawn_together", "anneal_min", "fired_in",
        )  # fmt: skip
        return {
            pk: BeadRow(
                kind, self.moulds[mould], programmes[first],
                programmes[second] if second else None, *rest,
            )
            for pk, kind, mould, first, second, *rest in rows
        }  # fmt: skip

    def __call__(self, bead: int, number: int) -> Firing | None:
        key = bead, number
        if key not in self.known:
            firing = self.heat.firing(self.beads[bead], number)
            self.known[key] = firing and firing_on_grid(firing)
        return self.known[key]


class WaitingRow(NamedTuple):
    """Beads of one job that stand in no load.

    glass  whether it waits for its glass first
    first  the number of its next firing
    left   beads that find their next firing in no load
    more   beads that find only their second firing in none
    """

    job: int
    order: int
    bead: int
    due: date | None
    glass: bool
    first: int
    left: int
    more: int


def tray_rows(loads: Sequence[KilnLoad]) -> list[tuple[int, int, int, int, int]]:
    """What stands in loads: load, bead, firing, moulds, beads of each tray (1 query)."""
    trays = LoadTray.objects.filter(load__in=[load.pk for load in loads]).order_by()
    return list(trays.values_list("load_id", "bead_id", "firing", "moulds", "beads"))


def waiting_rows(asking: Order | None, facts: FloorFacts) -> list[WaitingRow]:
    """Beads to be fired that stand in no load, but for those of one order (1 query).

    A load that was not lit when it should have been is no load: its beads wait.
    """
    active = Q(shares__tray__load__state__in=ACTIVE)
    if facts.overdue:
        active &= ~Q(shares__tray__load__in=facts.overdue)

    def placed(number: int) -> Sum:
        here = Q(shares__tray__firing=number)
        done = Q(shares__tray__load__state=KilnLoad.State.COOLED) & Q(
            shares__tray__batch=F("batch")
        )
        return Sum("shares__beads", filter=here & (active | done), default=0)

    rows = WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step__in=TO_BE_FIRED)
    if asking is not None and asking.pk:
        rows = rows.exclude(order=asking.pk)
    counted = rows.annotate(once=placed(1), twice=placed(2)).filter(
        Q(step__in=BEFORE_FIRST, once__lt=F("to_start"))
        | Q(bead__second_programme__isnull=False, twice__lt=F("to_start"))
    )
    found = []
    for pk, order, bead, due, step, start, once, twice, second, whole, lost in counted.order_by(
        "pk"
    ).values_list(
        "pk", "order__number", "bead_id", "order__due_on", "step", "to_start", "once", "twice",
        "bead__second_programme_id", "batch__started", "batch__rejected",
    ):  # fmt: skip
        if step in {WorkOrder.Step.PAINTING, WorkOrder.Step.SECOND}:
            sound = whole - lost if whole is not None else start
            found.append(WaitingRow(pk, order, bead, due, False, 2, sound - twice, 0))
            continue
        left = max(0, start - once)
        more = max(0, start - twice - left) if second is not None else 0
        found.append(WaitingRow(pk, order, bead, due, step == WorkOrder.Step.GLASS, 1, left, more))
    return found
