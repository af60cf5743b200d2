"""Kilns, moulds, hours and what they are promised to, as the counter's question needs them.

Times become whole minutes of local clock from 00:00 of the plan's first day. Beads of other
orders that stand in no load yet are given the room that one plain pass of the planner finds for
them, so that a new order is not promised kiln time that an older one will need.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache

from django.db.models import Sum
from django.utils import timezone

from orders.costing.facts import (
    KilnFacts,
    MouldFacts,
    OrderFacts,
    ProgrammeFacts,
    WorkshopFacts,
)
from orders.costing.results import BeadCosting
from orders.models import BeadJob, LoadShare
from orders.planning.board import Board
from orders.planning.errors import PlanningError
from orders.planning.greedy import greedy
from orders.planning.instance import (
    DAY_MIN,
    Calendar,
    Firing,
    Instance,
    Item,
    Job,
    Load,
    Order,
    PinnedLoad,
    Plan,
)
from orders.planning.instance import Kiln as PlannedKiln
from orders.planning.instance import Mould as PlannedMould
from orders.planning.problem import Problem
from orders.queries.days import OpenDays
from stock.models import KilnLoad, LoadTray
from workshop.models import Mould, Programme

PLANNED = "loads already planned"
# Beads whose glass is not there wait for it, not for the kiln.
TO_BE_FIRED = (
    BeadJob.Step.MOULDING,
    BeadJob.Step.FIRING,
    BeadJob.Step.PAINTING,
    BeadJob.Step.SECOND,
)


@dataclass(frozen=True)
class PlanClock:
    """Turns days and moments into the plan's minutes and back."""

    first_day: date

    def minute(self, moment: datetime) -> int:
        local = timezone.localtime(moment) if timezone.is_aware(moment) else moment
        days = (local.date() - self.first_day).days
        return days * DAY_MIN + local.hour * 60 + local.minute

    def start_of(self, day: date) -> int:
        return (day - self.first_day).days * DAY_MIN

    def day(self, minute: int) -> date:
        return self.first_day + timedelta(days=minute // DAY_MIN)


@dataclass(frozen=True)
class KilnBoard:
    """The workshop's kilns with every load already planned pinned."""

    clock: PlanClock
    instance: Instance
    loads: tuple[KilnLoad, ...]


def kiln_board(
    days: OpenDays, today: date, workshop: WorkshopFacts, *, ahead_days: int = 200
) -> KilnBoard:
    """What stands in the kilns from now on, and who waits for them (5 queries).

    `workshop` brings the kilns. A load that is burning or pinned by the keeper takes nothing
    more.
    """
    waiting = list(
        BeadJob.objects.filter(order__state="confirmed", step__in=TO_BE_FIRED)
        .select_related("order", "bead__mould", "bead__programme", "bead__second_programme")
        .order_by("pk")
    )
    loads = list(
        KilnLoad.objects.filter(state__in=[KilnLoad.State.PLANNED, KilnLoad.State.FIRING])
        .filter(starts_at__gte=timezone.now() - timedelta(days=2))
        .select_related("kiln")
        .order_by("starts_at", "pk")
    )
    first = min([today, *(timezone.localtime(load.starts_at).date() for load in loads)])
    clock = PlanClock(first)
    trays = list(
        LoadTray.objects.filter(load__in=loads).select_related(
            "bead__mould", "bead__programme", "bead__second_programme"
        )
    )
    # All of them, whatever was asked, so that the waiting beads' plan can be kept.
    moulds = [
        PlannedMould(str(mould.pk), mould.places, mould.owned, mould.held_min)
        for mould in Mould.objects.order_by("pk")
    ]
    instance = Instance(
        calendar=Calendar(tuple(_windows(days, clock, today, ahead_days)), True),
        kilns=tuple(_kiln(kiln) for kiln in workshop.kilns),
        moulds=tuple(moulds),
        orders=(Order(PLANNED, 0),),
        jobs=tuple(_tray_job(tray, loads) for tray in trays),
        pinned=tuple(_pinned(load, trays, clock) for load in loads),
    )
    now = max(clock.minute(timezone.now()), clock.start_of(today))
    return KilnBoard(clock, _with_waiting(instance, waiting, clock, now), tuple(loads))


def _with_waiting(
    instance: Instance, waiting: Sequence[BeadJob], clock: PlanClock, now: int
) -> Instance:
    """The instance with room pinned for beads that wait and stand in no load yet (1 query)."""
    placed = _beads_in_loads(waiting)
    release = now - now % 15  # on the quarter hour, so that the same question comes again
    jobs = [job for row in waiting if (job := _waiting_job(row, placed, release)) is not None]
    if not jobs:
        return instance
    orders = {
        row.order_id: Order(_order_name(row), _due_minute(row, clock, release)) for row in waiting
    }
    asked = replace(
        instance,
        orders=(*instance.orders, *orders.values()),
        jobs=(*instance.jobs, *jobs),
    )
    try:
        plan = _plain_plan(asked)
    except PlanningError:
        return instance  # the firing page names the bead that no kiln can fire
    before = {(pin.load.kiln, pin.load.start_min): pin for pin in instance.pinned}
    pinned = []
    for load in plan.loads:
        old = before.get((load.kiln, load.start_min))
        sealed, fixed = (old.sealed, old.temp_fixed) if old else (False, False)
        pinned.append(PinnedLoad(load, sealed=sealed, temp_fixed=fixed))
    return replace(asked, pinned=tuple(pinned))


@lru_cache(maxsize=4)
def _plain_plan(asked: Instance) -> Plan:
    """One plain pass of the planner; kept, because the counter asks with every key typed."""
    board = Board(Problem(asked))
    greedy(board)
    return board.plan()


def _beads_in_loads(waiting: Sequence[BeadJob]) -> dict[tuple[int, int], int]:
    """Beads of each job and firing that stand in a load already (1 query)."""
    rows = (
        LoadShare.objects.filter(job__in=[job.pk for job in waiting])
        .exclude(tray__load__state=KilnLoad.State.SPOILED)
        .order_by()
        .values("job", "tray__firing")
        .annotate(beads=Sum("beads"))
    )
    return {(row["job"], row["tray__firing"]): row["beads"] for row in rows}


def _order_name(job: BeadJob) -> str:
    return f"order {job.order.number}"


def _due_minute(job: BeadJob, clock: PlanClock, now: int) -> int:
    return now if job.order.due_on is None else clock.start_of(job.order.due_on)


def _waiting_job(row: BeadJob, placed: dict[tuple[int, int], int], now: int) -> Job | None:
    """What of a job stands in no load yet; a job with its first firing behind it has one left."""
    bead = row.bead
    shape, cavities = str(bead.mould_id), bead.mould.cavities
    programmes = [bead.programme]
    if bead.second_programme is not None:
        programmes.append(bead.second_programme)
    first = 2 if row.step in {BeadJob.Step.PAINTING, BeadJob.Step.SECOND} else 1
    left = row.to_start - placed.get((row.pk, first), 0)
    if left <= 0 or len(programmes) < first:
        return None
    firings = tuple(_firing(programme, shape, cavities) for programme in programmes[first - 1 :])
    return Job(f"waiting {row.pk}", _order_name(row), left, now, 0, firings)


def _windows(
    days: OpenDays, clock: PlanClock, today: date, ahead_days: int
) -> Iterable[tuple[int, int]]:
    """One window a day, from opening to closing: somebody watches the kiln over dinner."""
    for ahead in range((today - clock.first_day).days + ahead_days):
        day = clock.first_day + timedelta(days=ahead)
        span = days.span(day)
        if span is not None:
            start = clock.start_of(day)
            yield start + _minutes(span[0]), start + _minutes(span[1])


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _kiln(kiln: KilnFacts) -> PlannedKiln:
    return PlannedKiln(
        str(kiln.key),
        kiln.places,
        int(kiln.preheat_min),
        int(kiln.cooling_min),
        float(kiln.lowest_c),
        float(kiln.highest_c),
    )


def _tray_job(tray: LoadTray, loads: Sequence[KilnLoad]) -> Job:
    """A tray as a job of its own, with windows wide enough for the load it stands in."""
    programme = tray.bead.programme
    if tray.firing == 2 and tray.bead.second_programme is not None:
        programme = tray.bead.second_programme
    load = next(load for load in loads if load.pk == tray.load_id)
    firing = _firing(programme, str(tray.bead.mould_id), tray.bead.mould.cavities)
    wide = Firing(
        firing.shape,
        firing.cavities,
        (min(firing.temp_c[0], load.hold_c), max(firing.temp_c[1], load.hold_c)),
        (min(firing.minutes[0], load.hold_min), max(firing.minutes[1], load.hold_min)),
    )
    return Job(f"tray {tray.pk}", PLANNED, tray.beads, 0, 0, (wide,))


def _firing(programme: Programme, shape: str, cavities: int) -> Firing:
    return Firing(
        shape,
        cavities,
        (float(programme.from_c), float(programme.to_c)),
        (programme.from_min, programme.to_min),
    )


def _pinned(load: KilnLoad, trays: Sequence[LoadTray], clock: PlanClock) -> PinnedLoad:
    items = tuple(
        Item(f"tray {tray.pk}", 1, tray.moulds, tray.beads)
        for tray in trays
        if tray.load_id == load.pk
    )
    fixed = load.pinned or load.state != KilnLoad.State.PLANNED
    placed = Load(
        str(load.kiln_id), clock.minute(load.starts_at), float(load.hold_c), load.hold_min, items
    )
    return PinnedLoad(placed, sealed=fixed, temp_fixed=fixed)


def wanted_job(facts: OrderFacts, bead: BeadCosting, release_min: int) -> Job:
    """The beads of one kind that an order being asked about starts."""
    firings = tuple(
        _wanted_firing(
            facts.workshop.programmes[firing.programme], facts.workshop.moulds[firing.mould]
        )
        for firing in bead.firings
    )
    return Job(bead.name, "", bead.start, release_min, 0, firings)


def _wanted_firing(programme: ProgrammeFacts, mould: MouldFacts) -> Firing:
    low_c, high_c = programme.low_c, programme.high_c
    low_min, high_min = programme.low_min, programme.high_min
    return Firing(
        str(mould.key),
        mould.cavities,
        (
            float(programme.temperature_c if low_c is None else low_c),
            float(programme.temperature_c if high_c is None else high_c),
        ),
        (
            int(programme.minutes if low_min is None else low_min),
            int(programme.minutes if high_min is None else high_min),
        ),
    )
