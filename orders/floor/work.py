"""The beads that wait, as the planner's jobs: when the bench lets each go into a kiln."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cached_property

from django.db.models import F, Sum

from orders.floor.facts import (
    AHEAD_DAYS,
    GLASS_COMES_DAYS,
    PAINT_DRY_MIN,
    FloorFacts,
    paint_gap_min,
)
from orders.floor.floor import (
    SHELF,
    BenchRoom,
    Work,
    rest_name,
    shelf_name,
    work_name,
)
from orders.floor.glass_shelf import GlassShelf, Missing, shares_by_bead
from orders.floor.labour import ZERO, Amount
from orders.floor.loads import Fired
from orders.floor.rows import FloorRows
from orders.models import Order, OrderLine, WorkOrder
from orders.planning.bench import BenchUse, Step
from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN
from stock.masses import fill_mg
from stock.models import Balance, Bead, BeadBatch, BeadColour, LocationKind
from stock.services.places import MOULDED, PAINTED, TO_PAINT
from workshop.models import Skill
from workshop.physics.shapes import ShapeError

JobStep = WorkOrder.Step
TO_MOULD = {JobStep.GLASS, JobStep.MOULDING}
TO_BURN = {JobStep.FIRING, JobStep.SECOND}
FOR_THE_FIRE = {LocationKind.KILN, MOULDED, TO_PAINT, PAINTED}
PAINTED_NEXT = {JobStep.PAINTING, JobStep.SECOND}


class WorkReader:
    """Goes through the jobs, the earliest due first, and gives each its turn at the bench."""

    def __init__(self, rows: FloorRows, facts: FloorFacts) -> None:
        self.rows, self.facts, self.hands = rows, facts, facts.hands
        self.heat, self.labour, self.first_min = facts.heat, facts.labour, facts.first_min
        self.bench = facts.bench()
        self.fired = Fired(rows.fired)
        self.work: dict[str, Work] = {}
        self.beads: dict[int, Bead] = {}
        self.order_of: dict[str, Order] = {}
        self.missing: dict[int, tuple[Missing, ...]] = {}
        self.before: dict[str, list[BenchUse]] = {}
        self.minutes_after: dict[str, dict[str, Decimal]] = {}
        self.glass_g: dict[int, Decimal] = {}

    def read(self) -> None:
        """All jobs of open orders, and the beads for the shelf that wait (6 queries)."""
        colours = shares_by_bead(job.bead_id for job in self.rows.jobs)
        shelf = GlassShelf.of_today()
        for job in self.rows.jobs:
            self._read_job(job, colours.get(job.bead_id, []), shelf)
        self._shelf_work()
        self._stringing()

    def bench_room(self) -> BenchRoom:
        between, after = {}, {}
        for name, minutes in self.minutes_after.items():
            if painting := minutes.get(Skill.PAINTING):
                between[name] = Step(Skill.PAINTING.value, float(painting))
            after[name] = tuple(
                Step(skill.value, float(minutes[skill]))
                for skill in (Skill.PIERCING, Skill.POLISHING, Skill.STRINGING)
                if minutes.get(skill)
            )
        return BenchRoom(self.bench.free, self.hands.able, self.before, between, after)

    def working_min_after(self, order: str) -> int:
        """Working minutes from an order's last firing to its day, all hands together."""
        minutes = self.minutes_after.get(order, {})
        last = sum((m for skill, m in minutes.items() if skill != Skill.PAINTING), ZERO)
        return -(-int(last) // self.hands.all)

    # --- one job ----------------------------------------------------------------------------

    def _read_job(self, job: WorkOrder, parts: list[BeadColour], shelf: GlassShelf) -> None:
        name = str(job.order.number)
        self.beads[job.bead_id] = job.bead
        self.order_of[name] = job.order
        missing: Sequence[Missing] = ()
        if job.step in TO_MOULD:
            missing = shelf.take_for(job, parts)
        self.missing[job.pk] = tuple(missing)
        release, gap = self._release(job, parts, missing)
        self._add_job(job, release, gap)
        sums = self.minutes_after.setdefault(name, {})
        for skill in (Skill.PIERCING, Skill.POLISHING):
            if skill == Skill.PIERCING and self.heat.pierced_at_the_kiln(job.bead):
                continue
            sums[skill] = sums.get(skill, ZERO) + self._minutes(job, skill, parts)
        if job.bead.firings == 2 and job.step != JobStep.SECOND:
            painting = self._minutes(job, Skill.PAINTING, parts)
            if job.step != JobStep.PAINTING:
                sums[Skill.PAINTING] = sums.get(Skill.PAINTING, ZERO) + painting

    def _release(
        self, job: WorkOrder, parts: list[BeadColour], missing: Sequence[Missing]
    ) -> tuple[int, int]:
        """When the job's beads can go into a kiln, and how long its paint then takes."""
        painting = self._minutes(job, Skill.PAINTING, parts) if job.bead.firings == 2 else ZERO
        gap = paint_gap_min(painting) if job.bead.firings == 2 else 0
        if job.step in TO_BURN:
            return self.first_min, gap
        start = self.first_min
        if job.step == JobStep.PAINTING:
            return self._do(job, Skill.PAINTING, painting, start) + PAINT_DRY_MIN, gap
        if any(lack.short_mg for lack in missing):
            start += GLASS_COMES_DAYS * DAY_MIN
        if missing:
            preparing = self._minutes(job, Skill.PREPARING, parts)
            start = self._do(job, Skill.PREPARING, preparing, start)
        return self._do(job, Skill.MOULDING, self._minutes(job, Skill.MOULDING, parts), start), gap

    def _do(self, job: WorkOrder, skill: Skill, minutes: Decimal, start: int) -> int:
        """When the hands are done; what the calendar has no room for is done at its very end."""
        return self._at_the_bench(skill, minutes, start, str(job.order.number))

    def _at_the_bench(self, skill: Skill, minutes: Decimal, start: int, order: str = "") -> int:
        try:
            done = self.bench.do(Step(skill.value, float(minutes)), start)
        except PlanningError:
            return AHEAD_DAYS * DAY_MIN
        if order:
            self.before.setdefault(order, []).extend(done.uses)
        return done.done_min

    def _minutes(self, job: WorkOrder, skill: Skill, parts: list[BeadColour]) -> Decimal:
        if job.bead_id not in self.glass_g:
            try:
                self.glass_g[job.bead_id] = fill_mg(job.bead, parts) / 1000 if parts else ZERO
            except ShapeError:
                self.glass_g[job.bead_id] = ZERO
        glass_g = self.glass_g[job.bead_id] * job.to_start
        amount = Amount(beads=job.to_start, moulds=job.moulds, glass_g=glass_g)
        return self.labour.minutes(skill, amount, job.bead)

    def _add_job(self, job: WorkOrder, release: int, gap: int) -> None:
        name, order = work_name(job), str(job.order.number)
        whole = self.rows.whole.get(job.batch_id or 0)
        if job.step in PAINTED_NEXT:
            sound = whole[0] - whole[1] if whole else job.needed
            left = sound - self.fired.cooled(job, 2)
            self._add(Work(name, job.bead, 2, left, release, order, job, job.batch_id))
            return
        left = (whole[0] if whole else job.to_start) - self.fired.cooled(job, 1)
        self._add(Work(name, job.bead, 1, left, release, order, job, job.batch_id, gap))
        already = self.fired.good(job, 1) if job.bead.firings == 2 else 0
        if already:
            # The part of a painted batch that came out of its first firing in an earlier load.
            rest = rest_name(name)
            self._add(
                Work(rest, job.bead, 2, already, release + gap, order, job, job.batch_id)
            )  # fmt: skip

    def _add(self, work: Work) -> None:
        if work.beads > 0:
            self.work[work.name] = work

    # --- beads for no order, strands --------------------------------------------------------

    def _shelf_work(self) -> None:
        """Beads for no open order that wait on the bench or burn, for the shelf (1 query)."""
        rows = (
            Balance.objects.at(LocationKind.BENCH, LocationKind.KILN)
            .filter(quantity__gt=0, item__batch__isnull=False)
            .exclude(item__batch__jobs__order__state=Order.State.CONFIRMED)
            .select_related("place", "item__batch__bead__mould", "item__batch__bead__programme")
            .select_related("item__batch__bead__second_programme")
        )
        # Those to be fired once more stand behind those still to be fired twice.
        for row in sorted(rows, key=lambda row: row.place.spot in {TO_PAINT, PAINTED}):
            batch = row.item.batch
            if batch is not None and row.place.spot in FOR_THE_FIRE:
                self._add_shelf(batch, row.quantity, row.place.spot)

    def _add_shelf(self, batch: BeadBatch, beads: int, spot: str) -> None:
        bead, name, release, gap = batch.bead, shelf_name(batch), self.first_min, 0
        second = spot in {TO_PAINT, PAINTED}
        if spot == LocationKind.KILN:
            second = self._burns_second(batch)
        if second and bead.second_programme is None:
            return
        if bead.firings == 2 and spot != PAINTED:
            painting = self.labour.minutes(Skill.PAINTING, Amount(beads=beads), bead)
            gap = paint_gap_min(painting)
            if spot == TO_PAINT:
                release = self._at_the_bench(Skill.PAINTING, painting, release) + PAINT_DRY_MIN
        self.beads[bead.pk] = bead
        known = self.work.get(name)
        if known is not None and known.first != (2 if second else 1):
            name = rest_name(name)
            known = self.work.get(name)
        if known is not None:
            known.beads += beads
            known.release_min = max(known.release_min, release)
            return
        first = 2 if second else 1
        self._add(Work(name, bead, first, beads, release, SHELF, None, batch.pk, gap))

    def _burns_second(self, batch: BeadBatch) -> bool:
        return batch.pk in self._second_firings

    @cached_property
    def _second_firings(self) -> set[int | None]:
        trays = (tray for load in self.facts.loads for tray in load.trays.all())
        return {tray.batch_id for tray in trays if tray.is_second_firing}

    def _stringing(self) -> None:
        """What is left to string of each order (1 query)."""
        orders: Mapping[str, Order] = self.order_of
        rows: Iterable = (
            OrderLine.objects.filter(order__in=[order.pk for order in orders.values()])
            .order_by()
            .values_list("order__number")
            .annotate(left=Sum(F("strands") - F("strung")))
        )
        for number, left in rows:
            minutes = self.labour.minutes(Skill.STRINGING, Amount(strands=left, orders=1))
            self.minutes_after[str(number)][Skill.STRINGING] = minutes
