"""The kiln floor at one moment: what waits, what stands in which load, and when each order is due.

Names are what a keeper reads: a job is called by its order and bead ("214 Green round"), a kiln
and a mould by their own names, so that the planner's sentences need no translation of keys.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo

from django.utils.translation import gettext as _

from orders.models import BeadJob
from orders.planning.instance import DAY_MIN, Firing, Instance, Job, Load, Plan
from stock.models import Bead, BeadBatch, KilnLoad
from workshop.models import Programme

SHELF = "shelf"  # beads fired for the shelf, for no order


@dataclass(frozen=True)
class Clock:
    """Minutes of the plan to moments and back, by the clock on the workshop's wall."""

    first_day: date
    zone: tzinfo

    def minute(self, moment: datetime) -> int:
        here = moment.astimezone(self.zone)
        return (here.date() - self.first_day).days * DAY_MIN + here.hour * 60 + here.minute

    def moment(self, minute: int) -> datetime:
        days, rest = divmod(minute, DAY_MIN)
        day = self.first_day + timedelta(days=days)
        return datetime.combine(day, time(rest // 60, rest % 60), self.zone)

    def day(self, minute: int) -> date:
        return self.first_day + timedelta(days=minute // DAY_MIN)


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
    job: BeadJob | None = None
    batch: BeadBatch | None = None
    gap_min: int = 0

    def as_job(self) -> Job:
        programmes = [self.bead.programme, self.bead.second_programme]
        firings = tuple(_firing(self.bead, p) for p in programmes[self.first - 1 :] if p)
        return Job(self.name, self.order, self.beads, self.release_min, self.gap_min, firings)


@dataclass(frozen=True)
class Refused:
    """Work that can never be fired here, and why."""

    name: str
    sentence: str


@dataclass
class Floor:
    """Everything about kilns and waiting beads at one moment.

    instance     burning and pinned loads are its pinned loads
    standing     the loads planned and not pinned, as they stand
    loads        planned and burning loads, trays and shares with them, earliest first
    after_min    working minutes that finishing and stringing take, by order number
    """

    clock: Clock
    now_min: int
    windows: list[tuple[int, int]]
    instance: Instance
    standing: Plan
    loads: list[KilnLoad]
    work: dict[str, Work]
    due: dict[str, date | None]
    after_min: dict[str, int]
    refused: list[Refused] = field(default_factory=list)
    mark: str = ""

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
        fixed = [r for r in self.loads if r.state == KilnLoad.State.FIRING or r.pinned]
        if row in fixed:
            return self.instance.pinned[fixed.index(row)].load
        movable = [r for r in self.loads if r not in fixed]
        return self.standing.loads[movable.index(row)]

    def ready_on(self, order: str, out_min: int) -> date:
        """The day an order is finished and strung when its last beads come out at a minute."""
        left, at = self.after_min.get(order, 0), out_min
        for opens, shuts in self.windows:
            if shuts < out_min:
                continue
            worked = max(0, shuts - max(opens, out_min))
            at = max(opens, out_min) + min(left, worked)
            if left <= worked:
                break
            left -= worked
        return self.clock.day(at)


def work_name(job: BeadJob) -> str:
    """What the planner calls a job; `order` and `bead` must come with it."""
    return f"{job.order.number} {job.bead.name}"


def rest_name(name: str) -> str:
    """The part of a painted job that has come out of its first firing before the others."""
    return f"{name} (rest)"


def shelf_name(batch: BeadBatch) -> str:
    return _("%(bead)s, batch %(number)s") % {"bead": batch.bead.name, "number": batch.number}


def _firing(bead: Bead, programme: Programme) -> Firing:
    return Firing(
        bead.mould.name,
        bead.mould.cavities,
        (programme.from_c, programme.to_c),
        (programme.from_min, programme.to_min),
    )
