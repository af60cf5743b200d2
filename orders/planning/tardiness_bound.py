"""Tardiness no plan can avoid where moulds or kilns are short, by a transport problem.

Every unit of work (a mould of the scarce shape, or a kiln place) is finished in some window, and
an order is at least as late as the average of its units, a unit before the due minute counting
nothing. Sending units to the earliest finishing slots as cheaply as can be is a transport
problem; no plan is cheaper. It keeps each order with its own due minute, which the sorted
matching in `bounds` does not.
"""

from __future__ import annotations

from bisect import bisect_left

from orders.planning.bounds import Supply, least_tardiness, supplies
from orders.planning.milp import Model, at_least
from orders.planning.problem import Problem

GROUPS_A_WINDOW = 3
"""Slots of a window are put together in so many groups, each at its earliest minute."""


def least_tardiness_by_transport(problem: Problem, seconds: float = 20.0) -> int:
    """The largest tardiness bound known [min]. Uses HiGHS; not for web requests."""
    best = least_tardiness(problem)
    supply_list = supplies(problem)
    for supply in supply_list:
        best = max(best, _transport(problem, supply, seconds / len(supply_list)))
    return best


def _grouped(supply: Supply) -> list[tuple[int, int, int]]:
    """(window, earliest minute, units) of each group of slots."""
    groups = []
    for number, window in enumerate(supply.slots):
        size = max(1, -(-len(window) // GROUPS_A_WINDOW))
        for at in range(0, len(window), size):
            part = window[at : at + size]
            groups.append((number, part[0][0], sum(units for _, units in part)))
    return groups


def _transport(problem: Problem, supply: Supply, seconds: float) -> int:
    groups = _grouped(supply)
    total = sum(supply.work.values())
    if total > sum(units for _, _, units in groups):
        return 0
    model = Model()
    into: list[dict[int, float]] = [{} for _ in groups]
    for order, units in supply.work.items():
        release = min(problem.release[t] for t in problem.order_tasks[order])
        first = bisect_left(problem.hours.closes, release)
        terms = {}
        for number, (window, minute, _) in enumerate(groups):
            if window >= first:
                late = max(0, minute - problem.due[order])
                x = model.column(late / units)
                terms[x] = into[number][x] = 1.0
        if not terms:
            return 0
        model.row(terms, lower=units, upper=units)
    for number, (_, _, units) in enumerate(groups):
        model.row(into[number], upper=units)
    answer = model.solve(seconds)
    return at_least(answer.bound)
