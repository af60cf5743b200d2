"""One pass that fills the kilns forward in time: fast, complete, and the start of every search.

Take the kiln that is free soonest; look at what is ready in order of urgency; try loads seeded
by the first few different programmes; keep the best; if it is too empty and nothing in it is
pressing, wait for moulds or work to come free.
"""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from math import exp
from random import Random

from .board import Board
from .calendar import NEVER

RESORT_MIN = 240
"""Urgency is worked out anew after so many minutes of plan time. Our choice."""


@dataclass(frozen=True, slots=True)
class Style:
    """How one greedy pass decides.

    seeds        how many different programmes are tried for one load
    fullness     a load emptier than this share of its places waits, if nothing presses
    patience     minutes of slack kept back when waiting
    horizon_min  0: the fullest load for its minutes is best. Else: the load that brings most
                 orders nearest to done is best, an order counting less the further it is from
                 pressing, by a factor e for each horizon (apparent tardiness cost: A. P. J.
                 Vepsalainen, T. E. Morton (1987), Management Science 33(8), 1035-1047, from
                 memory). Best where orders must be late.
    noise        share by which a load's worth is blurred at random
    """

    seeds: int = 6
    fullness: float = 0.0
    patience: int = 0
    horizon_min: int = 0
    noise: float = 0.0


class GreedyPass:
    """Fills `board` with everything not yet placed on it.

    due_shift_min  per order, added to its due minute when urgency is compared (may be negative)
    """

    def __init__(
        self,
        board: Board,
        style: Style,
        due_shift_min: list[int] | None = None,
        rng: Random | None = None,
    ) -> None:
        self.board = board
        self.problem = problem = board.problem
        self.style = style
        self.rng = rng or Random(0)
        shift = due_shift_min or [0] * len(problem.due)
        self.latest = [
            problem.latest_end(task) + shift[problem.order[task]]
            for task in range(len(problem.job))
        ]
        self.burden = [problem.burden_min(task) for task in range(len(problem.job))]
        self.work = [0.0] * len(problem.due)
        for task, moulds in enumerate(board.left):
            self.work[problem.order[task]] += moulds * self.burden[task]
        self.coming: list[tuple[int, int]] = []
        self.ready: list[tuple[float, int]] = []
        for task, moulds in enumerate(board.left):
            before = problem.before[task]
            if moulds and (before < 0 or not board.left[before]):
                self.coming.append((board.ready_at(task), task))
        heapify(self.coming)
        self.events: list[int] = []
        self.sorted_at = -1
        self.smallest_each = min(problem.mould_places, default=1)
        self.longer_minutes = self._longer_minutes()

    def _longer_minutes(self) -> list[list[int]]:
        """For each box, its own least minutes and up to two longer ones that let others join."""
        problem = self.problem
        lows = sorted(set(problem.lower_min))
        choices = []
        for low, high in ((box[2], box[3]) for box in problem.boxes):
            longer = [m for m in lows if low < m <= high]
            choices.append([low, *longer[:: max(1, len(longer) // 2)][:2]])
        return choices

    def run(self) -> None:
        board, problem = self.board, self.problem
        kilns = range(len(problem.places))
        heap = [(0, k) for k in kilns]
        while heap and board.unplaced:
            now, kiln = heappop(heap)
            self._arrivals(now)
            if not self.ready:
                if not self.coming:
                    break
                heappush(heap, (max(now + 1, self.coming[0][0]), kiln))
                continue
            again = self._fire(kiln, now)
            if again < NEVER:
                heappush(heap, (again, kiln))

    def _arrivals(self, now: int) -> None:
        coming = self.coming
        while coming and coming[0][0] <= now:
            _, task = heappop(coming)
            insort(self.ready, (self._urgency(task, now), task))
        if now - self.sorted_at > RESORT_MIN:
            self.ready = sorted((self._urgency(task, now), task) for _, task in self.ready)
            self.sorted_at = now

    def _urgency(self, task: int, now: int) -> float:
        """Modified due date: an order that is late anyway competes by the work it still needs."""
        latest = self.latest[task]
        soonest = now + self.problem.shortest_min[task]
        if latest >= soonest:
            return latest
        return soonest + self.work[self.problem.order[task]]

    def _fire(self, kiln: int, now: int) -> int:
        """Put up one load in the kiln at `now` or say when to look again."""
        board, problem = self.board, self.problem
        start, minutes, fill, places = self._best(kiln, now)
        if not fill:
            return self._next_event(now) if start <= now else start
        if self.style.fullness and places < self.style.fullness * problem.places[kiln]:
            pressing = min(self.latest[task] for task, _ in fill)
            occupancy = problem.base_min[kiln] + minutes
            again = self._next_event(now)
            if again < NEVER and pressing - occupancy - self.style.patience > again:
                return again
        slot = board.open(kiln, start, minutes)
        for task, moulds in fill:
            board.put(slot, task, moulds)
            self.work[problem.order[task]] -= moulds * self.burden[task]
        heappush(self.events, slot.end)
        for shape in slot.use:
            if problem.hold[shape]:
                heappush(self.events, slot.end + problem.hold[shape])
        self._retire(fill)
        return slot.end

    def _retire(self, fill: list[tuple[int, int]]) -> None:
        board, problem = self.board, self.problem
        done = {task for task, _ in fill if not board.left[task]}
        if done:
            self.ready = [entry for entry in self.ready if entry[1] not in done]
        for task, _ in fill:
            after = problem.after[task]
            if task in done and after >= 0 and board.left[after]:
                heappush(self.coming, (board.ready_at(after), after))

    def _next_event(self, now: int) -> int:
        events = self.events
        while events and events[0] <= now:
            heappop(events)
        soonest = events[0] if events else NEVER
        if self.coming and now < self.coming[0][0] < soonest:
            soonest = self.coming[0][0]
        # With nothing running, only the end of a pinned load's hold can free a mould.
        if soonest == NEVER:
            ends = [
                slot.end + hold
                for slots, hold in zip(self.board.shape_slots, self.problem.hold, strict=True)
                for slot in slots
                if slot.end + hold > now
            ]
            soonest = min(ends, default=NEVER)
        return soonest

    def _best(self, kiln: int, now: int) -> tuple[int, int, list[tuple[int, int]], int]:
        """(start, minutes, fill, places used) of the best load; an empty fill if none."""
        board, problem = self.board, self.problem
        box_of, shape_of, bit = problem.box, problem.shape, problem.bit
        kiln_bits = problem.kiln_bits[kiln]
        tried: set[int] = set()
        hopeless: set[tuple[int, int]] = set()
        starts: dict[int, int] = {}
        free: dict[tuple[int, int, int], int] = {}
        best: tuple[float, int, int, list[tuple[int, int]], int] | None = None
        later = NEVER
        for _, seed in self.ready:
            box = box_of[seed]
            if box in tried or not kiln_bits & bit[box] or (box, shape_of[seed]) in hopeless:
                continue
            if kiln not in problem.task_kilns[seed]:
                continue
            first_minutes = True
            for minutes in self.longer_minutes[box]:
                occupancy = problem.base_min[kiln] + minutes
                start = starts.get(minutes, -1)
                if start < 0:
                    firing = problem.preheat[kiln] + minutes
                    start = starts[minutes] = board.first_gap(kiln, now, firing, occupancy)
                if start > now:
                    later = min(later, start)
                    continue
                key = (shape_of[seed], start, occupancy)
                if key not in free:
                    free[key] = board.moulds_free(key[0], start, start + occupancy)
                if free[key] <= 0:
                    hopeless.add((box, shape_of[seed]))
                    break
                if first_minutes:
                    tried.add(box)
                    first_minutes = False
                fill, places = self._fill(kiln, seed, start, minutes, occupancy, free)
                score = self._worth(fill, places, start, occupancy)
                if best is None or score > best[0] * 1.0001:
                    best = (score, start, minutes, fill, places)
            if len(tried) >= self.style.seeds:
                break
        if best is None:
            return (now if tried or later == NEVER else later), 0, [], 0
        return best[1:]

    def _worth(self, fill: list[tuple[int, int]], places: int, start: int, occupancy: int) -> float:
        horizon = self.style.horizon_min
        if not horizon:
            worth = places / occupancy
        else:
            worth = 0.0
            latest, work, order = self.latest, self.work, self.problem.order
            for task, moulds in fill:
                nearer = moulds * self.burden[task] / max(work[order[task]], 1e-6)
                slack = latest[task] - occupancy - start
                worth += nearer * exp(-slack / horizon) if slack > 0 else nearer
            worth /= occupancy
        if self.style.noise:
            worth *= 1 + self.style.noise * (self.rng.random() - 0.5)
        return worth

    def _fill(
        self,
        kiln: int,
        seed: int,
        start: int,
        minutes: int,
        occupancy: int,
        free: dict[tuple[int, int, int], int],
    ) -> tuple[list[tuple[int, int]], int]:
        board, problem = self.board, self.problem
        box_of, shape_of, each_of = problem.box, problem.shape, problem.each
        bit, meets, left = problem.bit, problem.meets, board.left
        mask = problem.kiln_bits[kiln] & problem.bits_at_minutes(minutes) & meets[box_of[seed]]
        room = total = problem.places[kiln]
        smallest = self.smallest_each
        mould_left: dict[int, int] = {}
        fill = []
        for task in (seed, *(t for _, t in self.ready if t != seed)):
            box = box_of[task]
            if not mask & bit[box]:
                continue
            each = each_of[task]
            if each > room:
                continue
            shape = shape_of[task]
            moulds = mould_left.get(shape)
            if moulds is None:
                key = (shape, start, occupancy)
                if key not in free:
                    free[key] = board.moulds_free(shape, start, start + occupancy)
                moulds = mould_left[shape] = free[key]
            if moulds <= 0:
                continue
            count = min(left[task], room // each, moulds)
            mould_left[shape] = moulds - count
            room -= count * each
            mask &= meets[box]
            fill.append((task, count))
            if room < smallest:
                break
        return fill, total - room


def greedy(
    board: Board,
    style: Style | None = None,
    due_shift_min: list[int] | None = None,
    rng: Random | None = None,
) -> None:
    """Place everything left on the board; what does not fit the calendar stays unplaced."""
    GreedyPass(board, style or Style(), due_shift_min, rng).run()
