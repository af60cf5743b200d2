"""Kilns, moulds and hours with what they are promised to, as the counter's question needs them.

Times become whole minutes of local clock from 00:00 of the plan's first day. What stands in a
load is told by mould and programme and not bead by bead, so the board is small however many
orders are open. Beads of other orders that stand in no load are given the room that one plain
pass of the planner finds for them, so that no kiln time is promised twice.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from random import Random

from django.db.models import Sum
from django.utils import timezone

from orders.costing.facts import KilnFacts, MouldFacts, OrderFacts, ProgrammeFacts, WorkshopFacts
from orders.costing.results import BeadCosting
from orders.floor.firings import FiringOf, firings_of
from orders.floor.five_minutes import job_on_grid, on_grid
from orders.floor.hands import Hands
from orders.floor.open_days import OpenDays
from orders.floor.promise_rows import (
    LoadRow,
    WaitingRow,
    bead_rows,
    load_rows,
    waiting_rows,
)
from orders.models import Order
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
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.search import RoundSearch
from stock.models import KilnLoad, LoadTray
from workshop.models import Mould, NoFiring

AHEAD_DAYS = 200
LOADING_MIN = 20  # to look at the plan and set the trays in: our choice
LIT_ON_MIN = 15  # the first load from now is lit on the quarter of an hour
PLANNED = "loads already planned"


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
    firings: FiringOf | None = field(default=None, compare=False)


def kiln_board(
    days: OpenDays,
    today: date,
    workshop: WorkshopFacts,
    hands: Hands,
    *,
    asking: Order | None = None,
) -> KilnBoard:
    """What stands in the kilns from now on, and who waits for them (6 queries, and 3 more where
    kilns are kept hot or programmes soak).

    workshop  brings the kilns
    asking    the order whose own beads are not counted, because the question is about them
    A load that is burning or pinned by the keeper takes nothing more.
    """
    loads = load_rows()
    first = min([today, *(timezone.localtime(load.starts_at).date() for load in loads)])
    clock = PlanClock(first)
    firings = firings_of(bead_rows(), workshop, hands)
    jobs, pinned = _pinned(loads, firings, clock)
    now = max(clock.minute(timezone.now()), clock.start_of(today))
    lit = -(-(now + LOADING_MIN) // LIT_ON_MIN) * LIT_ON_MIN
    calendar = Calendar(tuple(_windows(days, clock, today)), True)
    if firings.heat is not None and firings.heat.any_hot:
        # A kiln is lit ahead of its beads, but not in the past.
        calendar = calendar.from_minute(lit)
    instance = Instance(
        calendar=calendar,
        kilns=tuple(_kilns(workshop.kilns, clock)),
        moulds=tuple(
            PlannedMould(str(pk), places, owned, held_min, held_hot_min)
            for pk, places, owned, held_min, held_hot_min in Mould.objects.order_by(
                "pk"
            ).values_list("pk", "places", "owned", "held_min", "held_hot_min")
        ),
        orders=(PlannedOrder(PLANNED, 0),),
        jobs=jobs,
        pinned=pinned,
        hands=firings.heat.instance_hands if firings.heat else (),
    )
    asked = _with_waiting(on_grid(instance), waiting_rows(asking), firings, clock, lit)
    rows = {
        (pin.load.kiln, pin.load.start_min): load.pk
        for load, pin in zip(loads, pinned, strict=True)
        if not load.is_fixed
    }
    return KilnBoard(clock, asked, now, lit, rows, firings)


# --- the board --------------------------------------------------------------------------------


def _pinned(
    loads: Sequence[LoadRow], firings: FiringOf, clock: PlanClock
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
        firing = firings(bead, number) or firings(bead, 1)
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
            inside.items(sums[load.pk]), lit=load.lit, hands=load.hands,
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
    rows: Sequence[WaitingRow],
    firing_of: FiringOf,
    clock: PlanClock,
    now: int,
) -> Instance:
    """The instance with room pinned for beads that wait and stand in no load yet."""
    jobs, orders = [], {}
    for pk, order, bead, due, first, left, more in rows:
        name = f"order {order}"
        orders[name] = PlannedOrder(name, now if due is None else clock.start_of(due))
        firings = [f for number in (1, 2)[first - 1 :] if (f := firing_of(bead, number))]
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
    board: Board | RoundBoard
    if asked.has_rounds:
        search = RoundSearch(RoundProblem(asked), Random(0))
        search.first()
        board = search.board
    else:
        board = Board(Problem(asked))
        greedy(board)
    firings = {(job.id, n): f for job in asked.jobs for n, f in enumerate(job.firings, 1)}
    before = {(pin.load.kiln, pin.load.start_min): pin for pin in asked.pinned}
    inside = Inside()
    pinned = []
    for load in _as_planned(board, before):
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


def _as_planned(
    board: Board | RoundBoard, before: Mapping[tuple[str, int], PinnedLoad]
) -> Sequence[Load]:
    """The board's loads; those that stand already keep the minute they are known by."""
    if isinstance(board, Board):
        return board.plan().loads
    new = {id(r): items for r, items in board.reserved()}
    found = []
    for r in sorted(board.rounds(), key=lambda r: (r.start, r.kiln)):
        kept = tuple(item for _, item in r.kept)
        load = board.as_load(r, (*kept, *new.get(id(r), ())))
        if r.pin is not None:
            load = replace(load, start_min=r.pin.load.start_min, lit=r.pin.load.lit)
        found.append(load)
    return found


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
            0 if kiln.hot else int(kiln.preheat_min),
            0 if kiln.hot else int(kiln.cooling_min),
            float(kiln.lowest_c),
            float(kiln.highest_c),
            tuple((start, start + DAY_MIN) for start in sorted(starts)),
            kiln.hot,
        )


# --- what is asked ----------------------------------------------------------------------------


def wanted_job(
    facts: OrderFacts, bead: BeadCosting, release_min: int, firing_of: FiringOf | None = None
) -> Job:
    """The beads of one kind that an order being asked about starts."""
    known = firing_of is not None and firing_of.heat is not None
    firings = tuple(
        (firing_of(int(bead.key), firing.number) if known and firing_of else None)
        or _wanted_firing(
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
