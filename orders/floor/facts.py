"""The kiln floor as it stands, read once for the plan and for the promise alike.

The plan goes on to read what waits bead by bead (`read_floor.py`), the counter by mould and
programme (`promise_board.py`); kilns, hours, days without firing, hands and loads are these.
"""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property

from django.utils import timezone

from orders.floor.clock import Clock
from orders.floor.five_minutes import on_grid
from orders.floor.hands import Hands, bench_hands
from orders.floor.heat import Heat
from orders.floor.labour import Labour
from orders.floor.open_days import OpenDays, open_days
from orders.planning import instance as planning
from orders.planning.bench import Bench, Step
from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN, Calendar, Instance, Item, Load, PinnedLoad, Span
from stock.models import KilnLoad
from workshop.models import Kiln, Mould, NoFiring
from workshop.standing import kept

AHEAD_DAYS = 200  # plan and promise look so far ahead: our choice
LOADING_MIN = 20  # to look at the plan and set the trays in: our choice
LIT_ON_MIN = 15  # the first load from now is lit on the quarter of an hour
LIT_LATE_MIN = 60  # a load lit so much later than planned is planned anew: our choice
GLASS_COMES_DAYS = 3  # missing glass is taken to come within three days: our choice
PAINT_DRY_MIN = 120  # before the second firing: common practice, no source
RECORDS = timedelta(days=365)  # days without firing are told so far back
ACTIVE = (KilnLoad.State.PLANNED, KilnLoad.State.FIRING)

"""Minutes of a skill that are promised for a day."""


@dataclass
class FloorFacts:
    """What plan and promise both stand on.

    now_min    the present, in minutes of the clock
    kilns      those in use, and any other in which a load still stands
    no_firing  days without firing, of the last year and to come
    loads      planned and burning ones, earliest first, with their kiln
    labour     the rates in force
    """

    clock: Clock
    now_min: int
    days: OpenDays
    hands: Hands
    kilns: Sequence[Kiln]
    no_firing: Sequence[NoFiring]
    loads: Sequence[KilnLoad]
    labour: Labour

    @property
    def today(self) -> date:
        return self.clock.first_day

    @property
    def first_min(self) -> int:
        """The first minute at which anything new can be lit."""
        return -(-(self.now_min + LOADING_MIN) // LIT_ON_MIN) * LIT_ON_MIN

    @cached_property
    def windows(self) -> tuple[Span, ...]:
        """When somebody is there: a dinner hour parts the day, for a kiln is not left alone."""
        return tuple(
            (self.clock.start_of(day) + opens, self.clock.start_of(day) + closes)
            for day in (self.today + timedelta(days=n) for n in range(AHEAD_DAYS))
            for opens, closes in self.days.windows(day)
        )

    @property
    def last_min(self) -> int:
        """The end of the calendar."""
        return self.windows[-1][1] if self.windows else AHEAD_DAYS * DAY_MIN

    @cached_property
    def heat(self) -> Heat:
        return heat_of(self.kilns, self.hands, self.labour)

    def bench(self) -> Bench:
        """The hands' minutes by day and group, nothing promised yet."""
        free = self.hands.free(self.days, self.today, AHEAD_DAYS)
        return Bench(Calendar(self.windows), free, self.hands.able)

    def free_minutes(
        self, promised: Iterable[tuple[date, str, int]]
    ) -> dict[tuple[int, str], float]:
        """What is left of the hands' minutes once promised work is done.

        Work whose day has passed undone is still to be done: it takes the first minutes there are.
        """
        bench = self.bench()
        for day, skill, minutes in promised:
            with suppress(PlanningError):  # beyond the calendar nothing is free anyway
                bench.do(Step(skill, minutes), self.clock.start_of(max(day, self.today)))
        return bench.free

    def instance(
        self,
        moulds: Iterable[Mould],
        orders: Iterable[planning.Order],
        jobs: Iterable[planning.Job],
        pinned: Iterable[PinnedLoad],
    ) -> Instance:
        """The planner's instance of this floor, on the five minutes."""
        calendar = Calendar(self.windows, True)
        if self.heat.any_hot:
            # A kiln is lit ahead of its beads, but not in the past.
            calendar = calendar.from_minute(self.first_min)
        instance = Instance(
            calendar,
            tuple(self._kiln(kiln) for kiln in self.kilns),
            tuple(_mould(mould) for mould in moulds),
            tuple(orders),
            tuple(jobs),
            tuple(pinned),
            self.heat.instance_hands,
        )
        return on_grid(instance)

    def _kiln(self, kiln: Kiln) -> planning.Kiln:
        closed: tuple[Span, ...] = tuple(
            (start, start + DAY_MIN)
            for start in sorted(
                {
                    self.clock.start_of(row.day)
                    for row in self.no_firing
                    if row.day >= self.today and row.kiln_id in (None, kiln.pk)
                }
            )
        )
        if not kiln.in_use:
            closed = ((0, AHEAD_DAYS * DAY_MIN),)  # nothing new goes into it
        hot = kiln.as_hot
        return planning.Kiln(
            kiln.name, kiln.places, 0 if hot else kiln.preheat_min,
            0 if hot else kiln.cooling_min, kiln.lowest_c, kiln.highest_c, closed, hot,
        )  # fmt: skip

    def load(self, row: KilnLoad, items: Iterable[Item]) -> Load:
        """A load as the planner sees it, with what stands in it."""
        started = row.started_at if row.state == KilnLoad.State.FIRING else None
        hot = row.kiln.is_kept_hot
        return Load(
            row.kiln.name, self.clock.minute(started or row.starts_at), row.hold_c, row.hold_min,
            tuple(items), lit=row.lit and hot, hands=row.hands if hot else 0,
        )  # fmt: skip

    @cached_property
    def overdue(self) -> frozenset[int]:
        """Loads that may be moved and were not lit when they should have been: planned anew."""
        lit_by = self.clock.moment(self.now_min - LIT_LATE_MIN)
        rows = self.loads
        return frozenset(row.pk for row in rows if row.starts_at < lit_by and not row.is_fixed)


def read_facts(now: datetime, extra: Iterable[NoFiring] = ()) -> FloorFacts:
    """The floor at a moment (2 queries, 8 after a change of the workshop itself).

    extra  days without firing that are only being thought about
    """
    clock = Clock(timezone.localdate(now), timezone.get_current_timezone())
    stands = standing_floor(clock.first_day)
    loads = list(KilnLoad.objects.filter(state__in=ACTIVE).order_by("starts_at", "pk"))
    return FloorFacts(
        clock,
        clock.minute(now),
        stands.days,
        stands.hands,
        loads_with_kilns(loads, stands.kilns),
        [*stands.no_firing, *extra],
        loads,
        stands.labour,
    )


def heat_of(kilns: Iterable[Kiln], hands: Hands, labour: Labour) -> Heat:
    """How beads are fired in the kilns that are in use."""
    return Heat.of(tuple(kiln for kiln in kilns if kiln.in_use), hands, lambda: labour)


def loads_with_kilns(loads: Iterable[KilnLoad], kilns: Mapping[int, Kiln]) -> list[Kiln]:
    """Each load given its kiln; the kilns in use, and any other in which a load still stands."""
    held = set()
    for load in loads:
        load.kiln = kilns[load.kiln_id]
        held.add(load.kiln_id)
    return [kiln for kiln in kilns.values() if kiln.in_use or kiln.pk in held]


@dataclass(frozen=True)
class StandingFloor:
    """What of the floor stands from day to day; kilns by key, those out of use too."""

    days: OpenDays
    hands: Hands
    kilns: Mapping[int, Kiln]
    no_firing: Sequence[NoFiring]
    labour: Labour


def standing_floor(first_day: date) -> StandingFloor:
    """The floor's standing facts (1 query, 8 after a change of the workshop)."""
    return kept("floor", first_day, lambda: _read_floor(first_day))


def _read_floor(first_day: date) -> StandingFloor:
    told = NoFiring.objects.filter(day__gte=first_day - RECORDS).order_by("day")
    return StandingFloor(
        open_days(first_day),
        bench_hands(),
        {kiln.pk: kiln for kiln in Kiln.objects.order_by("name")},
        tuple(told),
        Labour.in_force(first_day),
    )


def _mould(mould: Mould) -> planning.Mould:
    return planning.Mould(mould.name, mould.places, mould.owned, mould.held_min, mould.held_hot_min)


def paint_gap_min(painting_min: Decimal) -> int:
    """From out of the first firing until painted beads may go into the second."""
    return int(painting_min) + PAINT_DRY_MIN
