"""Putting work back on the board: into room that is there, else into new loads."""

from __future__ import annotations

from bisect import bisect_left
from random import Random

from orders.planning.board import Board
from orders.planning.calendar import NEVER
from orders.planning.moves import Slot

Waiting = tuple[int, int, int]
"""A task, the minute it is ready, and the minute its load must end by."""

Fill = list[tuple[int, int]]
"""Tasks and moulds of each, for one load."""

NewLoad = tuple[float, int, int, int, Fill]
"""What it is worth, kiln, start, minutes, fill."""


class Inserter:
    """Places a pool of tasks on a board. All chance comes from `rng`."""

    def __init__(self, board: Board, rng: Random) -> None:
        self.board = board
        self.problem = board.problem
        self.rng = rng
        self.open_slots: list[Slot] = []
        self.new_slots: list[Slot] = []
        # Tasks whose new loads are fired longer than they need, so that others may join.
        self.longer: dict[int, int] = {}

    def start(self) -> None:
        """Look again which loads have room."""
        self.open_slots = [
            slot
            for slots in self.board.kiln_slots
            for slot in slots
            if slot.free > 0 and not slot.sealed
        ]
        self.new_slots = []

    # -- limits -------------------------------------------------------------------------

    def on_time_by(self, task: int) -> int:
        """Latest end that makes no order later than it is, or than it was due."""
        board, problem = self.board, self.problem
        after = problem.after[task]
        if after >= 0:
            hard = board.must_end_by(task)
            return hard if hard < NEVER else problem.latest_end(task)
        order = problem.order[task]
        last = problem.due[order]
        # Parts that stand elsewhere count, its own too: the order is not out before them.
        for part in problem.order_tasks[order]:
            end = board.end_of(part)
            if end > last:
                last = end
        return last

    # -- room that is there -------------------------------------------------------------

    def into_room(self, task: int, by: int, whole: bool = False) -> bool:
        """Put the task into loads that are up and end by `by`. True if all of it went in.

        whole  put nothing unless all of it fits
        """
        board, problem = self.board, self.problem
        bit = problem.bit[problem.box[task]]
        each = problem.each[task]
        ready = board.ready_at(task)
        left = board.left[task]
        found = []
        for slot in self.open_slots:
            if slot.mask & bit and slot.free >= each and slot.start >= ready and slot.end <= by:
                room = board.room(slot, task)
                if room > 0:
                    found.append((room, slot))
        if not found:
            return False
        if whole and sum(room for room, _ in found) < left:
            return False
        return self._share_out(task, found)

    def _share_out(self, task: int, found: list[tuple[int, Slot]]) -> bool:
        board, rng = self.board, self.rng
        each = self.problem.each[task]
        while board.left[task] and found:
            left = board.left[task]
            fitting = [n for n, (room, _) in enumerate(found) if room >= left]
            if fitting:
                # The tightest load, so that the roomy ones stay for bigger work.
                pick = min(fitting, key=lambda n: found[n][1].free + rng.random() * 4 * each)
            else:
                pick = max(range(len(found)), key=lambda n: found[n][0] + rng.random())
            _, slot = found.pop(pick)
            moulds = min(left, board.room(slot, task))
            if moulds > 0:
                board.put(slot, task, moulds)
        return not board.left[task]

    # -- new loads ----------------------------------------------------------------------

    def into_new_loads(self, tasks: list[int]) -> list[int]:
        """Open loads for the tasks, each filled with as many of them as it takes.

        Returns the tasks that no new load could take on time.
        """
        board = self.board
        waiting = [(t, board.ready_at(t), self.on_time_by(t)) for t in tasks if board.left[t]]
        late = []
        while waiting:
            seed, ready, by = waiting[0]
            best = self._best_new_load(waiting, seed, ready, by)
            if best is None:
                late.append(seed)
                waiting.pop(0)
                continue
            _, kiln, start, minutes, fill = best
            slot = board.open(kiln, start, minutes)
            self.new_slots.append(slot)
            for task, moulds in fill:
                board.put(slot, task, moulds)
            if slot.free > 0:
                self.open_slots.append(slot)
            waiting = [entry for entry in waiting if board.left[entry[0]]]
        return late

    def _minutes_choices(self, waiting: list[Waiting], seed: int) -> list[int]:
        problem = self.problem
        box = problem.boxes[problem.box[seed]]
        meets = problem.meets[problem.box[seed]]
        choices = {box[2]}
        for task, _, _ in waiting:
            b = problem.box[task]
            low = problem.lower_min[b]
            if box[2] < low <= box[3] and meets & problem.bit[b]:
                choices.add(low)
        chosen = sorted(choices)
        if len(chosen) > 3:
            chosen = [chosen[0], *self.rng.sample(chosen[1:], 2)]
        return chosen

    def _best_new_load(
        self, waiting: list[Waiting], seed: int, ready: int, by: int
    ) -> NewLoad | None:
        board, problem, rng = self.board, self.problem, self.rng
        best = None
        shape = problem.shape[seed]
        # Now and then something other than the fullest load is taken, or work is left out.
        bold = rng.random() < 0.1
        blur = 3.0 if bold else 0.2
        for minutes in self._minutes_choices(waiting, seed):
            for kiln in problem.task_kilns[seed]:
                occupancy = problem.base_min[kiln] + minutes
                latest = by - occupancy
                if latest < ready:
                    continue
                for start in self._starts(waiting, kiln, ready, latest, minutes, occupancy):
                    moulds = board.moulds_free(shape, start, start + occupancy)
                    if moulds <= 0:
                        continue
                    among = waiting
                    if bold:
                        among = [w for w in waiting if w[0] == seed or rng.random() < 0.7]
                    fill, places = self._fill(among, seed, kiln, start, minutes, occupancy)
                    score = places / max(1, occupancy) * (1 + blur * rng.random())
                    if best is None or score > best[0]:
                        best = (score, kiln, start, minutes, fill)
        return best

    def _starts(
        self,
        waiting: list[Waiting],
        kiln: int,
        ready: int,
        latest: int,
        minutes: int,
        occupancy: int,
    ) -> list[int]:
        """A few starts from `ready` to `latest`: gaps, others' ready minutes, and a chance."""
        board, rng = self.board, self.rng
        firing = self.problem.preheat[kiln] + minutes
        starts: dict[int, None] = {}
        froms = [ready]
        others = {r for _, r, _ in waiting if ready < r <= latest}
        if others:
            froms.extend(rng.sample(sorted(others), min(2, len(others))))
        froms.append(rng.randint(ready, latest))
        for from_min in froms:
            for n, (start, _) in enumerate(board.gaps(kiln, from_min, firing, occupancy)):
                if start > latest or n > 1:
                    break
                starts[start] = None
        return list(starts)

    def _fill(
        self,
        waiting: list[Waiting],
        seed: int,
        kiln: int,
        start: int,
        minutes: int,
        occupancy: int,
    ) -> tuple[Fill, int]:
        board, problem = self.board, self.problem
        end = start + occupancy
        mask = problem.kiln_bits[kiln] & problem.bits_at_minutes(minutes)
        mask &= problem.meets[problem.box[seed]]
        room = total = problem.places[kiln]
        mould_left: dict[int, int] = {}
        fill = []
        for first in (True, False):
            for task, ready, by in waiting:
                if (task == seed) is not first or ready > start or end > by:
                    continue
                box = problem.box[task]
                each = problem.each[task]
                if each > room or not mask & problem.bit[box]:
                    continue
                shape = problem.shape[task]
                if shape not in mould_left:
                    mould_left[shape] = board.moulds_free(shape, start, end)
                moulds = min(board.left[task], room // each, mould_left[shape])
                if moulds <= 0:
                    continue
                mould_left[shape] -= moulds
                room -= moulds * each
                mask &= problem.meets[box]
                fill.append((task, moulds))
        return fill, total - room

    # -- as early as can be -------------------------------------------------------------

    def earliest(self, task: int, by: int = NEVER, patience: float = 0.0) -> bool:
        """Put the task where it ends soonest, mixing room that is there with new loads.

        by        no load of it may end later
        patience  a new load opens only where this share of what it could hold has moulds
        True if all of it went in.
        """
        board, problem = self.board, self.problem
        bit, each = problem.bit[problem.box[task]], problem.each[task]
        ready = board.ready_at(task)
        there = sorted(
            (
                (slot.end, n, slot)
                for n, slot in enumerate(self.open_slots)
                if slot.mask & bit and slot.free >= each and slot.start >= ready and slot.end <= by
            ),
        )
        at = 0
        while board.left[task]:
            new = self._soonest_new(task, ready, patience)
            while at < len(there) and there[at][0] <= new[0]:
                slot = there[at][2]
                at += 1
                moulds = min(board.left[task], board.room(slot, task))
                if moulds > 0:
                    board.put(slot, task, moulds)
                    break
            else:
                end, kiln, start, minutes, moulds = new
                if end > by or end == NEVER:
                    return False
                slot = board.open(kiln, start, minutes)
                self.new_slots.append(slot)
                board.put(slot, task, min(board.left[task], moulds))
                if slot.free > 0:
                    self.open_slots.append(slot)
        return True

    def _soonest_new(
        self, task: int, ready: int, patience: float
    ) -> tuple[int, int, int, int, int]:
        """(end, kiln, start, minutes, moulds it takes) of the new load that ends soonest."""
        problem, board = self.problem, self.board
        shape = problem.shape[task]
        minutes = self.longer.get(task, problem.lower_min[problem.box[task]])
        best_end, best = NEVER, (NEVER, -1, 0, minutes, 0)
        for kiln in problem.task_kilns[task]:
            occupancy = problem.base_min[kiln] + minutes
            holds = min(board.left[task], problem.places[kiln] // problem.each[task])
            wanted = max(1, min(problem.owned[shape], int(holds * patience)))
            if occupancy > problem.hours.longest_min and not problem.hours.past_closing:
                continue
            start = self._first_start(kiln, shape, wanted, ready, minutes, best_end)
            if start + occupancy < best_end:
                best_end = start + occupancy
                moulds = board.moulds_free(shape, start, best_end)
                best = (best_end, kiln, start, minutes, min(moulds, holds))
        return best

    def _first_start(
        self, kiln: int, shape: int, wanted: int, ready: int, minutes: int, before: int
    ) -> int:
        """First start in a gap of the kiln with `wanted` moulds free; NEVER if not `before`."""
        board, problem = self.board, self.problem
        occupancy = problem.base_min[kiln] + minutes
        firing = problem.preheat[kiln] + minutes
        inside = problem.hours.inside_min(firing, occupancy)
        tied = occupancy + problem.hold[shape]
        earliest_start = problem.hours.earliest_start
        free_from = board.in_use[shape].free_from
        most = problem.owned[shape] - wanted
        froms, untils = board.idle(kiln)
        for gap in range(bisect_left(untils, ready + occupancy), len(untils)):
            until = untils[gap]
            start = max(ready, froms[gap])
            while True:
                start = earliest_start(start, inside, occupancy)
                if start + occupancy >= before:
                    return NEVER
                if start + occupancy > until:
                    break
                moulds_from = free_from(start, tied, most)
                if moulds_from == start:
                    return start
                start = moulds_from
        return NEVER
