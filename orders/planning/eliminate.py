"""Two tidying passes over a finished board: fewer loads, then earlier loads."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from orders.planning.board import Board
from orders.planning.calendar import NEVER
from orders.planning.insert import Inserter
from orders.planning.moves import Slot


def eliminate_loads(board: Board, rng: Random, out_of_time: Callable[[], bool]) -> int:
    """From the emptiest load on, move what is in it into room elsewhere; drop it if it empties.

    No order becomes later than it is or than it was due. Returns the loads dropped.
    """
    inserter = Inserter(board, rng)
    dropped = 0
    movable = [s for s in board.slots() if s.pinned is None]
    for slot in sorted(movable, key=lambda s: -s.free):
        if out_of_time():
            break
        before = board.cost()
        board.mark()
        tasks = sorted(slot.items, key=lambda t: -slot.items[t] * board.problem.each[t])
        for task, moulds in list(slot.items.items()):
            board.take(slot, task, moulds)
        board.drop(slot)
        inserter.start()
        moved = all(inserter.into_room(task, inserter.on_time_by(task)) for task in tasks)
        if moved and board.cost() < before:
            dropped += 1
        else:
            board.undo()
    return dropped


PULLING_ROUNDS = 3


def pull_earlier(board: Board, out_of_time: Callable[[], bool]) -> bool:
    """Move whole loads to earlier starts wherever kiln, hours, moulds and first firings allow.

    No load ends later than it did, so nothing gets worse. Returns whether anything moved.
    """
    anything = False
    for _ in range(PULLING_ROUNDS):
        moved = False
        for slot in [s for s in board.slots() if s.pinned is None]:
            if out_of_time():
                return anything
            moved |= _pull(board, slot)
        anything |= moved
        if not moved:
            break
    return anything


def _pull(board: Board, slot: Slot) -> bool:
    problem = board.problem
    ready = max(board.ready_at(task) for task in slot.items)
    if ready >= slot.start:
        return False
    items = list(slot.items.items())
    uses = list(slot.use.items())
    places = problem.places[slot.kiln] - slot.free
    temp_c = board.temperature(slot)
    board.mark()
    for task, moulds in items:
        board.take(slot, task, moulds)
    board.drop(slot)
    best = None
    for kiln, made in enumerate(problem.instance.kilns):
        occupancy = problem.base_min[kiln] + slot.minutes
        same_cost = occupancy <= slot.end - slot.start
        reaches = made.temp_min_c <= temp_c <= made.temp_max_c
        if not (same_cost and reaches and places <= made.places):
            continue
        start = _earliest(board, kiln, slot.minutes, ready, uses)
        if start + occupancy < (best[0] if best else slot.end):
            best = (start + occupancy, kiln, start)
    if best is None:
        board.undo()
        return False
    moved = board.open(best[1], best[2], slot.minutes)
    for task, moulds in items:
        board.put(moved, task, moulds)
    return True


def _earliest(
    board: Board, kiln: int, minutes: int, ready: int, uses: list[tuple[int, int]]
) -> int:
    """Earliest start in the kiln with all the moulds free; only gaps' own starts are tried."""
    problem = board.problem
    occupancy = problem.base_min[kiln] + minutes
    from_min = ready
    for _ in range(20):
        start = board.first_gap(kiln, from_min, problem.preheat[kiln] + minutes, occupancy)
        if start == NEVER:
            return NEVER
        again = start
        for shape, moulds in uses:
            most = problem.owned[shape] - moulds
            tied = occupancy + problem.hold[shape]
            again = max(again, board.in_use[shape].free_from(start, tied, most))
        if again == NEVER:
            return NEVER
        if again == start:
            return start
        from_min = again
    return NEVER
