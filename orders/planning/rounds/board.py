"""The board of a workshop with kilns kept hot: a list of loads for each kiln and working window.

A load has no minute of its own: whenever its list changes, the list is *laid* anew, each load as
early as kiln, hours, moulds and hands allow, turns of heat and piercing counted. A list that cannot
be laid is put back as it was.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Hashable, Mapping
from dataclasses import replace

from orders.planning.board import Cost
from orders.planning.calendar import NEVER
from orders.planning.instance import Instance, Item, Load, PinnedLoad, Plan
from orders.planning.measure import Key
from orders.planning.mould_use import MouldUse
from orders.planning.rounds.problem import Method, RoundProblem

Sheet = tuple[int, int]
"""A kiln and a working window."""

MOST_TRIES = 40
"""Times a load is put off before its list counts as impossible. Our choice."""


class Round:
    """One closed load or one round. Compared by identity."""

    __slots__ = (
        "done",
        "earliest",
        "end",
        "fixed",
        "free",
        "hands",
        "high_c",
        "high_min",
        "in_min",
        "items",
        "kept",
        "kiln",
        "lit",
        "low_c",
        "low_min",
        "method",
        "parts",
        "pin",
        "slow",
        "start",
        "temp_c",
        "turn",
        "used",
        "window",
        "window_parts",
        "wish",
    )

    def __init__(self, kiln: int, window: int) -> None:
        self.kiln = kiln
        self.window = window
        self.items: dict[int, int] = {}
        self.kept: tuple[tuple[int, Item], ...] = ()
        self.pin: PinnedLoad | None = None
        # A sealed pin keeps its minute; another may be pushed along, but never goes in earlier.
        self.fixed = False
        self.earliest = 0
        self.wish: tuple[float, int] | None = None
        self.used: list[tuple[MouldUse, int, int, int]] = []
        self.start = self.in_min = self.end = self.done = self.turn = self.hands = 0
        self.lit = False
        self.temp_c = 0.0

    def state(self) -> tuple:
        return (
            self.items, self.low_c, self.high_c, self.low_min, self.high_min, self.slow,
            self.free, self.method, self.parts, self.window_parts, self.start, self.in_min,
            self.end, self.done, self.turn, self.hands, self.lit, self.temp_c, self.used,
        )  # fmt: skip

    def back_to(self, state: tuple) -> None:
        (
            self.items, self.low_c, self.high_c, self.low_min, self.high_min, self.slow,
            self.free, self.method, self.parts, self.window_parts, self.start, self.in_min,
            self.end, self.done, self.turn, self.hands, self.lit, self.temp_c, self.used,
        ) = state  # fmt: skip


class RoundBoard:
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
        self.journal: dict[Sheet, tuple] = {}
        self.last_cold = [[0] * windows for _ in kilns]
        self.stale: dict[Sheet, None] = {}
        self._pin_loads()

    # -- what stands --------------------------------------------------------------------

    def _pin_loads(self) -> None:
        problem = self.problem
        sheets: dict[Sheet, None] = {}
        for pin in problem.instance.pinned:
            load = pin.load
            kiln = problem.kiln_index[load.kiln]
            window = min(
                bisect_left(problem.hours.closes, load.start_min + 1), len(problem.hours.closes) - 1
            )
            found = self._new(kiln, window)
            found.pin, found.fixed = pin, pin.sealed
            hot = problem.hot[kiln]
            found.earliest = load.start_min + (hot.warm_up_min if hot and load.lit else 0)
            found.kept = tuple(
                (problem.task_index[item.job, item.firing], item) for item in load.items
            )
            for task, _ in found.kept:
                self.kept_in[task].append(found)
                self.dirty[problem.order[task]] = None
            self._narrow(found)
            rounds = self.lists[kiln][window]
            rounds.append(found)
            rounds.sort(key=lambda r: r.pin.load.start_min if r.pin else 0)
            self._seen_busy(kiln, window)
            self.loads += 1
            sheets[kiln, window] = None
        for kiln, window in sorted(sheets):
            if not self.lay(kiln, window):
                # It breaks a rule as the keeper set it: it stands as it was set.
                for r in self.lists[kiln][window]:
                    r.fixed = True
                self.lay(kiln, window)
        self.mark()

    def _new(self, kiln: int, window: int) -> Round:
        found = Round(kiln, window)
        self._narrow(found)
        return found

    def _seen_busy(self, kiln: int, window: int) -> None:
        at = bisect_left(self.busy[kiln], window)
        there = at < len(self.busy[kiln]) and self.busy[kiln][at] == window
        if self.lists[kiln][window]:
            if not there:
                insort(self.busy[kiln], window)
        elif there:
            del self.busy[kiln][at]

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

    def wish(self, r: Round, heat_c: float, minutes: int) -> bool:
        """Fire a pinned load as near a heat and a time as its contents allow, if it can be laid."""
        sheet = r.kiln, r.window
        for wished in ((heat_c, minutes), (heat_c, 0)):
            states = self._states(sheet)
            r.wish = wished
            self._narrow(r)
            if r.low_c <= r.high_c and self.lay(*sheet):
                self.journal.setdefault(sheet, states)
                return True
            r.wish = None
            self._back(sheet, states)
        return False

    # -- changes ------------------------------------------------------------------------

    def mark(self) -> None:
        """From here on, `undo` brings the board back."""
        self.journal.clear()

    def undo(self) -> None:
        for sheet, states in self.journal.items():
            self._back(sheet, states)
        self.journal.clear()

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

    def _changed(
        self, sheet: Sheet, rounds: list[Round], r: Round | None, items: dict[int, int], at: int
    ) -> bool:
        """A list with one load changed, from `at` on laid anew; put back if it cannot be laid."""
        kiln, window = sheet
        states = self._states(sheet)
        there = self.lists[kiln][window]
        if r is not None:
            if r in there:
                self._items_off(r)
            r.items = items
            if r in rounds:
                self._narrow(r)
                self._items_on(r)
            else:
                self._use_off(r)
        self.loads += len(rounds) - len(there)
        self.lists[kiln][window] = rounds
        if len(rounds) != len(there):
            self._seen_busy(kiln, window)
        if self.lay(kiln, window, at):
            self.journal.setdefault(sheet, states)
            return True
        self._back(sheet, states)
        return False

    def put(self, r: Round, task: int, moulds: int) -> bool:
        """Put moulds of a task into a load that stands."""
        rounds = self.lists[r.kiln][r.window]
        items = dict(r.items)
        items[task] = items.get(task, 0) + moulds
        return self._changed((r.kiln, r.window), rounds, r, items, rounds.index(r))

    def take(self, r: Round, wanted: dict[int, int]) -> bool:
        """Take moulds of some tasks out of a load; an empty load goes."""
        rounds = list(self.lists[r.kiln][r.window])
        items = {task: moulds - wanted.get(task, 0) for task, moulds in r.items.items()}
        items = {task: moulds for task, moulds in items.items() if moulds}
        at = rounds.index(r)
        if not items and not r.pin:
            del rounds[at]
        return self._changed((r.kiln, r.window), rounds, r, items, at)

    def open(self, sheet: Sheet, at: int, fill: list[tuple[int, int]]) -> Round | None:
        """A new load at a place of a list; None if there is no room for it."""
        new = Round(*sheet)
        rounds = list(self.lists[sheet[0]][sheet[1]])
        rounds.insert(at, new)
        return new if self._changed(sheet, rounds, new, dict(fill), at) else None

    def hold_back(self, sheet: Sheet, until: int) -> bool:
        """Light the first run of a list no earlier than a minute."""
        kiln, window = sheet
        states = self._states(sheet)
        self.not_before[kiln][window] = until
        if self.lay(kiln, window):
            self.journal.setdefault(sheet, states)
            return True
        self._back(sheet, states)
        return False

    # -- laying -------------------------------------------------------------------------

    def lay(self, kiln: int, window: int, at: int = 0) -> bool:
        """Give the loads of a list from `at` on their minutes; False if there is no way."""
        self.stale[kiln, window] = None
        busy = self.busy[kiln]
        place = bisect_left(busy, window)
        free_from = self.lists[kiln][busy[place - 1]][-1].end if place else 0
        later = place + (place < len(busy) and busy[place] == window)
        until = self.lists[kiln][busy[later]][0].start if later < len(busy) else NEVER
        lay = self._lay_rounds if self.problem.hot[kiln] else self._lay_closed
        minutes = lay(kiln, window, free_from, until, at)
        if minutes is None:
            return False
        self.kiln_minutes += minutes - self.minutes[kiln][window]
        self.minutes[kiln][window] = minutes
        return True

    def _lift(self, rounds: list[Round]) -> None:
        for r in rounds:
            self._use_off(r)
            r.used = []

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

    def _before_second(self, r: Round) -> bool:
        """Whether no second firing stands before the first is over."""
        problem = self.problem
        for task in r.items:
            after = problem.after[task]
            if after >= 0:
                goes_in = self.start_of(after)
                if goes_in < NEVER and self.cold(r, task) + problem.gap[task] > goes_in:
                    return False
        return True

    def _mould_list(self, r: Round) -> list[tuple[int, int]]:
        needs: dict[int, int] = {}
        shape = self.problem.shape
        for task, moulds in r.items.items():
            needs[shape[task]] = needs.get(shape[task], 0) + moulds
        for task, item in r.kept:
            needs[shape[task]] = needs.get(shape[task], 0) + item.moulds
        return list(needs.items())

    def _past_shut(self, kiln: int, start: int, end: int) -> int:
        """The end of a span in which the kiln cannot be used and that [start, end) meets, or 0."""
        for shut, opened in self.problem.instance.kilns[kiln].closed:
            if start < opened and shut < end:
                return opened
        return 0

    def _lay_closed(
        self, kiln: int, window: int, free_from: int, until: int, at: int
    ) -> int | None:
        problem = self.problem
        hours, base, preheat = problem.hours, problem.base_min[kiln], problem.preheat[kiln]
        now, close = max(free_from, hours.opens[window]), hours.closes[window]
        rounds = self.lists[kiln][window]
        total = sum(r.end - r.start for r in rounds[:at])
        now = max((now, *(r.end for r in rounds[:at])))
        self._lift(rounds[at:])
        for r in rounds[at:]:
            occupancy = base + r.low_min + r.slow
            inside = preheat + r.low_min if hours.past_closing else occupancy
            moulds = self._mould_list(r)
            start = max(now, self._ready(r), r.earliest)
            if r.pin is not None and r.fixed:
                start = r.pin.load.start_min
            else:
                found = self._free_from(kiln, start, occupancy, moulds)
                if found is None or found + inside > close or found + occupancy > hours.last:
                    return None
                start = found
            end = start + occupancy
            r.start = r.in_min = start
            r.end = r.done = end
            r.temp_c = self._cool(r)
            if not r.fixed and (start < now or end > until):
                return None
            self._use_moulds(r, moulds, problem.hold)
            if not self._before_second(r):
                return None
            total += occupancy
            now = max(now, end)
        return total

    def _cool(self, r: Round) -> float:
        """The lowest temperature that suits; of a pinned load its own."""
        return r.low_c

    def _free_from(
        self, kiln: int, start: int, occupancy: int, moulds: list[tuple[int, int]]
    ) -> int | None:
        problem = self.problem
        for _ in range(MOST_TRIES):
            again = self._past_shut(kiln, start, start + occupancy) or start
            for shape, count in moulds:
                tied = max(1, occupancy + problem.hold[shape])
                most = problem.owned[shape] - count
                again = max(again, self.in_use[shape].free_from(again, tied, most))
            if again == start:
                return start
            if again >= NEVER:
                return None
            start = again
        return None

    def _use_moulds(self, r: Round, moulds: list[tuple[int, int]], holds: list[int]) -> None:
        for shape, count in moulds:
            until = max(r.done + holds[shape], r.in_min + 1)
            self.in_use[shape].add(r.in_min, until, count)
            r.used.append((self.in_use[shape], r.in_min, until, count))

    def _lay_rounds(
        self, kiln: int, window: int, free_from: int, until: int, at: int
    ) -> int | None:
        problem = self.problem
        hot = problem.hot[kiln]
        assert hot is not None
        rounds = self.lists[kiln][window]
        temps = string_through([(r.low_c, r.high_c) for r in rounds])
        now = max(free_from, problem.hours.opens[window], self.not_before[kiln][window])
        close = problem.hours.closes[window]
        total = waits = 0
        before: Round | None = None
        for n in range(at):
            if rounds[n].temp_c != temps[n]:
                at = n
                break
        self._lift(rounds[at:])
        for n, (r, temp_c) in enumerate(zip(rounds, temps, strict=True)):
            if n < at:
                if r.lit or before is None:
                    total += r.end - r.start
                else:
                    total += r.end - before.end
                    waits += r.start - before.end
                now, before = max(now, r.end), r
                continue
            r.temp_c = temp_c
            if not self._lay_round(r, before, now, close):
                return None
            if not r.fixed and (r.start < now or r.end > until):
                return None
            if r.lit or before is None:
                total += r.end - r.start
            else:
                total += r.end - before.end
                waits += r.start - before.end
            if not self._before_second(r):
                return None
            now, before = max(now, r.end), r
        self.waits[kiln][window] = waits
        return total

    def _lay_round(self, r: Round, before: Round | None, now: int, close: int) -> bool:
        problem = self.problem
        hot = problem.hot[r.kiln]
        assert hot is not None
        ready = max(self._ready(r), r.earliest)
        moulds = self._mould_list(r)
        start, pinned = now, r.pin.load if r.pin and r.fixed else None
        if pinned is not None:
            if before is not None and pinned.start_min < before.end and not before.fixed:
                return False
            start = pinned.start_min
        delay = 0
        for _ in range(MOST_TRIES):
            turn = problem.turn_min(r.kiln, before.temp_c, r.temp_c) if before else 0
            goes_in = max(start, ready) + delay
            joins = before is not None and goes_in - before.end <= hot.keep_hot_min
            lit = not joins or turn > hot.warm_up_min
            if pinned is not None:
                lit, goes_in = pinned.lit, pinned.start_min
                # A run under way whose first rounds are no part of the problem is hot already.
                if not lit and before is not None and not before.fixed and not joins:
                    return False
            if lit:
                turn = 0
                opened = start if pinned else max(start, goes_in - hot.warm_up_min)
                goes_in = opened + hot.warm_up_min
            else:
                opened = goes_in
            first = goes_in + hot.change_min + turn + r.low_min
            pierced = self._pierced(r, first)
            if pierced is None:
                return False
            hands, span, later = pierced
            done = first + span
            end = done if r.method is None or r.method[1] else first
            if pinned is None:
                if done > close:
                    return False
                later = max(later, self._later_for_moulds(r, goes_in, done, moulds))
                shut = self._past_shut(r.kiln, opened, end)
                if shut:
                    later = max(later, shut + (hot.warm_up_min if lit else 0) - goes_in)
                    before = None
                if later >= NEVER // 2:
                    return False
                if later:
                    delay = goes_in + later - max(start, ready)
                    continue
            r.start, r.in_min, r.turn, r.lit, r.hands = opened, goes_in, turn, lit, hands
            r.end, r.done = end, done
            self._use_moulds(r, moulds, problem.hot_hold)
            if r.method is not None and span:
                use = self.hands_in_use[r.method[0]]
                use.add(first, done, hands)
                r.used.append((use, first, done, hands))
            return True
        return False

    def _pierced(self, r: Round, first: int) -> tuple[int, int, int] | None:
        """(hands, span, minutes to put off until they are free); None if never in time."""
        if r.method is None:
            return 0, 0, 0
        skill, one_by_one = r.method
        count, parts = self.problem.count[skill], self.problem.parts
        use = self.hands_in_use[skill]
        best = None
        for hands in range(count, 0, -1):
            if one_by_one:
                span = -(-r.parts // (parts * hands))
                in_time = r.low_min + span <= r.high_min
            else:
                span = -(-r.parts // (parts * hands))
                in_time = r.parts <= r.window_parts * hands
            if not in_time and not r.fixed:
                break
            if best is None:
                best = hands, span
            if r.fixed or count - use.peak(first, max(first + 1, first + span)) >= hands:
                return hands, span, 0
        if best is None:
            return None
        hands, span = best
        return hands, span, use.free_from(first, max(1, span), count - hands) - first

    def _later_for_moulds(
        self, r: Round, goes_in: int, done: int, moulds: list[tuple[int, int]]
    ) -> int:
        problem = self.problem
        later = 0
        for shape, count in moulds:
            tied = max(1, done + problem.hot_hold[shape] - goes_in)
            most = problem.owned[shape] - count
            later = max(later, self.in_use[shape].free_from(goes_in, tied, most) - goes_in)
        return later

    # -- questions ----------------------------------------------------------------------

    def moulds_free(self, r: Round, shape: int) -> int:
        """Moulds of a shape that a load could still take, by the minutes it has now."""
        problem = self.problem
        hold = problem.hot_hold if problem.hot[r.kiln] else problem.hold
        end = max(r.done + hold[shape], r.in_min + 1)
        return problem.owned[shape] - self.in_use[shape].peak(r.in_min, end)

    def most_pierced(self, r: Round, task: int) -> int:
        """Moulds of a task that the hands could still pierce in a load."""
        problem = self.problem
        method = problem.method[task]
        box = problem.boxes[problem.box[task]]
        low, high = max(r.low_min, box[2]), min(r.high_min, box[3])
        if method is None:
            return NEVER
        hands, each = problem.count[method[0]], problem.hand_parts[task]
        if method[1]:
            most = hands * (high - low) * problem.parts
        else:
            most = hands * min(r.window_parts, problem.window_parts[task])
        return (most - r.parts) // each if each else NEVER

    def rounds(self) -> list[Round]:
        return [
            r
            for kiln, busy in enumerate(self.busy)
            for window in busy
            for r in self.lists[kiln][window]
        ]

    def _settle(self) -> None:
        problem = self.problem
        for order in self.dirty:
            end = 0
            for task in problem.order_tasks[order]:
                if problem.after[task] < 0:
                    end = max(end, self.end_of(task))
            late = max(0, problem.hours.out_at(end) - problem.due[order]) if end else 0
            before = self.order_late[order]
            self.tardiness += late - before
            self.late += (late > 0) - (before > 0)
            self.order_late[order] = late
        self.dirty.clear()

    def cost(self) -> Cost:
        self._settle()
        for kiln, window in self.stale:
            self.last_cold[kiln][window] = max(
                (
                    self.cold(r, task)
                    for r in self.lists[kiln][window]
                    for task in (*r.items, *(task for task, _ in r.kept))
                ),
                default=0,
            )
        self.stale.clear()
        last = max(map(max, self.last_cold))
        finish = self.problem.hours.out_at(last) if last else 0
        return Cost(self.unplaced, self.tardiness, self.late, self.kiln_minutes, self.loads, finish)

    def key(self) -> Key:
        return Key(*self.cost()[1:])

    # -- out and in ---------------------------------------------------------------------

    def snapshot(self) -> dict[Sheet, tuple]:
        return {
            (kiln, window): self._states((kiln, window))
            for kiln, busy in enumerate(self.busy)
            for window in busy
        }

    def restore(self, snapshot: dict[Sheet, tuple]) -> None:
        empty: tuple = ([], 0, 0, 0)
        for sheet in {(k, w) for k, busy in enumerate(self.busy) for w in busy}:
            self._back(sheet, empty)
        for sheet, states in snapshot.items():
            self._back(sheet, states)
        self.mark()

    def plan(self) -> Plan:
        """The plan on the board, with beads shared out mould by mould, exactly."""
        new = {id(r): items for r, items in self.reserved()}
        return Plan(
            tuple(
                self.as_load(r, (*(item for _, item in r.kept), *new.get(id(r), ())))
                for r in sorted(self.rounds(), key=lambda r: (r.start, r.kiln))
            )
        )

    def as_load(self, r: Round, items: tuple[Item, ...]) -> Load:
        hot = self.problem.hot[r.kiln] is not None
        kiln = self.problem.instance.kilns[r.kiln].id
        lit, hands = r.lit and hot, r.hands if hot else 0
        return Load(kiln, r.start, r.temp_c, r.low_min, items, lit=lit, hands=hands)

    def reserved(self) -> list[tuple[Round, tuple[Item, ...]]]:
        """Loads that hold anything besides what was pinned in them, with what that is."""
        problem = self.problem
        beads_left = list(problem.open_beads)
        found = []
        for r in sorted(self.rounds(), key=lambda r: (r.start, r.kiln)):
            items = []
            for task, moulds in r.items.items():
                beads = min(beads_left[task], moulds * problem.what[task].cavities)
                beads_left[task] -= beads
                items.append(Item(problem.job[task].id, problem.firing[task], moulds, beads))
            if items:
                found.append((r, tuple(items)))
        return found

    def load_plan(self, plan: Plan) -> None:
        """Put up a plan's loads (those not pinned), each list as early as it can be laid."""
        problem = self.problem
        for load in sorted(plan.loads, key=lambda load: load.start_min):
            kiln = problem.kiln_index[load.kiln]
            window = min(
                bisect_left(problem.hours.closes, load.start_min + 1), len(problem.hours.closes) - 1
            )
            fill = [(problem.task_index[item.job, item.firing], item.moulds) for item in load.items]
            rounds = self.lists[kiln][window]
            at = sum(1 for r in rounds if r.start <= load.start_min)
            self.open((kiln, window), at, fill)
        self.mark()


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


def string_through(windows: list[tuple[float, float]]) -> list[float]:
    """Temperatures inside each window with the least turning: a string pulled through them.

    Where the string may lie anywhere it lies low.

    >>> string_through([(700, 760), (840, 900), (840, 860), (720, 800)])
    [760, 840, 840, 800]
    """
    temps: list[float] = []
    low, high, begun = 0.0, 0.0, 0
    for n, (next_low, next_high) in enumerate(windows):
        if n == 0:
            low, high = next_low, next_high
        elif next_low <= high and low <= next_high:
            low, high = max(low, next_low), min(high, next_high)
        else:
            at = high if next_low > high else low
            temps += [at] * (n - begun)
            # Coming from one side, nothing is lost by going on from the near end.
            low, high, begun = next_low, next_high, n
    if windows:
        previous = temps[-1] if temps else low
        temps += [min(max(previous, low), high)] * (len(windows) - begun)
    return temps
