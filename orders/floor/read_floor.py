"""The kilns, the hours and the beads that wait, put together for the planner."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache

from django.utils import timezone

from orders.floor.five_minutes import on_grid
from orders.floor.floor import SHELF, Clock, Floor, Refused
from orders.floor.hands import bench_hands
from orders.floor.heat import Heat
from orders.floor.labour import Labour
from orders.floor.loads import StandingLoads
from orders.floor.open_days import OpenDays
from orders.floor.rows import active_loads, floor_rows
from orders.floor.work import HORIZON_DAYS, WorkReader
from orders.planning.bench import Bench
from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN, Calendar, Instance, Kiln, Load, Mould, Plan
from orders.planning.instance import Order as PlannedOrder
from orders.planning.rounds.problem import compiled
from stock.models import Bead
from workshop.models import ClosedDay, NoFiring, WorkingHours
from workshop.models import Kiln as KilnRow

LOADING_MIN = 20  # to look at the plan and set the trays in: our choice
LIT_ON_MIN = 15  # the first load from now is lit on the quarter of an hour
USUAL_HOURS = (time(8), time(16))  # until the owner writes the hours down: our choice


def read_floor(now: datetime | None = None, no_firing: Iterable[NoFiring] = ()) -> Floor:
    """The floor now (22 queries); `no_firing` adds days that are only being thought about."""
    return _Reader(now or timezone.now(), list(no_firing)).floor()


class _Reader:
    def __init__(self, now: datetime, extra: list[NoFiring]) -> None:
        zone = timezone.get_current_timezone()
        self.clock = Clock(now.astimezone(zone).date(), zone)
        self.now_min = self.clock.minute(now)
        first_min = -(-(self.now_min + LOADING_MIN) // LIT_ON_MIN) * LIT_ON_MIN
        self.first_min = first_min
        self.today = self.clock.first_day
        self.hours = list(WorkingHours.objects.all())
        self.closed = dict(ClosedDay.objects.filter(day__gte=self.today).values_list("day", "why"))
        self.no_firing = list(NoFiring.objects.filter(day__gte=self.today)) + extra
        self.kilns = list(KilnRow.objects.filter(in_use=True))
        self.rows = floor_rows()
        self.days = self._open_days()
        self.windows = list(self._windows())
        hands = bench_hands()
        bench = Bench(
            Calendar(tuple(self.windows)),
            hands.free(self.days, self.today, HORIZON_DAYS),
            hands.able,
        )
        self.heat = Heat.of(self.kilns, Labour.in_force(self.today), hands)
        self.reader = WorkReader(self.rows, bench, hands, self.heat, first_min)

    def floor(self) -> Floor:
        reader = self.reader
        reader.read()
        pinned, standing = StandingLoads(self.clock, reader.work).split(self.rows.loads)
        calendar = Calendar(tuple(self.windows), True)
        if self.heat.any_hot:
            # A kiln is lit ahead of its beads, but not in the past.
            calendar = calendar.from_minute(self.first_min)
        instance = Instance(
            calendar,
            tuple(self._kiln(kiln) for kiln in self._all_kilns()),
            tuple(_moulds(reader.beads.values())),
            tuple(self._orders()),
            tuple(work.as_job(self.heat) for work in reader.work.values()),
            tuple(pinned),
            self.heat.instance_hands,
        )
        instance, refused = _without_the_impossible(on_grid(instance))
        names = {job.id for job in instance.jobs}
        return Floor(
            self.clock,
            self.now_min,
            self.windows,
            instance,
            Plan(tuple(_only(load, names) for load in standing)),
            self.rows.loads,
            reader.work,
            {name: order.due_on for name, order in reader.order_of.items()},
            reader.bench_room(),
            self.rows.jobs,
            reader.missing,
            list(refused),
            self._mark(),
            self.heat,
        )

    # --- hours and kilns ------------------------------------------------------------------

    def _open_days(self) -> OpenDays:
        minutes: dict[int, int] = {}
        for row in self.hours:
            length = _minute_of(row.closes) - _minute_of(row.opens)
            minutes[row.weekday] = minutes.get(row.weekday, 0) + length
        return OpenDays(minutes, self.closed)

    def _windows(self) -> Iterable[tuple[int, int]]:
        for number in range(HORIZON_DAYS):
            day = self.today + timedelta(days=number)
            if day in self.closed:
                continue
            for opens, closes in self._hours_of(day.weekday()):
                start = number * DAY_MIN
                yield start + _minute_of(opens), start + _minute_of(closes)

    def _hours_of(self, weekday: int) -> list[tuple[time, time]]:
        if not self.hours:
            return [USUAL_HOURS]
        return [(row.opens, row.closes) for row in self.hours if row.weekday == weekday]

    def _all_kilns(self) -> list[KilnRow]:
        """Those in use, and any other in which a load still stands."""
        known = {kiln.pk: kiln for kiln in self.kilns}
        others = {load.kiln_id: load.kiln for load in self.rows.loads if load.kiln_id not in known}
        return [*known.values(), *others.values()]

    def _kiln(self, kiln: KilnRow) -> Kiln:
        closed: tuple[tuple[int, int], ...] = tuple(
            (number * DAY_MIN, (number + 1) * DAY_MIN)
            for number in sorted(
                {(r.day - self.today).days for r in self.no_firing if r.kiln_id in (None, kiln.pk)}
            )
        )
        if not kiln.in_use:
            closed = ((0, HORIZON_DAYS * DAY_MIN),)  # nothing new goes into it
        hot = kiln.as_hot
        return Kiln(
            kiln.name, kiln.places, 0 if hot else kiln.preheat_min,
            0 if hot else kiln.cooling_min, kiln.lowest_c, kiln.highest_c, closed, hot,
        )  # fmt: skip

    # --- when it is wanted ----------------------------------------------------------------

    def _orders(self) -> Iterable[PlannedOrder]:
        last = self.windows[-1][1] if self.windows else HORIZON_DAYS * DAY_MIN
        for name, order in self.reader.order_of.items():
            due = order.due_on or order.p90_on
            minutes = self.reader.working_min_after(name)
            yield PlannedOrder(name, self._fired_by(due, minutes) if due else last)
        yield PlannedOrder(SHELF, last)

    def _fired_by(self, due: date, minutes: int) -> int:
        """The last minute at which beads may come out, to be finished and strung by a day's end."""
        day = due if self.days.is_open(due) else self.days.last_open_before(due) or due
        closes = [_minute_of(end) for _start, end in self._hours_of(day.weekday())]
        end = (day - self.today).days * DAY_MIN + max(closes, default=DAY_MIN - 1)
        for opens, shuts in reversed(self.windows):
            if opens >= end:
                continue
            worked = min(shuts, end) - opens
            if minutes <= worked:
                return min(shuts, end) - minutes
            minutes -= worked
        return end - minutes

    def _mark(self) -> str:
        """Changes whenever anything does that a plan was worked out from."""
        jobs, loads = self.rows.jobs, self.rows.loads
        facts = (
            [(load.number, load.version, load.state, load.pinned) for load in loads],
            [(job.pk, job.step, job.to_start, job.batch_id, job.order.due_on) for job in jobs],
            sorted((str(row.day), row.kiln_id or 0) for row in self.no_firing if row.pk),
            sorted(str(day) for day in self.closed),
            [(row.weekday, str(row.opens), str(row.closes)) for row in self.hours],
            [
                (kiln.pk, kiln.places, kiln.preheat_min, kiln.cooling_min, kiln.as_hot)
                for kiln in self.kilns
            ],
            str(self.today),
        )
        return hashlib.sha256(repr(facts).encode()).hexdigest()


def _moulds(beads: Iterable[Bead]) -> Iterable[Mould]:
    seen = {bead.mould_id: bead.mould for bead in beads}
    for mould in seen.values():
        yield Mould(mould.name, mould.places, mould.owned, mould.held_min, mould.held_hot_min)


@lru_cache(maxsize=4)
def _without_the_impossible(instance: Instance) -> tuple[Instance, Sequence[Refused]]:
    """Work that no kiln can fire is set apart, so that the rest can be planned all the same."""
    refused: list[Refused] = []
    while True:
        try:
            compiled(instance)
        except PlanningError as error:
            if not error.job:
                # No kiln, no hours: nothing can be planned, and what stands can still be shown.
                return instance, (*refused, Refused("", str(error)))
            refused.append(Refused(str(error.job), str(error)))
            jobs = tuple(job for job in instance.jobs if job.id != error.job)
            names = {job.id for job in jobs}
            pinned = tuple(replace(pin, load=_only(pin.load, names)) for pin in instance.pinned)
            instance = replace(instance, jobs=jobs, pinned=pinned)
        else:
            return instance, tuple(refused)


def _only(load: Load, names: set[str]) -> Load:
    if all(item.job in names for item in load.items):
        return load
    items = tuple(item for item in load.items if item.job in names)
    return replace(load, items=items)


def _minute_of(moment: time) -> int:
    return moment.hour * 60 + moment.minute


__all__ = ["active_loads", "read_floor"]
