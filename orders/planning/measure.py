"""How good a plan is: five numbers, compared in this order, smaller is better in each."""

from __future__ import annotations

from typing import NamedTuple

from orders.planning.calendar import WorkingHours
from orders.planning.instance import Instance, Plan
from orders.planning.times import LoadTimes, cold_min, firings_in, kiln_minutes, plan_times


class Key(NamedTuple):
    """tardiness_min  sum over orders of the minutes an order is out after its due minute
    late_orders    orders with any tardiness
    kiln_minutes   sum of the occupancies of all loads
    loads          number of loads
    finish_min     the minute the last beads are out
    """

    tardiness_min: int
    late_orders: int
    kiln_minutes: int
    loads: int
    finish_min: int


def order_outs(instance: Instance, plan: Plan) -> dict[str, int]:
    """The minute each order with any load is out: when the last of its jobs is out."""
    return _outs(instance, plan_times(instance, plan))


def _outs(instance: Instance, times: list[LoadTimes]) -> dict[str, int]:
    hours = WorkingHours(instance.calendar)
    jobs = {job.id: job for job in instance.jobs}
    outs: dict[str, int] = {}
    for one in times:
        for item, firing in firings_in(jobs, one.load):
            order = jobs[item.job].order
            out = hours.out_at(cold_min(one, firing))
            if out > outs.get(order, -1):
                outs[order] = out
    return outs


def measure(instance: Instance, plan: Plan) -> Key:
    """The five numbers of a plan. Does not check that the plan keeps the rules."""
    times = plan_times(instance, plan)
    outs = _outs(instance, times)
    late = [
        outs[order.id] - order.due_min
        for order in instance.orders
        if order.id in outs and outs[order.id] > order.due_min
    ]
    return Key(
        sum(late), len(late), kiln_minutes(times), len(plan.loads), max(outs.values(), default=0)
    )
