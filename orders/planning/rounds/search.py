"""Ruin and repair of rounds: some loads at a time are taken apart and their work put in again."""

from __future__ import annotations

from collections.abc import Callable
from math import exp
from random import Random

from orders.planning.board import Cost
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.insert import Inserter
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.round import Round
from orders.planning.ruin import COOLEST, LOADS_AT_ONCE, energy

WARM_MIN = 4.0
"""Kiln minutes a step may be worse while the search is warm. Our choice, measured."""


class RoundSearch:
    def __init__(self, problem: RoundProblem, rng: Random) -> None:
        self.problem = problem
        self.rng = rng
        self.use(RoundBoard(problem))
        self.steps = 0

    def use(self, board: RoundBoard) -> None:
        """Go on with another board."""
        self.board = board
        self.inserter = Inserter(board, self.rng)

    # -- the first plan -----------------------------------------------------------------

    def first(self) -> Cost:
        """All that has no place yet put in by urgency, what can share a load with it beside it."""
        board, problem = self.board, self.problem
        tasks = [t for t, left in enumerate(board.left) if left]
        tasks.sort(key=lambda t: (problem.before[t] >= 0, problem.latest_end(t)))
        self._round(tasks)
        board.mark()
        return board.cost()

    def _round(self, tasks: list[int]) -> None:
        board, inserter = self.board, self.inserter
        before = self.problem.before
        for second in (False, True):
            rest = []
            for task in tasks:
                # A second firing waits until all of the first has a place.
                if (before[task] >= 0) != second or (second and board.left[before[task]]):
                    continue
                by = self.problem.hours.open_by(inserter.on_time_by(task))
                if board.left[task] and not inserter.into_room(task, by):
                    rest.append(task)
            missed = inserter.into_new(rest)
            missed = inserter.into_new(missed, soon=True)
            for task in missed:
                self._make_way(task)

    def _make_way(self, task: int) -> None:
        """A first firing whose second stands too early: take the second out, place both anew."""
        board, inserter = self.board, self.inserter
        after = self.problem.after[task]
        if after < 0 or not board.where[after]:
            return
        for r, moulds in list(board.where[after].items()):
            if not board.take(r, {after: moulds}):
                return
        if not inserter.into_new([task], soon=True):
            inserter.into_new([after], soon=True)

    # -- ruin and repair ----------------------------------------------------------------

    def search(self, progress: Callable[[], float], warm_min: float = WARM_MIN) -> Cost:
        """Ruin and repair until `progress()` reaches 1; the best is left on the board."""
        board, rng = self.board, self.rng
        best = board.cost()
        kept = board.snapshot()
        now = energy(best)
        while (done := progress()) < 1:
            self.steps += 1
            board.mark()
            pool = self._take_apart()
            self._put_back(pool)
            self._close_waits()
            cost = board.cost()
            worth = energy(cost)
            warmth = warm_min * COOLEST**done
            if worth <= now or rng.random() < exp((now - worth) / warmth):
                now = worth
                if cost < best:
                    best, kept = cost, board.snapshot()
            else:
                board.undo()
        board.restore(kept)
        return best

    def _take_apart(self) -> list[int]:
        board, rng = self.board, self.rng
        pool = dict.fromkeys(t for t, left in enumerate(board.left) if left)
        movable = [r for r in board.rounds() if r.items]
        if not movable:
            return list(pool)
        for r in self._chosen(movable):
            items = dict(r.items)
            if board.take(r, items):
                pool.update(dict.fromkeys(items))
        rng.random()
        return list(pool)

    def _chosen(self, movable: list[Round]) -> list[Round]:
        board, rng = self.board, self.rng
        seed = None
        if board.tardiness and rng.random() < 0.5:
            seed = self._late_round()
        if seed is None:
            few = [rng.choice(movable) for _ in range(3)]
            seed = max(few, key=lambda r: r.free) if rng.random() < 0.7 else few[0]
        draw = rng.random()
        if draw < 0.15:
            # A whole run at once, so that a day without fire can come of it.
            return list(board.lists[seed.kiln][seed.window])[:6]
        count = rng.choice(LOADS_AT_ONCE)
        if count == 1:
            return [seed]
        others = [r for r in movable if r is not seed]
        if draw < 0.55:
            alike = [
                r
                for r in others
                if r.low_c <= seed.high_c
                and seed.low_c <= r.high_c
                and r.low_min <= seed.high_min
                and seed.low_min <= r.high_min
            ]
            others = alike or others
        others.sort(key=lambda r: abs(r.start - seed.start))
        near = others[:12]
        return [seed, *rng.sample(near, min(count - 1, len(near)))]

    def _late_round(self) -> Round | None:
        board, problem, rng = self.board, self.problem, self.rng
        late = [o for o, minutes in enumerate(board.order_late) if minutes]
        if not late:
            return None
        task = rng.choice(problem.order_tasks[rng.choice(late)])
        rounds = list(board.where[task])
        return max(rounds, key=lambda r: r.end) if rounds else None

    def _put_back(self, pool: list[int]) -> None:
        board, problem, rng = self.board, self.problem, self.rng
        mood = rng.random()
        if mood < 0.4:
            pool.sort(key=lambda t: -board.left[t] * problem.each[t] * (0.7 + 0.6 * rng.random()))
        elif mood < 0.8:
            pool.sort(key=lambda t: problem.latest_end(t) + 600 * rng.random())
        else:
            rng.shuffle(pool)
        self._round(pool)

    def _close_waits(self) -> None:
        """Light a run later where it would stand hot and idle between its rounds."""
        board = self.board
        for kiln, window in list(board.journal):
            wait = board.waits[kiln][window]
            rounds = board.lists[kiln][window]
            if not rounds:
                board.not_before[kiln][window] = 0
            elif wait and rounds[0].pin is None:
                before = board.cost()
                held = board.not_before[kiln][window]
                later = rounds[0].start + wait
                if board.hold_back((kiln, window), later) and board.cost() > before:
                    board.hold_back((kiln, window), held)
