"""The moves on a kiln board, each with its opposite in a log, and what it can be asked.

A move is one of four: put a load up, take it down, put moulds of a task into a load, take
them out. Each writes its opposite to the log, so a whole attempt can be undone exactly.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from typing import Any

from orders.planning.calendar import NEVER
from orders.planning.instance import Item, Load
from orders.planning.mould_use import MouldUse
from orders.planning.problem import Problem

Idle = tuple[list[int], list[int]]
"""Where a kiln's idle spans begin, and where they end, in order."""


class Slot:
    """One load on the board. Compared by identity."""

    __slots__ = (
        "blocks",
        "end",
        "free",
        "items",
        "kept",
        "kiln",
        "mask",
        "minutes",
        "pinned",
        "sealed",
        "start",
        "temp_fixed",
        "use",
    )

    def __init__(self, kiln: int, start: int, minutes: int, end: int) -> None:
        self.kiln = kiln
        self.start = start
        self.minutes = minutes
        self.end = end
        self.mask = 0
        self.free = 0
        self.items: dict[int, int] = {}
        self.use: dict[int, int] = {}
        self.pinned: Load | None = None
        self.kept: tuple[tuple[int, Item], ...] = ()
        self.sealed = False
        self.temp_fixed = False
        self.blocks = False


class Moves:
    """Loads by kiln and by mould shape, the four moves on them, and where there is room."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        kilns, shapes = len(problem.places), len(problem.owned)
        self.kiln_starts: list[list[int]] = [[] for _ in range(kilns)]
        self.kiln_slots: list[list[Slot]] = [[] for _ in range(kilns)]
        self.kiln_idle: list[Idle | None] = [None] * kilns
        self.in_use = [MouldUse() for _ in range(shapes)]
        self.where: list[dict[Slot, int]] = [{} for _ in problem.job]
        self.left = list(problem.need)
        self.unplaced = sum(self.left)
        self.log: list[tuple[Any, ...]] = []
        self.kiln_minutes = 0
        self.loads = 0
        self.dirty: dict[int, None] = {}
        self.kept_end = [0] * len(problem.job)
        self.kept_start = [NEVER] * len(problem.job)

    # -- the four moves -----------------------------------------------------------------

    def open(self, kiln: int, start: int, minutes: int) -> Slot:
        """Put up a new empty load."""
        problem = self.problem
        slot = Slot(kiln, start, minutes, start + problem.base_min[kiln] + minutes)
        slot.mask = problem.kiln_bits[kiln] & problem.bits_at_minutes(minutes)
        slot.free = problem.places[kiln]
        self.add(slot)
        return slot

    def _list_in_kiln(self, slot: Slot) -> None:
        starts = self.kiln_starts[slot.kiln]
        at = bisect_left(starts, slot.start)
        starts.insert(at, slot.start)
        self.kiln_slots[slot.kiln].insert(at, slot)
        self._take_idle(slot)

    def add(self, slot: Slot) -> None:
        self._list_in_kiln(slot)
        self.kiln_minutes += slot.end - slot.start
        self.loads += 1
        self.log.append((self._drop, slot))

    def _drop(self, slot: Slot) -> None:
        starts = self.kiln_starts[slot.kiln]
        slots = self.kiln_slots[slot.kiln]
        at = bisect_left(starts, slot.start)
        while slots[at] is not slot:
            at += 1
        del starts[at], slots[at]
        self.kiln_idle[slot.kiln] = None
        self.kiln_minutes -= slot.end - slot.start
        self.loads -= 1

    def drop(self, slot: Slot) -> None:
        """Take an empty load down."""
        self._drop(slot)
        self.log.append((self.add, slot))

    def put(self, slot: Slot, task: int, moulds: int) -> None:
        problem = self.problem
        slot.items[task] = slot.items.get(task, 0) + moulds
        self.where[task][slot] = slot.items[task]
        slot.free -= moulds * problem.each[task]
        slot.mask &= problem.meets[problem.box[task]]
        self._use(slot, problem.shape[task], moulds)
        self.left[task] -= moulds
        self.unplaced -= moulds
        self.dirty[problem.order[task]] = None
        self.log.append((self.take, slot, task, moulds))

    def take(self, slot: Slot, task: int, moulds: int) -> None:
        problem = self.problem
        slot.free += moulds * problem.each[task]
        rest = slot.items[task] - moulds
        if rest:
            slot.items[task] = rest
            self.where[task][slot] = rest
        else:
            del slot.items[task], self.where[task][slot]
            slot.mask = self._mask(slot)
        self._use(slot, problem.shape[task], -moulds)
        self.left[task] += moulds
        self.unplaced += moulds
        self.dirty[problem.order[task]] = None
        self.log.append((self.put, slot, task, moulds))

    def _mask(self, slot: Slot) -> int:
        problem = self.problem
        mask = problem.kiln_bits[slot.kiln] & problem.bits_at_minutes(slot.minutes)
        if slot.pinned is not None and slot.temp_fixed:
            mask &= problem.bits_at_temp(slot.pinned.temp_c)
        else:
            for task, _ in slot.kept:
                mask &= problem.meets[problem.box[task]]
        for task in slot.items:
            mask &= problem.meets[problem.box[task]]
        return mask

    def _use(self, slot: Slot, shape: int, moulds: int) -> None:
        self.in_use[shape].add(slot.start, slot.end + self.problem.hold[shape], moulds)
        use = slot.use.get(shape, 0) + moulds
        if use:
            slot.use[shape] = use
        else:
            del slot.use[shape]

    def move(self, slot: Slot, kiln: int, start: int, minutes: int) -> Slot:
        """The same moulds in another place; the caller has checked that the place is good."""
        items = list(slot.items.items())
        for task, moulds in items:
            self.take(slot, task, moulds)
        self.drop(slot)
        moved = self.open(kiln, start, minutes)
        for task, moulds in items:
            self.put(moved, task, moulds)
        return moved

    def mark(self) -> None:
        """From here on, `undo` brings the board back."""
        self.log.clear()

    def undo(self) -> None:
        log, self.log = self.log, []
        for act, *args in reversed(log):
            act(*args)
        self.log.clear()

    # -- questions ----------------------------------------------------------------------

    def moulds_free(self, shape: int, start: int, end: int) -> int:
        """Moulds of the shape free through [start, end), holds on both sides kept."""
        problem = self.problem
        return problem.owned[shape] - self.in_use[shape].peak(start, end + problem.hold[shape])

    def room(self, slot: Slot, task: int) -> int:
        """Moulds of the task that the load can still take (windows and times apart)."""
        by_place = slot.free // self.problem.each[task]
        if by_place <= 0:
            return 0
        by_mould = self.moulds_free(self.problem.shape[task], slot.start, slot.end)
        return by_place if by_place < by_mould else by_mould if by_mould > 0 else 0

    def end_of(self, task: int) -> int:
        """End of the last load holding the task; 0 if it is in none."""
        end = self.kept_end[task]
        for slot in self.where[task]:
            if slot.end > end:
                end = slot.end
        return end

    def start_of(self, task: int) -> int:
        """Start of the first load holding the task; NEVER if it is in none."""
        start = self.kept_start[task]
        for slot in self.where[task]:
            if slot.start < start:
                start = slot.start
        return start

    def ready_at(self, task: int) -> int:
        """Earliest start the task's release and its first firing, as placed now, allow."""
        problem = self.problem
        ready = problem.release[task]
        before = problem.before[task]
        if before >= 0:
            after_first = self.end_of(before) + problem.gap[before]
            if after_first > ready:
                ready = after_first
        return ready

    def must_end_by(self, task: int) -> int:
        """Latest end that the second firing, as placed now, allows; NEVER if it is free."""
        after = self.problem.after[task]
        if after < 0:
            return NEVER
        start = self.start_of(after)
        return NEVER if start == NEVER else start - self.problem.gap[task]

    def idle(self, kiln: int) -> Idle:
        """Spans in which the kiln is idle and the shortest load of all would fit."""
        idle = self.kiln_idle[kiln]
        if idle is None:
            idle = self.kiln_idle[kiln] = self._idle(kiln)
        return idle

    def _idle(self, kiln: int) -> Idle:
        froms, untils, free_from = [], [], 0
        for slot in self.kiln_slots[kiln]:
            if self._fits_any(kiln, free_from, slot.start):
                froms.append(free_from)
                untils.append(slot.start)
            if slot.end > free_from:
                free_from = slot.end
        return [*froms, free_from], [*untils, NEVER]

    def _fits_any(self, kiln: int, free_from: int, until: int) -> bool:
        """Whether the shortest load of all would fit between two minutes, by the calendar too."""
        problem = self.problem
        shortest = problem.base_min[kiln] + problem.least_minutes
        if until - free_from < shortest:
            return False
        firing = problem.preheat[kiln] + problem.least_minutes
        inside = problem.hours.inside_min(firing, shortest)
        return problem.hours.earliest_start(free_from, inside, shortest) + shortest <= until

    def _take_idle(self, slot: Slot) -> None:
        """What a new load leaves of the idle span it stands in."""
        idle = self.kiln_idle[slot.kiln]
        if idle is None:
            return
        froms, untils = idle
        at = bisect_left(untils, slot.end)
        if slot.start < froms[at] or slot.end == slot.start:
            self.kiln_idle[slot.kiln] = None
            return
        before, after = froms[at], untils[at]
        pieces = []
        if self._fits_any(slot.kiln, before, slot.start):
            pieces.append((before, slot.start))
        if after == NEVER or self._fits_any(slot.kiln, slot.end, after):
            pieces.append((slot.end, after))
        froms[at : at + 1] = [piece[0] for piece in pieces]
        untils[at : at + 1] = [piece[1] for piece in pieces]

    def gaps(
        self, kiln: int, from_min: int, firing_min: int, occupancy_min: int
    ) -> Iterator[tuple[int, int]]:
        """Yield (earliest start, end of the gap) for each gap of the kiln the load fits in."""
        hours = self.problem.hours
        inside = firing_min if hours.past_closing else occupancy_min
        earliest_start = hours.earliest_start
        froms, untils = self.idle(kiln)
        for n in range(bisect_left(untils, from_min + occupancy_min), len(untils)):
            free_from, until = froms[n], untils[n]
            start = earliest_start(
                free_from if free_from > from_min else from_min, inside, occupancy_min
            )
            if start == NEVER:
                return
            if start + occupancy_min <= until:
                yield start, until

    def first_gap(self, kiln: int, from_min: int, firing_min: int, occupancy_min: int) -> int:
        for start, _ in self.gaps(kiln, from_min, firing_min, occupancy_min):
            return start
        return NEVER
