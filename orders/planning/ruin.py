"""Small ruins and repairs: take a few loads apart, put the work back, keep what is better.

One step removes one to five loads that are near each other in time or in programme, puts the
work back (into room that is there, then into new loads) and accepts the board if it is better,
or, while the search is warm, if it is only a little worse.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp
from random import Random

from orders.planning.board import Board, Cost, Slot
from orders.planning.calendar import NEVER
from orders.planning.insert import Inserter

TARDY_WEIGHT = 5.0
"""Kiln minutes that one minute of tardiness is worth while the search is warm. Our choice."""

COOLEST = 0.2
"""Share of the first warmth left at the end. Our choice."""

LOADS_AT_ONCE = (1, 2, 2, 3, 3, 4, 5)
"""How many loads one step takes apart, drawn evenly from these. Our choice."""

ORDER_BY_ORDER = 0.2
"""Share of steps in which, while orders are late, whole orders are put back one by one."""


def energy(cost: Cost) -> float:
    """One number for a plan's cost, by which annealing compares two: the lower the better.

    The weights put unplaced work first, then lateness, then kiln minutes [min] and loads; our
    choice, by trial.
    """
    return (
        cost.unplaced * 1e6
        + cost.tardiness_min * TARDY_WEIGHT
        + cost.late_orders * 10
        + cost.kiln_minutes
        + cost.loads
        + cost.finish_min * 1e-4
    )


class Ruin:
    def __init__(self, board: Board, rng: Random) -> None:
        self.board = board
        self.problem = board.problem
        self.rng = rng
        self.inserter = Inserter(board, rng)
        self.steps = 0
        self.stuck = [task for task, left in enumerate(board.left) if left]

    # -- taking apart -------------------------------------------------------------------

    def take_apart(self) -> list[int]:
        """Remove a few loads; returns the tasks now (partly) without a place."""
        pool: dict[int, None] = dict.fromkeys(self.stuck)
        for slot in self._chosen():
            self._empty(slot, pool)
        return list(pool)

    def _empty(self, slot: Slot, pool: dict[int, None]) -> None:
        board = self.board
        for task, moulds in list(slot.items.items()):
            board.take(slot, task, moulds)
            pool[task] = None
        if slot.pinned is None:
            board.drop(slot)

    def _chosen(self) -> list[Slot]:
        rng, board = self.rng, self.board
        busy = [slots for slots in board.kiln_slots if slots]
        if not busy:
            return []
        everything = [s for slots in busy for s in slots if s.items and not s.sealed]
        if not everything:
            return []
        if board.tardiness and rng.random() < 0.5:
            seed = self._late_slot() or rng.choice(everything)
        else:
            few = [rng.choice(everything) for _ in range(3)]
            seed = max(few, key=lambda s: s.free) if rng.random() < 0.7 else few[0]
        count = rng.choice(LOADS_AT_ONCE)
        chosen = [seed]
        if count > 1:
            related = self._near(seed, everything)
            chosen += rng.sample(related, min(count - 1, len(related)))
        return chosen

    def _late_slot(self) -> Slot | None:
        """A load that holds the last beads of a late order."""
        board, problem, rng = self.board, self.problem, self.rng
        late = board.order_late
        for _ in range(20):
            order = rng.randrange(len(late))
            if late[order]:
                task = rng.choice(problem.order_tasks[order])
                slots = [s for s in board.where[task] if not s.sealed]
                if slots:
                    return max(slots, key=lambda s: s.end)
        return None

    def _near(self, seed: Slot, everything: list[Slot]) -> list[Slot]:
        """Loads close in time, or that could share a load with what the seed holds."""
        problem, rng = self.problem, self.rng
        if rng.random() < 0.5:
            bits = 0
            for task in seed.items:
                bits |= problem.bit[problem.box[task]]
            related = [s for s in everything if s is not seed and s.mask & bits]
            if len(related) > 12:
                related.sort(key=lambda s: abs(s.start - seed.start))
                related = related[:12]
            if related:
                return related
        others = [s for s in everything if s is not seed]
        others.sort(key=lambda s: abs(s.start - seed.start))
        return others[:10]

    # -- putting back -------------------------------------------------------------------

    def put_back(self, pool: list[int]) -> None:
        problem, rng = self.problem, self.rng
        self.inserter.start()
        in_pool = set(pool)
        second = {t for t in pool if problem.before[t] in in_pool}
        if self.board.tardiness and rng.random() < ORDER_BY_ORDER:
            orders = list(dict.fromkeys(problem.order[t] for t in pool))
            rng.shuffle(orders)
            groups = [[t for t in pool if problem.order[t] == order] for order in orders]
        else:
            groups = [pool]
        for group in groups:
            self._round([t for t in group if t not in second], rng.random())
            self._round([t for t in group if t in second], rng.random())

    def _round(self, tasks: list[int], mood: float) -> None:
        board, problem, rng, inserter = self.board, self.problem, self.rng, self.inserter
        if not tasks:
            return
        by = {t: inserter.on_time_by(t) for t in tasks}
        if mood < 0.4:
            tasks.sort(key=lambda t: -board.left[t] * problem.each[t] * (0.7 + 0.6 * rng.random()))
        elif mood < 0.8:
            tasks.sort(key=lambda t: by[t] + 600 * rng.random())
        else:
            rng.shuffle(tasks)
        # What cannot be on time is placed as early as can be, before or after the rest.
        late = [t for t in tasks if by[t] < board.ready_at(t) + problem.shortest_min[t]]
        late_first = rng.random() < 0.5
        if late_first:
            self._early(late)
        whole = rng.random() < 0.5
        rest = [t for t in tasks if board.left[t] and t not in late]
        rest = [t for t in rest if not inserter.into_room(t, by[t], whole)]
        missed = inserter.into_new_loads(rest)
        self._early(missed if late_first else late + missed)

    def _early(self, tasks: list[int]) -> None:
        rng, inserter = self.rng, self.inserter
        inserter.longer = self._longer(tasks) if len(tasks) > 1 and rng.random() < 0.5 else {}
        patience = rng.choice((0.0, 0.5, 1.0))
        for task in tasks:
            self._as_early_as_can_be(task, patience)

    def _longer(self, tasks: list[int]) -> dict[int, int]:
        """For each task the minutes of a random other task that it could share a load with."""
        problem, rng = self.problem, self.rng
        found = {}
        for task in tasks:
            box = problem.box[task]
            other = problem.box[rng.choice(tasks)]
            low = problem.lower_min[other]
            if problem.meets[box] & problem.bit[other] and low > problem.lower_min[box]:
                found[task] = low
        return found

    def _as_early_as_can_be(self, task: int, patience: float) -> None:
        board, inserter = self.board, self.inserter
        by = board.must_end_by(task)
        if inserter.earliest(task, by, patience) or by == NEVER:
            return
        # The second firing stands in the way: take it down and place it after the first.
        after = self.problem.after[task]
        for slot, moulds in list(board.where[after].items()):
            board.take(slot, after, moulds)
            if not slot.items and slot.pinned is None:
                board.drop(slot)
                if slot in inserter.open_slots:
                    inserter.open_slots.remove(slot)
                if slot in inserter.new_slots:
                    inserter.new_slots.remove(slot)
        if not inserter.earliest(task, board.must_end_by(task), patience):
            return
        if not inserter.into_room(after, inserter.on_time_by(after), True):
            inserter.earliest(after, NEVER, patience)

    def tidy(self) -> None:
        """Fire no load longer than its contents need."""
        board, problem = self.board, self.problem
        for slot in self.inserter.new_slots:
            if slot.items:
                least = max(problem.lower_min[problem.box[t]] for t in slot.items)
                if least < slot.minutes:
                    board.move(slot, slot.kiln, slot.start, least)

    # -- the search ---------------------------------------------------------------------

    def search(self, progress: Callable[[], float], warm_min: float) -> Cost:
        """Ruin and repair until `progress()` reaches 1, and leave the best on the board.

        progress  0 at the start, 1 at the end; asked once per step
        warm_min  kiln minutes by which a step may be worse at the start
        """
        board, rng = self.board, self.rng
        best = board.cost()
        kept = board.snapshot()
        now = energy(best)
        while (done := progress()) < 1:
            self.steps += 1
            board.mark()
            self.put_back(self.take_apart())
            self.tidy()
            cost = board.cost()
            worth = energy(cost)
            warmth = warm_min * COOLEST**done
            if worth <= now or rng.random() < exp((now - worth) / warmth):
                now = worth
                if self.stuck or cost.unplaced:
                    self.stuck = [task for task, left in enumerate(board.left) if left]
                if cost < best:
                    best, kept = cost, board.snapshot()
            else:
                board.undo()
        board.restore(kept)
        return best
