"""A plan of rounds brought into step: minutes of a run agree, heat is as usual."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from orders.planning.instance import Instance, Load, PinnedLoad, Plan
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import RoundProblem


def settled_pairs(
    instance: Instance, plan: Plan, fixed: frozenset[Load]
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
    instance: Instance, usual: Mapping[Load, Sequence[tuple[float, int]]]
) -> dict[Load, Load]:
    """Loads at their beads' usual heat and for their usual time, later ones pushed along, wherever
    that can be laid and makes nobody later.

    usual  °C and minutes of what lies in each load
    """
    pins = tuple(PinnedLoad(load, sealed=False) for load in usual)
    board = RoundBoard(RoundProblem(replace(instance, pinned=(*instance.pinned, *pins))))
    ours = [r for r in board.rounds() if r.pin in pins]
    for r in sorted(ours, key=lambda r: -r.start):
        wanted = usual[r.pin.load] if r.pin else ()
        if r.fixed or not wanted:
            continue
        late = board.cost().tardiness_min
        board.mark()
        heat_c = round(sum(c for c, _ in wanted) / len(wanted))
        if board.wish(r, heat_c, max(m for _, m in wanted)) and board.cost().tardiness_min > late:
            r.wish = None
            board.undo()
    return {r.pin.load: board.as_load(r, r.pin.load.items) for r in ours if r.pin}
