"""What a plan of the kilns does to the orders: five numbers, and each order's day."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date

from orders.floor.floor import SHELF, Floor
from orders.planning.faults import faults
from orders.planning.instance import Plan
from orders.planning.measure import Key, measure, order_outs


@dataclass(frozen=True)
class Figures:
    """A plan in five numbers, and how many orders have beads that stand in no load.

    late_orders  all that miss their day, those among them that missed it before this plan too
    """

    tardiness_min: int
    late_orders: int
    kiln_minutes: int
    loads: int
    unplaced: int = 0

    def told(self) -> dict[str, int]:
        """Ready for a JSON column."""
        return asdict(self)


@dataclass(frozen=True)
class Late:
    """An order that misses its day by a plan.

    ready_on  None where some of its beads stand in no load, and its day is over
    was_late  it missed its day before the plan too
    """

    order: str
    due_on: date
    ready_on: date | None
    was_late: bool


@dataclass(frozen=True)
class Shift:
    """An order whose day another plan moves; None where its beads stand in no load."""

    order: str
    due_on: date | None
    before_on: date | None
    after_on: date | None

    @property
    def is_later(self) -> bool:
        if self.after_on is None:
            return self.before_on is not None
        return self.before_on is not None and self.after_on > self.before_on

    @property
    def becomes_late(self) -> bool:
        """Late by the other plan and not by the one that stood."""
        return self.late_after and not self.late_before

    @property
    def late_before(self) -> bool:
        return _is_late(self.before_on, self.due_on)

    @property
    def late_after(self) -> bool:
        return _is_late(self.after_on, self.due_on)


def _is_late(day: date | None, due: date | None) -> bool:
    return due is not None and day is not None and day > due


def figures(floor: Floor, plan: Plan, late: Sequence[Late] | None = None) -> Figures:
    """The numbers of a whole plan (burning and pinned loads in it).

    late  its late orders, where they are worked out already
    """
    if floor.cannot_plan:
        return Figures(0, 0, 0, len(plan.loads))
    key: Key = measure(floor.instance, plan)
    return Figures(
        key.tardiness_min, len(late_orders(floor, plan) if late is None else late),
        key.kiln_minutes, len(plan.loads), len(unplaced_orders(floor, plan)),
    )  # fmt: skip


def unplaced_orders(floor: Floor, plan: Plan) -> list[str]:
    """Orders of which some beads stand in no load, in the order of their jobs."""
    left = _beads_left(floor, plan)
    orders = {job.id: job.order for job in floor.instance.jobs}
    found = {orders[job] for (job, _n), beads in left.items() if beads > 0}
    return sorted(found - {SHELF}, key=lambda name: (len(name), name))


def _beads_left(floor: Floor, plan: Plan) -> dict[tuple[str, int], int]:
    """Beads of each job and firing that stand in no load; below 0 where too many do."""
    left = {
        (job.id, number): job.beads
        for job in floor.instance.jobs
        for number in range(1, len(job.firings) + 1)
    }
    for load in plan.loads:
        for item in load.items:
            if (item.job, item.firing) in left:
                left[item.job, item.firing] -= item.beads
    return left


def standing_holds(floor: Floor) -> bool:
    """Whether the loads that stand still do: all that waits in them, none breaking a rule."""
    if floor.cannot_plan or not floor.standing.loads:
        return False
    whole = floor.whole_plan
    if any(_beads_left(floor, whole).values()):
        return False
    jobs = {job.id for job in floor.instance.jobs}
    return all(
        load.start_min >= floor.now_min
        and all(item.job in jobs for item in load.items)
        and not faults(floor.instance, whole, load)
        for load in floor.standing.loads
    )


def shifts(floor: Floor, before: Plan, after: Plan) -> list[Shift]:
    """Orders whose day of collection changes between two whole plans."""
    return moved_days(floor, ready_by(floor, before), after)


def moved_days(floor: Floor, before: dict[str, date], after: Plan) -> list[Shift]:
    """Orders whose day of collection by a whole plan is another than it was before."""
    days = ready_by(floor, after)
    names = [order.id for order in floor.instance.orders if order.id != SHELF]
    return [
        Shift(name, floor.due.get(name), before.get(name), days.get(name))
        for name in names
        if before.get(name) != days.get(name)
    ]


def late_orders(floor: Floor, plan: Plan, before: dict[str, date] | None = None) -> list[Late]:
    """Every order that misses its day by a whole plan, whether or not the plan is to blame.

    before  the days the orders had; left out, all of them count as late already
    """
    today = floor.clock.first_day
    days = ready_by(floor, plan)
    found = []
    for order in floor.instance.orders:
        due = floor.due.get(order.id)
        if order.id == SHELF or due is None or not _misses(days.get(order.id), due, today):
            continue
        was = before is None or _misses(before.get(order.id), due, today)
        found.append(Late(order.id, due, days.get(order.id), was))
    return sorted(found, key=lambda late: (late.was_late, late.due_on, len(late.order), late.order))


def _misses(ready_on: date | None, due: date, today: date) -> bool:
    return due < (ready_on or today)


def ready_by(floor: Floor, plan: Plan) -> dict[str, date]:
    """The day each order wholly in loads of a plan can be collected."""
    if floor.cannot_plan:
        return {}
    return {name: each.day for name, each in floor.finish(last_outs(floor, plan)).items()}


def last_outs(floor: Floor, plan: Plan) -> dict[str, int]:
    """The minute at which the last beads of each order wholly in loads are out."""
    missing = set(unplaced_orders(floor, plan))
    return {
        name: out
        for name, out in order_outs(floor.instance, plan).items()
        if name not in missing and name != SHELF
    }


def ready_days(floor: Floor) -> dict[str, date]:
    """By the loads as they stand, when each order can be collected; orders not wholly in loads
    are left out."""
    return ready_by(floor, floor.whole_plan)
