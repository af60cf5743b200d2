"""One pass that fills the kilns forward in time: fast, complete, and the start of every search.

Take the kiln that is free soonest; look at what is ready in order of urgency; try loads seeded
by the first few different programmes; keep the best; if it is too empty and nothing in it is
pressing, wait for moulds or work to come free.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from math import exp, inf
from random import Random

from orders.planning.board import Board
from orders.planning.calendar import NEVER
from orders.planning.problem import Problem

Kind = tuple[int, int]
"""A box and a shape: tasks of one kind can stand in for each other in a load."""

Entry = tuple[float, int]
"""How urgent a task is (smaller first), and the task."""

Best = tuple[int, int, list[tuple[int, int]], int]
"""Start, minutes, tasks and moulds of each, and places used of a load."""


class Free:
    """Moulds free on a board that does not change meanwhile, each looked up once."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.known: dict[tuple[int, int, int], int] = {}

    def moulds(self, shape: int, start: int, occupancy: int) -> int:
        key = (shape, start, occupancy)
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = self.board.moulds_free(shape, start, start + occupancy)
        return found


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


class Ready:
    """What is ready to be fired, by kind (box, shape), each kind in order of urgency."""

    def __init__(self, problem: Problem) -> None:
        self.kind_of = list(zip(problem.box, problem.shape, strict=True))
        self.kinds: dict[Kind, list[Entry]] = {}
        self._heads: list[Entry] | None = None

    def add(self, urgency: float, task: int) -> None:
        self._heads = None
        insort(self.kinds.setdefault(self.kind_of[task], []), (urgency, task))

    def remove(self, task: int) -> None:
        self._heads = None
        kind = self.kind_of[task]
        waiting = [entry for entry in self.kinds[kind] if entry[1] != task]
        if waiting:
            self.kinds[kind] = waiting
        else:
            del self.kinds[kind]

    def sort_again(self, urgency: Callable[[int], float]) -> None:
        self._heads = None
        for kind, waiting in self.kinds.items():
            self.kinds[kind] = sorted((urgency(task), task) for _, task in waiting)

    def heads(self) -> list[Entry]:
        """The most urgent of each kind, the most urgent first."""
        if self._heads is None:
            self._heads = sorted(waiting[0] for waiting in self.kinds.values())
        return self._heads


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
        self.ready = Ready(problem)
        for task, moulds in enumerate(board.left):
            before = problem.before[task]
            if moulds and (before < 0 or not board.left[before]):
                self.coming.append((board.ready_at(task), task))
        heapify(self.coming)
        self.events: list[int] = []
        self.sorted_at = -1
        self.smallest_each = min(problem.mould_places, default=1)
        self.longer_minutes = self._longer_minutes()
        self.different_minutes = sorted(set(problem.lower_min))

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
            if not self.ready.kinds:
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
            self.ready.add(self._urgency(task, now), task)
        if now - self.sorted_at > RESORT_MIN:
            self.ready.sort_again(lambda task: self._urgency(task, now))
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
        for task in done:
            self.ready.remove(task)
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
            soonest = min((use.next_change(now) for use in self.board.in_use), default=NEVER)
        return soonest

    def _best(self, kiln: int, now: int) -> Best:
        """The best load to start now; an empty fill and when to look again if there is none."""
        problem, free = self.problem, Free(self.board)
        least = problem.base_min[kiln] + problem.least_minutes
        shapes = {s for s in range(len(problem.owned)) if free.moulds(s, now, least) > 0}
        shape_of, kilns_of = problem.shape, problem.task_kilns
        able = [
            head
            for head in self.ready.heads()
            if shape_of[head[1]] in shapes and kiln in kilns_of[head[1]]
        ]
        best = self._best_of(kiln, now, able, free)
        if best is not None:
            return best
        later = min((s for s in self._starts(kiln, now) if s > now), default=NEVER)
        return now if later == NEVER else later, 0, [], 0

    def _starts(self, kiln: int, now: int) -> list[int]:
        """When loads of the different least minutes could start in the kiln."""
        base, preheat = self.problem.base_min[kiln], self.problem.preheat[kiln]
        return [
            self.board.first_gap(kiln, now, preheat + minutes, base + minutes)
            for minutes in self.different_minutes
        ]

    def _best_of(self, kiln: int, now: int, heads: list[Entry], free: Free) -> Best | None:
        """The best load seeded by the first few heads, to start now; None if there is none.

        Of tasks alike in windows and shape only the most urgent one needs to be tried.
        """
        board, problem = self.board, self.problem
        tried: set[int] = set()
        starts: dict[int, int] = {}
        best, most = None, 0.0
        for _, seed in heads:
            box = problem.box[seed]
            if box in tried:
                continue
            for minutes in self.longer_minutes[box]:
                occupancy = problem.base_min[kiln] + minutes
                start = starts.get(minutes, -1)
                if start < 0:
                    firing = problem.preheat[kiln] + minutes
                    start = starts[minutes] = board.first_gap(kiln, now, firing, occupancy)
                if start > now:
                    continue
                if free.moulds(problem.shape[seed], start, occupancy) <= 0:
                    break
                tried.add(box)
                fill, places = self._fill(kiln, seed, start, minutes, heads, free)
                worth = self._worth(fill, places, start, occupancy)
                if best is None or worth > most * 1.0001:
                    best, most = (start, minutes, fill, places), worth
            if len(tried) >= self.style.seeds:
                break
        return best

    def _worth(self, fill: list[tuple[int, int]], places: int, start: int, occupancy: int) -> float:
        horizon = self.style.horizon_min
        if not horizon:
            worth = places / max(1, occupancy)
        else:
            worth = 0.0
            latest, work, order = self.latest, self.work, self.problem.order
            for task, moulds in fill:
                nearer = moulds * self.burden[task] / max(work[order[task]], 1e-6)
                slack = latest[task] - occupancy - start
                worth += nearer * exp(-slack / horizon) if slack > 0 else nearer
            worth /= max(1, occupancy)
        if self.style.noise:
            worth *= 1 + self.style.noise * (self.rng.random() - 0.5)
        return worth

    def _fill(
        self,
        kiln: int,
        seed: int,
        start: int,
        minutes: int,
        heads: list[Entry],
        free: Free,
    ) -> tuple[list[tuple[int, int]], int]:
        """The seed, then whatever is most urgent and still meets all in the load and finds room."""
        board, problem = self.board, self.problem
        box_of, shape_of, each_of = problem.box, problem.shape, problem.each
        bit, meets, left = problem.bit, problem.meets, board.left
        kinds, kind_of = self.ready.kinds, self.ready.kind_of
        mask = problem.kiln_bits[kiln] & problem.bits_at_minutes(minutes) & meets[box_of[seed]]
        room = total = problem.places[kiln]
        occupancy = problem.base_min[kiln] + minutes
        mould_left: dict[int, int] = {}
        fill: list[tuple[int, int]] = []
        # Heads wait in a sorted list, what follows a taken head in a small heap beside it.
        followers: list[tuple[float, int, int]] = [(-inf, seed, 0)]
        n, last = 0, len(heads)
        while room >= self.smallest_each:
            if followers and (n == last or followers[0] < heads[n]):
                _, task, at = heappop(followers)
            elif n < last:
                task, at, n = heads[n][1], 0, n + 1
                if task == seed:
                    continue
            else:
                break
            # Room, moulds and windows only shrink, so a kind left out now is out for good.
            if not mask & bit[box_of[task]]:
                continue
            each, shape = each_of[task], shape_of[task]
            moulds = mould_left.get(shape)
            if moulds is None:
                moulds = mould_left[shape] = free.moulds(shape, start, occupancy)
            if each > room or moulds <= 0:
                continue
            count = min(left[task], room // each, moulds)
            mould_left[shape] = moulds - count
            room -= count * each
            mask &= meets[box_of[task]]
            fill.append((task, count))
            waiting = kinds[kind_of[task]]
            if at + 1 < len(waiting):
                heappush(followers, (*waiting[at + 1], at + 1))
        return fill, total - room


def greedy(
    board: Board,
    style: Style | None = None,
    due_shift_min: list[int] | None = None,
    rng: Random | None = None,
) -> None:
    """Place everything left on the board; what does not fit the calendar stays unplaced."""
    GreedyPass(board, style or Style(), due_shift_min, rng).run()
