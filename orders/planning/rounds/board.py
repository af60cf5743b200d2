"""The board of a workshop with kilns kept hot: a list of loads for each kiln and working window.

A load has no minute of its own: whenever its list changes, the list is *laid* anew (`laying.py`).
A list that cannot be laid is put back as it was.
"""

from __future__ import annotations

from bisect import bisect_left

from orders.planning.board import Cost
from orders.planning.calendar import NEVER
from orders.planning.instance import Item, Load, Plan
from orders.planning.measure import Key
from orders.planning.rounds.laying import Laying
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.round import Round, Sheet

EMPTY: tuple = ([], 0, 0, 0)
"""A list without loads, as it is put back."""


class RoundBoard(Laying):
    """A plan in the making: changed load by load, judged by its cost, put back by `undo`."""

    def __init__(self, problem: RoundProblem) -> None:
        super().__init__(problem)
        self._pin_loads()

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
            # What lies before it is laid against this minute until it is laid itself.
            found.start = load.start_min
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

    # -- changes ------------------------------------------------------------------------

    def mark(self) -> None:
        """From here on, `undo` brings the board back."""
        self.journal.clear()

    def undo(self) -> None:
        for sheet, states in self.journal.items():
            self._back(sheet, states)
        self.journal.clear()

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
        if self.lay(kiln, window, at, alone=len(rounds) == len(there)):
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

    def clear_from(self, window: int) -> None:
        """Take all work out of the loads of a window and those after it, as far as pins let it."""
        for kiln, busy in enumerate(self.busy):
            for sheet in [(kiln, w) for w in busy if w >= window]:
                rounds = self.lists[kiln][sheet[1]]
                if any(r.pin for r in rounds):
                    for r in [r for r in reversed(rounds) if r.items]:
                        self.take(r, r.items)
                else:
                    self.journal.setdefault(sheet, self._states(sheet))
                    self._back(sheet, EMPTY)

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

    def wish(self, r: Round, heat_c: float, minutes: int) -> bool:
        """Fire a pinned load as near a heat and a time as its contents allow, if it can be laid."""
        sheet = r.kiln, r.window
        for wished in ((heat_c, minutes), (heat_c, 0)):
            states = self._states(sheet)
            r.wish = wished
            self._narrow(r)
            fits = r.low_c <= r.high_c and self.lay(*sheet)
            if fits and all(
                self._before_second(one, kept=True) for one in self.lists[r.kiln][r.window]
            ):
                self.journal.setdefault(sheet, states)
                return True
            r.wish = None
            self._back(sheet, states)
        return False

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
        for sheet in {(k, w) for k, busy in enumerate(self.busy) for w in busy}:
            self._back(sheet, EMPTY)
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
