"""What lies in each kiln and window of a workshop with kilns kept hot, and what of it is in use."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Hashable

from orders.planning.calendar import NEVER
from orders.planning.mould_use import MouldUse
from orders.planning.rounds.problem import Method, RoundProblem
from orders.planning.rounds.round import Round, Sheet


class Sheets:
    """A list of loads for each kiln and working window; moulds and hands in use by the minute.

    journal    how each list was before it was changed since the last mark
    pins_stay  no new load pushes a pinned one along; a round that grows may push those of its run
    """

    def __init__(self, problem: RoundProblem) -> None:
        self.problem = problem
        windows = len(problem.hours.opens)
        kilns = range(len(problem.places))
        self.lists: list[list[list[Round]]] = [[[] for _ in range(windows)] for _ in kilns]
        self.busy: list[list[int]] = [[] for _ in kilns]
        self.minutes = [[0] * windows for _ in kilns]
        self.waits = [[0] * windows for _ in kilns]
        self.not_before = [[0] * windows for _ in kilns]
        self.in_use = [MouldUse() for _ in problem.owned]
        self.hands_in_use: dict[Hashable, MouldUse] = {s: MouldUse() for s in problem.count}
        self.where: list[dict[Round, int]] = [{} for _ in problem.job]
        self.kept_in: list[list[Round]] = [[] for _ in problem.job]
        self.left = list(problem.need)
        self.unplaced = sum(self.left)
        self.kiln_minutes = 0
        self.loads = 0
        self.order_late = [0] * len(problem.due)
        self.tardiness = 0
        self.late = 0
        self.dirty: dict[int, None] = {}
        self.pins_stay = False
        self.journal: dict[Sheet, tuple] = {}
        self.last_cold = [[0] * windows for _ in kilns]
        self.stale: dict[Sheet, None] = {}

    def _narrow(self, r: Round) -> None:
        """What a load's contents leave of its windows, places and hands."""
        problem = self.problem
        kiln = problem.instance.kilns[r.kiln]
        low_c, high_c, low_min, high_min = kiln.temp_min_c, kiln.temp_max_c, 0, NEVER
        free, slow, parts, window_parts = problem.places[r.kiln], 0, 0, NEVER
        method: Method | None = None
        for task, moulds in [*((t, i.moulds) for t, i in r.kept), *r.items.items()]:
            box = problem.boxes[problem.box[task]]
            low_c, high_c = max(low_c, box[0]), min(high_c, box[1])
            low_min, high_min = max(low_min, box[2]), min(high_min, box[3])
            free -= moulds * problem.each[task]
            slow = max(slow, problem.slow[task])
            if problem.method[task]:
                method = problem.method[task]
                parts += moulds * problem.hand_parts[task]
                window_parts = min(window_parts, problem.window_parts[task])
        if r.pin is not None:
            low_c, high_c, low_min, high_min = self._as_pinned(r, low_c, high_c, low_min, high_min)
        r.low_c, r.high_c, r.low_min, r.high_min = low_c, high_c, low_min, high_min
        r.free, r.slow, r.method, r.parts, r.window_parts = free, slow, method, parts, window_parts

    def _as_pinned(
        self, r: Round, low_c: float, high_c: float, low_min: int, high_min: int
    ) -> tuple[float, float, int, int]:
        """A pinned load burns as planned, whatever its contents would allow, or as it is wished."""
        assert r.pin is not None
        load = r.pin.load
        if r.wish is None:
            return load.temp_c, load.temp_c, load.minutes, max(high_min, load.minutes)
        heat_c = min(max(r.wish[0], low_c), high_c)
        minutes = min(max(r.wish[1], low_min), high_min)
        return heat_c, heat_c, minutes, high_min

    def _seen_busy(self, kiln: int, window: int) -> None:
        at = bisect_left(self.busy[kiln], window)
        there = at < len(self.busy[kiln]) and self.busy[kiln][at] == window
        if self.lists[kiln][window]:
            if not there:
                insort(self.busy[kiln], window)
        elif there:
            del self.busy[kiln][at]

    def _states(self, sheet: Sheet) -> tuple:
        kiln, window = sheet
        return (
            [(r, r.state()) for r in self.lists[kiln][window]],
            self.minutes[kiln][window],
            self.waits[kiln][window],
            self.not_before[kiln][window],
        )

    def _back(self, sheet: Sheet, states: tuple) -> None:
        kiln, window = sheet
        self.stale[sheet] = None
        old, minutes, waits, not_before = states
        now = self.lists[kiln][window]
        before = {id(r): state for r, state in old}
        same_items, same_use = set(), set()
        for r in now:
            state = before.get(id(r))
            if state is not None and state[0] is r.items:
                same_items.add(id(r))
            else:
                self._items_off(r)
            if state is not None and state[-1] is r.used:
                same_use.add(id(r))
            else:
                self._use_off(r)
        self.loads += len(old) - len(now)
        self.kiln_minutes += minutes - self.minutes[kiln][window]
        self.minutes[kiln][window], self.waits[kiln][window] = minutes, waits
        self.not_before[kiln][window] = not_before
        self.lists[kiln][window] = [r for r, _ in old]
        self._seen_busy(kiln, window)
        for r, state in old:
            r.back_to(state)
            if id(r) not in same_items:
                self._items_on(r)
            if id(r) not in same_use:
                self._use_on(r)

    def _items_off(self, r: Round) -> None:
        left, where = self.left, self.where
        for task, moulds in r.items.items():
            del where[task][r]
            left[task] += moulds
            self.unplaced += moulds
        self._times_changed(r)

    def _items_on(self, r: Round) -> None:
        left, where = self.left, self.where
        for task, moulds in r.items.items():
            where[task][r] = moulds
            left[task] -= moulds
            self.unplaced -= moulds
        self._times_changed(r)

    def _times_changed(self, r: Round) -> None:
        order, dirty = self.problem.order, self.dirty
        for task in r.items:
            dirty[order[task]] = None
        for task, _ in r.kept:
            dirty[order[task]] = None

    def _use_off(self, r: Round) -> None:
        for use, start, end, count in r.used:
            use.add(start, end, -count)
        self._times_changed(r)

    def _use_on(self, r: Round) -> None:
        for use, start, end, count in r.used:
            use.add(start, end, count)
        self._times_changed(r)

    def ready_at(self, task: int) -> int:
        """Earliest minute the moulds of a task may go in."""
        problem = self.problem
        ready = problem.release[task]
        before = problem.before[task]
        if before >= 0:
            ready = max(ready, self.end_of(before) + problem.gap[before])
        return ready

    def end_of(self, task: int) -> int:
        """When the last beads of a task are cold; 0 if it is in no load."""
        rounds = [*self.where[task], *self.kept_in[task]]
        return max((self.cold(r, task) for r in rounds), default=0)

    def cold(self, r: Round, task: int) -> int:
        return r.done + self.problem.anneal[task] if self.problem.hot[r.kiln] else r.done

    def start_of(self, task: int) -> int:
        """When the first moulds of a task go in; NEVER if it is in no load."""
        rounds = [*self.where[task], *self.kept_in[task]]
        return min((r.in_min for r in rounds), default=NEVER)

    def _ready(self, r: Round) -> int:
        return max((self.ready_at(task) for task in r.items), default=0)
