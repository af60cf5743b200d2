"""The kiln floor at one moment: what waits, what stands in which load, and when each order is due.

Names are what a keeper reads: a job is called by its order and bead ("214 Green round"), a kiln
and a mould by their own names, so that the planner's sentences need no translation of keys.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from django.utils.translation import gettext as _

from orders.floor.clock import Clock
from orders.floor.facts import FloorFacts
from orders.floor.glass_shelf import Missing
from orders.floor.heat import Heat
from orders.models import WorkOrder
from orders.planning.bench import Bench, BenchUse, Step
from orders.planning.errors import PlanningError
from orders.planning.instance import Calendar, Instance, Job, Load, Plan
from stock.models import Bead, BeadBatch, KilnLoad

SHELF = "shelf"  # beads fired for the shelf, for no order


@dataclass
class Work:
    """One job of the planner and the rows behind it.

    first  the number of the first firing that is still to come: the planner's firing 1 is this
    """

    name: str
    bead: Bead
    first: int
    beads: int
    release_min: int
    order: str
    job: WorkOrder | None = None
    batch_id: int | None = None
    gap_min: int = 0

    def as_job(self, heat: Heat) -> Job:
        found = (heat.firing(self.bead, n) for n in (1, 2) if n >= self.first)
        firings = tuple(firing for firing in found if firing)
        return Job(self.name, self.order, self.beads, self.release_min, self.gap_min, firings)


@dataclass(frozen=True)
class Refused:
    """Work that can never be fired here, and why."""

    name: str
    sentence: str


@dataclass(frozen=True)
class BenchRoom:
    """The bench after everything that must be done before the fire: what is left of its hours.

    free    hand minutes by (day, group of hands)
    hands   the groups that can do each skill
    before  bench time of each order up to its firing, by order number
    after   steps of each order once it is fired, in their order
    between  painting of each order, once its first firing is over
    """

    free: Mapping[tuple[int, str], float]
    hands: Mapping[str, tuple[str, ...]]
    before: Mapping[str, list[BenchUse]]
    between: Mapping[str, Step]
    after: Mapping[str, tuple[Step, ...]]


@dataclass(frozen=True)
class Finish:
    """When an order is finished and strung, and the bench time that takes."""

    day: date
    uses: tuple[BenchUse, ...]


@dataclass
class Floor:
    """Everything about kilns and waiting beads at one moment.

    facts        kilns, hours, hands and loads
    instance     burning and pinned loads are its pinned loads
    standing     the loads planned and not pinned, as they stand
    jobs         beads of open orders up to their last firing, the earliest due first
    missing      prepared glass that is not there, by job
    """

    facts: FloorFacts
    instance: Instance
    standing: Plan
    work: dict[str, Work]
    due: dict[str, date | None]
    bench: BenchRoom
    jobs: list[WorkOrder] = field(default_factory=list)
    missing: dict[int, tuple[Missing, ...]] = field(default_factory=dict)
    refused: list[Refused] = field(default_factory=list)
    mark: str = ""

    @property
    def clock(self) -> Clock:
        return self.facts.clock

    @property
    def now_min(self) -> int:
        return self.facts.now_min

    @property
    def loads(self) -> Sequence[KilnLoad]:
        """Planned and burning loads, trays and shares with them, earliest first."""
        return self.facts.loads

    @property
    def cannot_plan(self) -> str:
        """Why nothing at all can be planned, such as no kiln or no working hours; else ""."""
        return next((each.sentence for each in self.refused if not each.name), "")

    @property
    def whole_plan(self) -> Plan:
        """All loads: burning, pinned, and those that may still be moved."""
        return self.with_pinned(self.standing)

    def with_pinned(self, plan: Plan) -> Plan:
        pinned = tuple(pin.load for pin in self.instance.pinned)
        return Plan(tuple(sorted((*pinned, *plan.loads), key=lambda load: load.start_min)))

    def load_of(self, row: KilnLoad) -> Load:
        """A row of `loads` as the planner sees it."""
        fixed = [r for r in self.loads if r.is_fixed]
        if row in fixed:
            return self.instance.pinned[fixed.index(row)].load
        movable = [r for r in self.loads if not r.is_fixed]
        return self.standing.loads[movable.index(row)]

    @cached_property
    def hours(self) -> Calendar:
        return Calendar(self.facts.windows)

    def finish(self, outs: Mapping[str, int]) -> dict[str, Finish]:
        """When orders are ready whose last beads come out at these minutes, by order number.

        The bench takes them as they come out of the kilns, each step by the hands that can do it.
        """
        bench = Bench(self.hours, self.bench.free, self.bench.hands)
        found = {}
        for name, out_min in sorted(outs.items(), key=lambda pair: (pair[1], pair[0])):
            steps = self.bench.after.get(name, ())
            try:
                done, times = bench.do_all(steps, out_min)
            except PlanningError:  # the calendar ends first; the last day of it is said
                done, times = self.facts.last_min if self.facts.windows else out_min, ()
            uses = tuple(use for each in times for use in each.uses)
            found[name] = Finish(self.clock.day(done), uses)
        return found

    def painting(self, outs: Mapping[str, int]) -> dict[str, list[BenchUse]]:
        """Bench time of painting, for orders whose first firings are over at these minutes."""
        bench = Bench(self.hours, self.bench.free, self.bench.hands)
        found = {}
        for name, out_min in sorted(outs.items(), key=lambda pair: (pair[1], pair[0])):
            step = self.bench.between.get(name)
            if step is None:
                continue
            try:
                found[name] = list(bench.do(step, out_min).uses)
            except PlanningError:
                continue
        return found


def work_name(job: WorkOrder) -> str:
    """What the planner calls a job; `order` and `bead` must come with it."""
    return f"{job.order.number} {job.bead.name}"


def rest_name(name: str) -> str:
    """The part of a painted job that has come out of its first firing before the others."""
    return f"{name} (rest)"


def shelf_name(batch: BeadBatch) -> str:
    return _("%(bead)s, batch %(number)s") % {"bead": batch.bead.name, "number": batch.number}
