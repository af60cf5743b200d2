"""How good a plan is: five numbers, compared in this order, smaller is better in each."""

from __future__ import annotations

from typing import NamedTuple

from orders.planning.calendar import WorkingHours
from orders.planning.instance import Instance, Plan


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
    hours = WorkingHours(instance.calendar)
    kilns = {kiln.id: kiln for kiln in instance.kilns}
    order_of = {job.id: job.order for job in instance.jobs}
    outs: dict[str, int] = {}
    for load in plan.loads:
        kiln = kilns[load.kiln]
        out = hours.out_at(load.start_min + kiln.preheat_min + load.minutes + kiln.turnaround_min)
        for item in load.items:
            order = order_of[item.job]
            if out > outs.get(order, -1):
                outs[order] = out
    return outs


def measure(instance: Instance, plan: Plan) -> Key:
    """The five numbers of a plan. Does not check that the plan keeps the rules."""
    outs = order_outs(instance, plan)
    late = [
        outs[order.id] - order.due_min
        for order in instance.orders
        if order.id in outs and outs[order.id] > order.due_min
    ]
    kilns = {kiln.id: kiln for kiln in instance.kilns}
    minutes = sum(
        kilns[load.kiln].preheat_min + load.minutes + kilns[load.kiln].turnaround_min
        for load in plan.loads
    )
    return Key(sum(late), len(late), minutes, len(plan.loads), max(outs.values(), default=0))
