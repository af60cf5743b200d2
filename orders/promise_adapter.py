"""Kilns, moulds and hours with what they are promised to, as the counter's question needs them.

Times become whole minutes of local clock from 00:00 of the plan's first day. What stands in a
load is told by mould and programme and not bead by bead, so the board is small however many
orders are open. Beads of other orders that stand in no load are given the room that one plain
pass of the planner finds for them, so that no kiln time is promised twice.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import NamedTuple

from django.db.models import F, Q, Sum
from django.utils import timezone

from orders.costing.facts import (
    KilnFacts,
    MouldFacts,
    OrderFacts,
    ProgrammeFacts,
    WorkshopFacts,
)
from orders.costing.results import BeadCosting
from orders.models import BeadJob, Order
from orders.plan_grid import job_on_grid, on_grid
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
    PinnedLoad,
)
from orders.planning.instance import Kiln as PlannedKiln
from orders.planning.instance import Mould as PlannedMould
from orders.planning.instance import Order as PlannedOrder
from orders.planning.problem import Problem
from orders.queries.days import OpenDays
from stock.models import Bead, KilnLoad, LoadTray
from workshop.models import Mould, NoFiring

AHEAD_DAYS = 200
LOADING_MIN = 20  # to look at the plan and set the trays in: our choice
LIT_ON_MIN = 15  # the first load from now is lit on the quarter of an hour
PLANNED = "loads already planned"
ACTIVE = (KilnLoad.State.PLANNED, KilnLoad.State.FIRING)
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

    def moment(self, minute: int) -> datetime:
        days, rest = divmod(minute, DAY_MIN)
        local = datetime.combine(self.first_day + timedelta(days=days), time(rest // 60, rest % 60))
        return timezone.make_aware(local)


@dataclass(frozen=True)
class KilnBoard:
    """The workshop's kilns with every load already planned pinned.

    now_min  the present; lit_min the first minute at which anything new can be lit
    rows     the key of each planned load by its kiln and start
    """

    clock: PlanClock
    instance: Instance
    now_min: int
    lit_min: int
    rows: Mapping[tuple[str, int], int]


class LoadRow(NamedTuple):
    pk: int
    kiln: int
    state: str
    starts_at: datetime
    started_at: datetime | None
    hold_c: int
    hold_min: int
    pinned: bool

    @property
    def is_fixed(self) -> bool:
        return self.pinned or self.state != KilnLoad.State.PLANNED


class BeadRow(NamedTuple):
    """The mould of a bead and its firing windows; the second's are None for beads fired once."""

    mould: int
    cavities: int
    from_c: int
    to_c: int
    from_min: int
    to_min: int
    second_from_c: int | None
    second_to_c: int | None
    second_from_min: int | None
    second_to_min: int | None

    def firing(self, number: int) -> Firing | None:
        return _firing_of(self, number)


@lru_cache(maxsize=4096)
def _firing_of(row: BeadRow, number: int) -> Firing | None:
    windows: Sequence[int | None] = row[2:6] if number == 1 else row[6:10]
    low_c, high_c, low_min, high_min = windows
    if low_c is None or high_c is None or low_min is None or high_min is None:
        return None
    return Firing(str(row.mould), row.cavities, (float(low_c), float(high_c)), (low_min, high_min))


def kiln_board(
    days: OpenDays, today: date, workshop: WorkshopFacts, *, asking: Order | None = None
) -> KilnBoard:
    """What stands in the kilns from now on, and who waits for them (6 queries).

    workshop  brings the kilns
    asking    the order whose own beads are not counted, because the question is about them
    A load that is burning or pinned by the keeper takes nothing more.
    """
    loads = _load_rows()
    first = min([today, *(timezone.localtime(load.starts_at).date() for load in loads)])
    clock = PlanClock(first)
    beads = _bead_rows()
    jobs, pinned = _pinned(loads, beads, clock)
    instance = Instance(
        calendar=Calendar(tuple(_windows(days, clock, today)), True),
        kilns=tuple(_kilns(workshop.kilns, clock)),
        moulds=tuple(
            PlannedMould(str(pk), places, owned, held_min)
            for pk, places, owned, held_min in Mould.objects.order_by("pk").values_list(
                "pk", "places", "owned", "held_min"
            )
        ),
        orders=(PlannedOrder(PLANNED, 0),),
        jobs=jobs,
        pinned=pinned,
    )
    now = max(clock.minute(timezone.now()), clock.start_of(today))
    lit = -(-(now + LOADING_MIN) // LIT_ON_MIN) * LIT_ON_MIN
    asked = _with_waiting(on_grid(instance), _waiting_rows(asking), beads, clock, lit)
    rows = {
        (pin.load.kiln, pin.load.start_min): load.pk
        for load, pin in zip(loads, pinned, strict=True)
        if not load.is_fixed
    }
    return KilnBoard(clock, asked, now, lit, rows)


# --- rows -------------------------------------------------------------------------------------


def _load_rows() -> list[LoadRow]:
    rows = KilnLoad.objects.filter(
        state__in=ACTIVE, starts_at__gte=timezone.now() - timedelta(days=2)
    )
    return [
        LoadRow(*row)
        for row in rows.order_by("starts_at", "pk").values_list(
            "pk", "kiln_id", "state", "starts_at", "started_at", "hold_c", "hold_min", "pinned"
        )
    ]


def _bead_rows() -> dict[int, BeadRow]:
    rows = Bead.objects.order_by().values_list(
        "pk", "mould_id", "mould__cavities",
        "programme__from_c", "programme__to_c", "programme__from_min", "programme__to_min",
        "second_programme__from_c", "second_programme__to_c",
        "second_programme__from_min", "second_programme__to_min",
    )  # fmt: skip
    return {row[0]: BeadRow(*row[1:]) for row in rows}


def _waiting_rows(asking: Order | None) -> list[tuple]:
    """Beads to be fired that stand in no load (1 query): job, order, bead, due, first, left, more.

    left   beads that find their next firing in no load
    more   beads that find only their second firing in none
    """

    def placed(number: int) -> Sum:
        here = Q(shares__tray__firing=number)
        active = Q(shares__tray__load__state__in=ACTIVE)
        done = Q(shares__tray__load__state=KilnLoad.State.COOLED) & Q(
            shares__tray__batch=F("batch")
        )
        return Sum("shares__beads", filter=here & (active | done), default=0)

    rows = BeadJob.objects.filter(order__state=Order.State.CONFIRMED, step__in=TO_BE_FIRED)
    if asking is not None and asking.pk:
        rows = rows.exclude(order=asking.pk)
    counted = rows.annotate(once=placed(1), twice=placed(2)).filter(
        Q(step__in=(BeadJob.Step.MOULDING, BeadJob.Step.FIRING), once__lt=F("to_start"))
        | Q(bead__second_programme__isnull=False, twice__lt=F("to_start"))
    )
    found = []
    for pk, order, bead, due, step, start, once, twice, second, whole, lost in counted.order_by(
        "pk"
    ).values_list(
        "pk", "order__number", "bead_id", "order__due_on", "step", "to_start", "once", "twice",
        "bead__second_programme_id", "batch__started", "batch__rejected",
    ):  # fmt: skip
        if step in {BeadJob.Step.PAINTING, BeadJob.Step.SECOND}:
            sound = whole - lost if whole is not None else start
            found.append((pk, order, bead, due, 2, sound - twice, 0))
            continue
        left = max(0, start - once)
        more = max(0, start - twice - left) if second is not None else 0
        found.append((pk, order, bead, due, 1, left, more))
    return found


# --- the board --------------------------------------------------------------------------------


def _pinned(
    loads: Sequence[LoadRow], beads: Mapping[int, BeadRow], clock: PlanClock
) -> tuple[tuple[Job, ...], tuple[PinnedLoad, ...]]:
    """The loads, and a job for each mould and programme that stands in any of them (1 query)."""
    trays = (
        LoadTray.objects.filter(load__in=[load.pk for load in loads])
        .order_by()
        .values("load_id", "bead_id", "firing")
        .annotate(moulds=Sum("moulds"), beads=Sum("beads"))
        .values_list("load_id", "bead_id", "firing", "moulds", "beads")
    )
    sums: dict[int, dict[Firing, list[int]]] = {load.pk: {} for load in loads}
    by_key = {load.pk: load for load in loads}
    for load_pk, bead, number, moulds, count in trays:
        firing = beads[bead].firing(number) or beads[bead].firing(1)
        assert firing is not None
        _add(sums[load_pk], _wide(firing, by_key[load_pk]), moulds, count)
    inside = Inside()
    pinned = []
    for load in loads:
        start = load.starts_at
        if load.state == KilnLoad.State.FIRING:
            start = load.started_at or load.starts_at
        placed = Load(
            str(load.kiln), clock.minute(start), float(load.hold_c), load.hold_min,
            inside.items(sums[load.pk]),
        )  # fmt: skip
        pinned.append(PinnedLoad(placed, sealed=load.is_fixed, temp_fixed=load.is_fixed))
    return inside.jobs(), tuple(pinned)


def _wide(firing: Firing, load: LoadRow) -> Firing:
    """Windows wide enough for the load it stands in: the keeper may have set other heat."""
    (low_c, high_c), (low_min, high_min) = firing.temp_c, firing.minutes
    if low_c <= load.hold_c <= high_c and low_min <= load.hold_min <= high_min:
        return firing
    return replace(
        firing,
        temp_c=(min(low_c, load.hold_c), max(high_c, load.hold_c)),
        minutes=(min(low_min, load.hold_min), max(high_min, load.hold_min)),
    )


def _with_waiting(
    instance: Instance,
    rows: Sequence[tuple],
    beads: Mapping[int, BeadRow],
    clock: PlanClock,
    now: int,
) -> Instance:
    """The instance with room pinned for beads that wait and stand in no load yet."""
    jobs, orders = [], {}
    for pk, order, bead, due, first, left, more in rows:
        name = f"order {order}"
        orders[name] = PlannedOrder(name, now if due is None else clock.start_of(due))
        firings = [f for number in (1, 2)[first - 1 :] if (f := beads[bead].firing(number))]
        if left > 0 and firings:
            jobs.append(Job(f"waiting {pk}", name, left, now, 0, tuple(firings)))
        if more > 0:
            jobs.append(Job(f"waiting {pk} again", name, more, now + DAY_MIN, 0, (firings[-1],)))
    if not jobs:
        return instance
    asked = replace(
        instance,
        orders=(*instance.orders, *orders.values()),
        jobs=(*instance.jobs, *jobs),
    )
    try:
        return _with_room(asked)
    except PlanningError:
        return instance  # the firing page names the bead that no kiln can fire


@lru_cache(maxsize=4)
def _with_room(asked: Instance) -> Instance:
    """One plain pass of the planner, its loads pinned and told by mould and programme as well;
    kept, because the counter asks with every key typed."""
    board = Board(Problem(asked))
    greedy(board)
    firings = {(job.id, n): f for job in asked.jobs for n, f in enumerate(job.firings, 1)}
    before = {(pin.load.kiln, pin.load.start_min): pin for pin in asked.pinned}
    inside = Inside()
    pinned = []
    for load in board.plan().loads:
        old = before.get((load.kiln, load.start_min))
        sums: dict[Firing, list[int]] = {}
        for item in load.items:
            _add(sums, firings[item.job, item.firing], item.moulds, item.beads)
        sealed, fixed = (old.sealed, old.temp_fixed) if old else (False, False)
        kept = replace(load, items=inside.items(sums))
        pinned.append(PinnedLoad(kept, sealed=sealed, temp_fixed=fixed))
    return replace(
        asked, orders=(PlannedOrder(PLANNED, 0),), jobs=inside.jobs(), pinned=tuple(pinned)
    )


class Inside:
    """What stands in loads, told as one job for each mould and programme."""

    def __init__(self) -> None:
        self.names: dict[Firing, str] = {}
        self.beads: dict[Firing, int] = {}

    def items(self, sums: Mapping[Firing, Sequence[int]]) -> tuple[Item, ...]:
        """One load's moulds and beads by firing, as the planner's items."""
        found = []
        for firing, (moulds, beads) in sums.items():
            name = self.names.setdefault(firing, f"in loads {len(self.names)}")
            self.beads[firing] = self.beads.get(firing, 0) + beads
            found.append(Item(name, 1, moulds, beads))
        return tuple(found)

    def jobs(self) -> tuple[Job, ...]:
        return tuple(
            Job(name, PLANNED, self.beads[firing], 0, 0, (firing,))
            for firing, name in self.names.items()
        )


def _add(sums: dict[Firing, list[int]], firing: Firing, moulds: int, beads: int) -> None:
    both = sums.setdefault(firing, [0, 0])
    both[0] += moulds
    both[1] += beads


def _windows(days: OpenDays, clock: PlanClock, today: date) -> Iterable[tuple[int, int]]:
    """One window a day, from opening to closing: somebody watches the kiln over dinner."""
    for ahead in range((today - clock.first_day).days + AHEAD_DAYS):
        day = clock.first_day + timedelta(days=ahead)
        span = days.span(day)
        if span is not None:
            start = clock.start_of(day)
            yield start + _minutes(span[0]), start + _minutes(span[1])


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _kilns(kilns: Iterable[KilnFacts], clock: PlanClock) -> Iterable[PlannedKiln]:
    """The kilns, shut on the days on which nothing is to be fired in them (1 query)."""
    off = list(
        NoFiring.objects.filter(day__gte=clock.first_day)
        .order_by("day")
        .values_list("day", "kiln_id")
    )
    for kiln in kilns:
        starts = {clock.start_of(day) for day, only in off if only in (None, int(kiln.key))}
        yield PlannedKiln(
            str(kiln.key),
            kiln.places,
            int(kiln.preheat_min),
            int(kiln.cooling_min),
            float(kiln.lowest_c),
            float(kiln.highest_c),
            tuple((start, start + DAY_MIN) for start in sorted(starts)),
        )


# --- what is asked ----------------------------------------------------------------------------


def wanted_job(facts: OrderFacts, bead: BeadCosting, release_min: int) -> Job:
    """The beads of one kind that an order being asked about starts."""
    firings = tuple(
        _wanted_firing(
            facts.workshop.programmes[firing.programme], facts.workshop.moulds[firing.mould]
        )
        for firing in bead.firings
    )
    return job_on_grid(Job(bead.name, "", bead.start, release_min, 0, firings))


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
