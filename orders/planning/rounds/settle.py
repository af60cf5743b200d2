"""A plan of rounds brought into step: minutes of a run agree, heat is as usual."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from orders.planning.instance import Instance, Load, PinnedLoad, Plan
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import RoundProblem


def settled_pairs(
    instance: Instance, plan: Plan, fixed: frozenset[Load] = frozenset()
) -> list[tuple[Load, Load]]:
    """Each load of a plan, and how it stands once the minutes of all agree.

    Later ones are pushed along, none goes in earlier than planned. Where that cannot be, the loads
    of that kiln and window stand as they were.

    fixed  loads that keep their minute
    """
    pins = tuple(PinnedLoad(load, load in fixed, temp_fixed=True) for load in plan.loads)
    board = RoundBoard(RoundProblem(replace(instance, pinned=pins)))
    return [(r.pin.load, board.as_load(r, r.pin.load.items)) for r in board.rounds() if r.pin]


def settled(instance: Instance, plan: Plan, fixed: frozenset[Load] = frozenset()) -> Plan:
    """The plan of `settled_pairs`."""
    loads = [after for _before, after in settled_pairs(instance, plan, fixed)]
    return Plan(tuple(sorted(loads, key=lambda load: load.start_min)))


def at_usual_heat(
    instance: Instance, plan: Plan, usual: Mapping[tuple[str, int], tuple[float, int]]
) -> Plan:
    """A plan's loads at their beads' usual heat and for their usual time, later ones pushed along,
    wherever that can be laid and makes nobody later.

    usual  °C and minutes of each job's firings
    """
    pins = tuple(PinnedLoad(load, sealed=False) for load in plan.loads)
    board = RoundBoard(RoundProblem(replace(instance, pinned=(*instance.pinned, *pins))))
    for r in sorted(board.rounds(), key=lambda r: -r.start):
        wanted = [usual[item.job, item.firing] for _, item in r.kept]
        if r.fixed or not wanted:
            continue
        late = board.cost().tardiness_min
        board.mark()
        heat_c = round(sum(c for c, _ in wanted) / len(wanted))
        if board.wish(r, heat_c, max(m for _, m in wanted)) and board.cost().tardiness_min > late:
            r.wish = None
            board.undo()
    return Plan(tuple(board.as_load(r, r.pin.load.items) for r in board.rounds() if r.pin in pins))
