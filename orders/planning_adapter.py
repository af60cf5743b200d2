"""The kilns, the hours and the beads that wait, read for the planner (15 queries, always)."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db.models import F, Prefetch, Sum
from django.utils import timezone

from orders.floor import SHELF, Clock, Floor, Refused, Work, rest_name, shelf_name, work_name
from orders.models import BeadJob, LoadShare, Order, OrderLine
from orders.planning.bench import Bench, Step
from orders.planning.errors import PlanningError
from orders.planning.instance import (
    DAY_MIN,
    Calendar,
    Instance,
    Item,
    Kiln,
    Load,
    Mould,
    PinnedLoad,
    Plan,
)
from orders.planning.instance import Order as PlannedOrder
from orders.planning.problem import Problem, moulds_needed
from orders.queries.days import OpenDays
from orders.queries.glass import GlassShelf, Missing, shares_by_bead
from orders.queries.labour import Amount, Labour
from stock.masses import fill_mg
from stock.models import Balance, Bead, BeadBatch, BeadColour, KilnLoad, LoadTray, PlaceKind
from stock.services.places import MOULDED, TO_PAINT
from workshop.models import ClosedDay, NoFiring, Person, Role, Skill, WorkingHours
from workshop.models import Kiln as KilnRow
from workshop.physics.shapes import ShapeError

JobStep = BeadJob.Step
BEFORE_FIRE = (
    JobStep.GLASS, JobStep.MOULDING, JobStep.FIRING, JobStep.PAINTING, JobStep.SECOND,
)  # fmt: skip
HORIZON_DAYS = 180
GLASS_COMES_DAYS = 3  # missing glass is taken to come within three days: our choice
LOADING_MIN = 20  # to look at the plan and set the trays in: our choice
PAINT_DRY_MIN = 120  # before the second firing: common practice, no source
USUAL_HOURS = (time(8), time(16))  # until the owner writes the hours down: our choice
HANDS = "bench"  # bench hours are pooled over the skills: who does what is the bench's affair


def read_floor(now: datetime | None = None, no_firing: Iterable[NoFiring] = ()) -> Floor:
    """The floor now; `no_firing` adds days that are only being thought about."""
    return _Reader(now or timezone.now(), list(no_firing)).floor()


class _Reader:
    def __init__(self, now: datetime, extra: list[NoFiring]) -> None:
        zone = timezone.get_current_timezone()
        self.clock = Clock(now.astimezone(zone).date(), zone)
        self.now_min = self.clock.minute(now)
        # On the quarter of an hour: a keeper reads the kiln's clock, not a railway's.
        self.first_min = -(-(self.now_min + LOADING_MIN) // 15) * 15
        self.today = self.clock.first_day
        self.hours = list(WorkingHours.objects.all())
        self.closed = dict(ClosedDay.objects.filter(day__gte=self.today).values_list("day", "why"))
        self.no_firing = list(NoFiring.objects.filter(day__gte=self.today)) + extra
        self.kilns = list(KilnRow.objects.filter(in_use=True))
        self.loads = active_loads()
        self.labour = Labour.in_force(self.today)
        self.hands = max(1, Person.objects.filter(role=Role.BENCH, is_active=True).count())
        self.days = self._open_days()
        self.windows = self._windows()
        self.work: dict[str, Work] = {}
        self.order_of: dict[str, Order] = {}
        self.after_min: dict[str, Decimal] = {}
        self.beads: dict[int, Bead] = {}
        self.taken_of_rest: dict[str, int] = {}

    def floor(self) -> Floor:
        jobs = self._jobs()
        shares = list(_shares_of(jobs))
        self._release_jobs(jobs, shares)
        self._shelf_work()
        after = self._working_min_after()
        pinned, standing = self._planned()
        instance = Instance(
            self._calendar(),
            tuple(self._kiln(kiln) for kiln in self._all_kilns()),
            tuple(_moulds(self.beads.values())),
            tuple(self._orders(after)),
            tuple(work.as_job() for work in self.work.values()),
            tuple(pinned),
        )
        instance, refused = _without_the_impossible(instance)
        return Floor(
            self.clock,
            self.now_min,
            self.windows,
            instance,
            Plan(tuple(_only_known(load, instance) for load in standing)),
            self.loads,
            self.work,
            {name: order.due_on for name, order in self.order_of.items()},
            after,
            refused,
            self._mark(jobs),
        )

    # --- hours and kilns ------------------------------------------------------------------

    def _open_days(self) -> OpenDays:
        minutes: dict[int, int] = {}
        for row in self.hours:
            length = _minute_of(row.closes) - _minute_of(row.opens)
            minutes[row.weekday] = minutes.get(row.weekday, 0) + length
        return OpenDays(minutes, self.closed)

    def _windows(self) -> list[tuple[int, int]]:
        found = []
        for number in range(HORIZON_DAYS):
            day = self.today + timedelta(days=number)
            if day in self.closed:
                continue
            for opens, closes in self._hours_of(day.weekday()):
                found.append(
                    (number * DAY_MIN + _minute_of(opens), number * DAY_MIN + _minute_of(closes))
                )
        return found

    def _hours_of(self, weekday: int) -> list[tuple[time, time]]:
        if not self.hours:
            return [USUAL_HOURS]
        return [(row.opens, row.closes) for row in self.hours if row.weekday == weekday]

    def _calendar(self) -> Calendar:
        """Somebody tends the fire in working hours; a kiln cools by itself over night."""
        shut = {(row.day - self.today).days for row in self.no_firing if row.kiln_id is None}
        return Calendar(tuple(self.windows), True).without_days(shut)

    def _all_kilns(self) -> list[KilnRow]:
        """Those in use, and any other in which a load still stands."""
        known = {kiln.pk: kiln for kiln in self.kilns}
        others = {load.kiln_id: load.kiln for load in self.loads if load.kiln_id not in known}
        return [*known.values(), *others.values()]

    def _kiln(self, kiln: KilnRow) -> Kiln:
        closed: tuple[tuple[int, int], ...] = tuple(
            (number * DAY_MIN, (number + 1) * DAY_MIN)
            for row in self.no_firing
            if row.kiln_id == kiln.pk
            for number in [(row.day - self.today).days]
        )
        if not kiln.in_use:
            closed = ((0, HORIZON_DAYS * DAY_MIN),)  # nothing new goes into it
        return Kiln(
            kiln.name, kiln.places, kiln.preheat_min, kiln.cooling_min,
            kiln.lowest_c, kiln.highest_c, closed,
        )  # fmt: skip

    # --- work -----------------------------------------------------------------------------

    def _jobs(self) -> list[BeadJob]:
        return list(
            BeadJob.objects.filter(order__state=Order.State.CONFIRMED, step__in=BEFORE_FIRE)
            .select_related("order__customer", "batch", "bead__mould", "bead__programme")
            .select_related("bead__second_programme")
            .order_by("order__due_on", "order__number", "pk")
        )

    def _release_jobs(self, jobs: Sequence[BeadJob], shares: Sequence[LoadShare]) -> None:
        """When each job's beads can go into a kiln: its turn at the bench, earliest due first."""
        colours = shares_by_bead(job.bead_id for job in jobs)
        shelf = GlassShelf.of_today()
        bench = Bench(Calendar(tuple(self.windows)), self._free_minutes())
        fired = _Fired(shares)
        for job in jobs:
            self.beads[job.bead_id] = job.bead
            self.order_of[str(job.order.number)] = job.order
            parts = colours.get(job.bead_id, [])
            missing: Sequence[Missing] = ()
            if job.step in {JobStep.GLASS, JobStep.MOULDING}:
                missing = shelf.take_for(job, parts)
            release, gap = self._release(job, parts, missing, bench)
            self._add_job(job, release, gap, fired)
            after = self._bench_minutes(job, (Skill.PIERCING, Skill.POLISHING), parts)
            name = str(job.order.number)
            self.after_min[name] = self.after_min.get(name, Decimal(0)) + after

    def _free_minutes(self) -> dict[tuple[int, str], float]:
        return {
            (number, HANDS): float(self.days.minutes(self.today + timedelta(days=number)))
            * self.hands
            for number in range(HORIZON_DAYS)
        }

    def _release(
        self, job: BeadJob, parts: list[BeadColour], missing: Sequence[Missing], bench: Bench
    ) -> tuple[int, int]:
        painting = self._bench_minutes(job, (Skill.PAINTING,), parts)
        gap = int(painting) + PAINT_DRY_MIN if job.bead.firings == 2 else 0
        if job.step in {JobStep.FIRING, JobStep.SECOND}:
            return self.first_min, gap
        start = self.first_min
        if job.step == JobStep.PAINTING:
            return _do(bench, painting, start) + PAINT_DRY_MIN, gap
        if any(lack.short_mg for lack in missing):
            start += GLASS_COMES_DAYS * DAY_MIN
        skills = (Skill.PREPARING, Skill.MOULDING) if missing else (Skill.MOULDING,)
        return _do(bench, self._bench_minutes(job, skills, parts), start), gap

    def _bench_minutes(
        self, job: BeadJob, skills: Iterable[str], parts: list[BeadColour]
    ) -> Decimal:
        try:
            glass_g = fill_mg(job.bead, parts) * job.to_start / 1000 if parts else Decimal(0)
        except ShapeError:
            glass_g = Decimal(0)
        amount = Amount(beads=job.to_start, moulds=job.moulds, glass_g=glass_g)
        return sum((self.labour.minutes(skill, amount, job.bead) for skill in skills), Decimal(0))

    def _add_job(self, job: BeadJob, release: int, gap: int, fired: "_Fired") -> None:
        name, order = work_name(job), str(job.order.number)
        if job.step in {JobStep.PAINTING, JobStep.SECOND}:
            whole = job.batch.started - job.batch.rejected if job.batch else job.needed
            left = whole - fired.cooled(job, 2)
            self._add(Work(name, job.bead, 2, left, release, order, job, job.batch))
            return
        start = job.batch.started if job.batch else job.to_start
        left = start - fired.cooled(job, 1)
        self._add(Work(name, job.bead, 1, left, release, order, job, job.batch, gap))
        already = fired.good(job, 1) if job.bead.firings == 2 else 0
        if already:
            # The part of a painted batch that came out of its first firing in an earlier load.
            self._add(
                Work(rest_name(name), job.bead, 2, already, release + gap, order, job, job.batch)
            )

    def _add(self, work: Work) -> None:
        if work.beads > 0:
            self.work[work.name] = work

    def _shelf_work(self) -> None:
        """Beads for no open order that wait on the bench or burn, for the shelf (1 query)."""
        rows = (
            Balance.objects.at(PlaceKind.BENCH, PlaceKind.KILN)
            .filter(quantity__gt=0, item__batch__isnull=False)
            .exclude(item__batch__jobs__order__state=Order.State.CONFIRMED)
            .select_related("place", "item__batch__bead__mould", "item__batch__bead__programme")
            .select_related("item__batch__bead__second_programme")
        )
        for row in rows:
            batch = row.item.batch
            if batch is None or (
                row.place.kind == PlaceKind.BENCH and row.place.name not in {MOULDED, TO_PAINT}
            ):
                continue
            first = 2 if row.place.name == TO_PAINT or self._burns_second(batch) else 1
            bead = batch.bead
            if first == 2 and bead.second_programme is None:
                continue
            self.beads[bead.pk] = bead
            name = shelf_name(batch)
            if name in self.work:
                self.work[name].beads += row.quantity
            else:
                self._add(Work(name, bead, first, row.quantity, self.first_min, SHELF, None, batch))

    def _burns_second(self, batch: BeadBatch) -> bool:
        return any(
            tray.batch_id == batch.pk and tray.firing == 2
            for load in self.loads
            for tray in load.trays.all()
        )

    # --- when it is wanted ----------------------------------------------------------------

    def _working_min_after(self) -> dict[str, int]:
        """Working minutes of finishing and stringing, all hands together (1 query)."""
        strands = (
            OrderLine.objects.filter(order__in=[order.pk for order in self.order_of.values()])
            .order_by()
            .values("order__number")
            .annotate(left=Sum(F("strands") - F("strung")))
        )
        for row in strands:
            amount = Amount(strands=row["left"], orders=1)
            minutes = self.labour.minutes(Skill.STRINGING, amount)
            self.after_min[str(row["order__number"])] += minutes
        return {name: -(-int(minutes) // self.hands) for name, minutes in self.after_min.items()}

    def _orders(self, after: dict[str, int]) -> Iterable[PlannedOrder]:
        last = self.windows[-1][1] if self.windows else HORIZON_DAYS * DAY_MIN
        for name, order in self.order_of.items():
            due = order.due_on or order.likely_on
            yield PlannedOrder(name, self._fired_by(due, after.get(name, 0)) if due else last)
        yield PlannedOrder(SHELF, last)

    def _fired_by(self, due: date, minutes: int) -> int:
        """The last minute at which beads may come out, to be finished and strung by a day's end."""
        day = due if self.days.is_open(due) else self.days.last_open_before(due) or due
        closes = [_minute_of(end) for _start, end in self._hours_of(day.weekday())]
        end = (day - self.today).days * DAY_MIN + max(closes, default=DAY_MIN - 1)
        for opens, shuts in reversed([w for w in self.windows if w[0] < end]):
            worked = min(shuts, end) - opens
            if minutes <= worked:
                return min(shuts, end) - minutes
            minutes -= worked
        return end - minutes

    # --- the loads as they stand ----------------------------------------------------------

    def _planned(self) -> tuple[list[PinnedLoad], list[Load]]:
        pinned, standing = [], []
        for row in self.loads:
            load = self._load(row)
            if row.state == KilnLoad.State.FIRING or row.pinned:
                pinned.append(PinnedLoad(load))
            else:
                standing.append(load)
        return pinned, standing

    def _load(self, row: KilnLoad) -> Load:
        items = tuple(item for tray in row.trays.all() for item in self._items(tray))
        started = row.started_at if row.state == KilnLoad.State.FIRING else None
        start = self.clock.minute(started or row.starts_at)
        return Load(row.kiln.name, start, row.hold_c, row.hold_min, items)

    def _items(self, tray: LoadTray) -> Iterable[Item]:
        shares = list(tray.shares.all())
        for share in shares:
            work = self.work.get(work_name(share.job))
            if work is None and tray.batch is not None:
                work = self.work.get(shelf_name(tray.batch))  # of an order cancelled since
            if work is not None and tray.firing >= work.first:
                yield from self._parts(work, tray, share)
        if not shares and tray.batch is not None:
            work = self.work.get(shelf_name(tray.batch))
            if work is not None and tray.firing >= work.first:
                yield Item(work.name, tray.firing - work.first + 1, tray.moulds, tray.beads)

    def _parts(self, work: Work, tray: LoadTray, share: LoadShare) -> Iterable[Item]:
        """A share as the planner counts it: beads fired once in an earlier load come first."""
        beads = share.beads
        rest = self.work.get(rest_name(work.name))
        if rest is not None and tray.firing == rest.first:
            taken = self.taken_of_rest.get(rest.name, 0)
            early = min(beads, rest.beads - taken)
            self.taken_of_rest[rest.name] = taken + early
            beads -= early
            if early:
                yield Item(rest.name, 1, moulds_needed(early, tray.bead.mould.cavities), early)
        if beads:
            moulds = moulds_needed(beads, tray.bead.mould.cavities)
            moulds = share.moulds if beads == share.beads else moulds
            yield Item(work.name, tray.firing - work.first + 1, moulds, beads)

    def _mark(self, jobs: Sequence[BeadJob]) -> str:
        """Changes whenever anything does that a plan was worked out from."""
        facts = (
            [(load.number, load.version, load.state, load.pinned) for load in self.loads],
            [(job.pk, job.step, job.to_start, job.batch_id, job.order.due_on) for job in jobs],
            sorted((str(row.day), row.kiln_id or 0) for row in self.no_firing if row.pk),
            sorted(str(day) for day in self.closed),
            [(row.weekday, str(row.opens), str(row.closes)) for row in self.hours],
            [(kiln.pk, kiln.places, kiln.preheat_min, kiln.cooling_min) for kiln in self.kilns],
            str(self.today),
        )
        return hashlib.sha256(repr(facts).encode()).hexdigest()


class _Fired:
    """What of each job's batch has been through the fire already."""

    def __init__(self, shares: Iterable[LoadShare]) -> None:
        self.beads: dict[tuple[int, int], int] = {}
        self.sound: dict[tuple[int, int], int] = {}
        for share in shares:
            tray = share.tray
            if tray.load.state not in {KilnLoad.State.COOLED, KilnLoad.State.SPOILED}:
                continue
            if tray.batch_id is None or tray.batch_id != share.job.batch_id:
                continue
            pair = share.job_id, tray.firing
            self.beads[pair] = self.beads.get(pair, 0) + share.beads
            good = tray.good if tray.good is not None else tray.beads
            self.sound[pair] = self.sound.get(pair, 0) + good * share.beads // tray.beads

    def cooled(self, job: BeadJob, firing: int) -> int:
        return self.beads.get((job.pk, firing), 0)

    def good(self, job: BeadJob, firing: int) -> int:
        return self.sound.get((job.pk, firing), 0)


def active_loads() -> list[KilnLoad]:
    """Planned and burning loads with kiln, trays and shares, earliest first (3 queries)."""
    trays = LoadTray.objects.select_related("bead__mould", "batch__bead")
    shares = LoadShare.objects.select_related("job__order__customer", "job__bead")
    return list(
        KilnLoad.objects.filter(state__in=[KilnLoad.State.PLANNED, KilnLoad.State.FIRING])
        .select_related("kiln", "keeper")
        .prefetch_related(Prefetch("trays", trays), Prefetch("trays__shares", shares))
        .order_by("starts_at", "pk")
    )


def _shares_of(jobs: Sequence[BeadJob]) -> Iterable[LoadShare]:
    return LoadShare.objects.filter(job__in=[job.pk for job in jobs]).select_related(
        "job", "tray__load"
    )


def _moulds(beads: Iterable[Bead]) -> Iterable[Mould]:
    seen = {bead.mould_id: bead.mould for bead in beads}
    for mould in seen.values():
        yield Mould(mould.name, mould.places, mould.owned, mould.held_min)


def _without_the_impossible(instance: Instance) -> tuple[Instance, list[Refused]]:
    """Work that no kiln can fire is set apart, so that the rest can be planned all the same."""
    refused: list[Refused] = []
    while True:
        try:
            Problem(instance)
        except PlanningError as error:
            if not error.job:
                # No kiln, no hours: nothing can be planned, and what stands can still be shown.
                refused.append(Refused("", str(error)))
                return instance, refused
            refused.append(Refused(str(error.job), str(error)))
            jobs = tuple(job for job in instance.jobs if job.id != error.job)
            names = {job.id for job in jobs}
            pinned = tuple(replace(pin, load=_only(pin.load, names)) for pin in instance.pinned)
            instance = replace(instance, jobs=jobs, pinned=pinned)
        else:
            return instance, refused


def _only_known(load: Load, instance: Instance) -> Load:
    return _only(load, {job.id for job in instance.jobs})


def _only(load: Load, names: set[str]) -> Load:
    items = tuple(item for item in load.items if item.job in names)
    return Load(load.kiln, load.start_min, load.temp_c, load.minutes, items)


def _do(bench: Bench, minutes: Decimal, start: int) -> int:
    """When the hands are done; what the calendar has no room for is done at its very end."""
    try:
        return bench.do(Step(HANDS, float(minutes)), start).done_min
    except PlanningError:
        return HORIZON_DAYS * DAY_MIN


def _minute_of(moment: time) -> int:
    return moment.hour * 60 + moment.minute
