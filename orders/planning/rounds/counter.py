"""The counter's question to a workshop with kilns kept hot: where would this firing be out soonest?

A planned load makes way for no new one. Tried in this order: room in planned loads, of which a
pierced round may grow and push the later ones of its run along as long as each keeps its windows;
a new round in a planned run; a new run. What is out earliest is taken.
"""

from __future__ import annotations

from random import Random

from orders.planning.calendar import NEVER
from orders.planning.errors import PlanningError
from orders.planning.instance import Instance
from orders.planning.reservation import Reservation
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.insert import Inserter
from orders.planning.rounds.problem import RoundProblem


class RoundCounter:
    """As `orders.planning.promise.Counter`, for rounds."""

    def __init__(self, instance: Instance) -> None:
        self.problem = RoundProblem(instance)
        self.board = RoundBoard(self.problem)
        self.board.pins_stay = True
        self.inserter = Inserter(self.board, Random(0))
        self.kiln_minutes_before = self.board.kiln_minutes

    def fire(self, task: int, ready_min: int) -> int:
        """Place one firing so that it is out as early as found; returns when its beads are out.

        Raises PlanningError if the calendar ends first.
        """
        board, problem = self.board, self.problem
        problem.release[task] = max(problem.release[task], ready_min)
        best: tuple[int, int, bool] | None = None
        for room_first in (True, False):
            board.mark()
            if self._place(task, room_first):
                found = (problem.hours.out_at(board.end_of(task)), board.kiln_minutes, room_first)
                best = found if best is None else min(best, found)
            board.undo()
        if best is None:
            raise self._no_room(task)
        self._place(task, best[2])
        board.mark()
        return best[0]

    def join(self, task: int, ready_min: int) -> int:
        """Place one firing in rounds that are planned already; returns when its beads are out.

        Raises PlanningError if they have no room for all of it.
        """
        board, problem = self.board, self.problem
        problem.release[task] = max(problem.release[task], ready_min)
        self.inserter.into_room(task, NEVER)
        if board.left[task]:
            raise self._no_room(task)
        return problem.hours.out_at(board.end_of(task))

    def _no_room(self, task: int) -> PlanningError:
        job = self.problem.job[task]
        return PlanningError(
            f"Job {job.id} finds no kiln time with free moulds before the calendar ends; "
            "open later working windows, or add moulds or a kiln.",
            job=job.id,
        )

    def _place(self, task: int, room_first: bool) -> bool:
        inserter, board = self.inserter, self.board
        if room_first:
            for by in self._ends(task):
                inserter.into_room(task, by)
                if not board.left[task]:
                    return True
        if not board.left[task]:
            return True
        return not inserter.into_new([task], soon=True)

    def _ends(self, task: int) -> list[int]:
        """Ends of the first loads with room, soonest first."""
        board, problem = self.board, self.problem
        ready = board.ready_at(task)
        ends = {
            board.cold(r, task)
            for r in board.rounds()
            if r.free >= problem.each[task] and r.in_min >= ready and not r.fixed
        }
        return sorted(ends)[:SOONEST]

    def why_waiting(self, task: int) -> str:
        """ "ready" if its last moulds go in as soon as the work is ready, "moulds" or "kiln"."""
        board, problem = self.board, self.problem
        rounds = list(board.where[task])
        if not rounds:
            return "ready"
        last = max(rounds, key=lambda r: r.in_min)
        ready, minutes = board.ready_at(task), problem.lower_min[problem.box[task]]
        alone = NEVER
        for kiln in problem.task_kilns[task]:
            lead = problem.lead(kiln)
            inside = lead + problem.turn_inside(kiln, minutes)
            occupancy = lead + problem.alone_turn(task, kiln)
            lit = problem.hours.earliest_start(max(0, ready - lead), inside, occupancy)
            alone = min(alone, lit + lead)
        if last.in_min <= alone:
            return "ready"
        shape = problem.shape[task]
        short = board.in_use[shape].peak(alone, alone + minutes) >= problem.owned[shape]
        return "moulds" if short else "kiln"

    def extra_kiln_min(self) -> int:
        """Kiln minutes by which the board has grown since it was built."""
        return self.board.kiln_minutes - self.kiln_minutes_before

    def reservations(self) -> tuple[Reservation, ...]:
        board, problem = self.board, self.problem
        new = {id(r): items for r, items in board.reserved()}
        found = []
        for r in board.rounds():
            items, moved = new.get(id(r), ()), r.pin is not None and r.start != r.pin.load.start_min
            if not items and not moved:
                continue
            load = board.as_load(r, items)
            found.append(
                Reservation(
                    kiln=problem.instance.kilns[r.kiln].id,
                    # A load that was pushed along is known by the minute it was planned for.
                    start_min=r.pin.load.start_min if r.pin else r.start,
                    minutes=load.minutes,
                    temp_c=load.temp_c,
                    new=r.pin is None,
                    items=items,
                    lit=load.lit,
                    hands=load.hands,
                    moved_to=r.start if moved else None,
                )
            )
        return tuple(sorted(found, key=lambda place: (place.start_min, place.kiln)))


SOONEST = 12
"""Loads with room that are tried, soonest out first. Our choice."""
