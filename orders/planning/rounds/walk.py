"""Passes over the calendar in many styles, and the best of them bettered from some day on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from random import Random

from orders.planning.board import Cost
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.forward import Forward, Style
from orders.planning.rounds.insert import Inserter

DRAWN_ANEW = 0.4
"""Share of passes in a style of its own; the others change the best style so far. Our choice."""

ALL_AT_ONCE = 0.15
"""Share of changes in which the whole style is drawn anew. Our choice."""


class Walk:
    """Whoever makes it gives it a board; the best plan found is left there."""

    def __init__(self, board: RoundBoard, rng: Random) -> None:
        self.board = board
        self.rng = rng
        self.forward = Forward(board)
        self.inserter = Inserter(board, rng)
        self.mixed = any(board.problem.hot) and not all(board.problem.hot)
        self.style = Style()
        self.tried = 0

    def drawn(self) -> Style:
        """A style at random; ranges by trial on workshops of 200 and 500 jobs. Our choice."""
        rng = self.rng
        return Style(
            patience_min=500 * 5 ** rng.random(),
            small_first=rng.choice([0, 0, 0.15, 0.3, 0.3, 0.6, 1]),
            closed_days=rng.choice([-1, -1, 0, 0, 1]) if self.mixed else -1,
            turn_weight=1 + 4 * rng.random(),
            ease=rng.choice([0, 0, 0.5, 0.6, 0.7, 0.8, 0.9, 1]),
            full=rng.choice([0.7, 0.85, 0.95, 1]),
        )

    def changed(self, style: Style) -> Style:
        """A style that differs from another in one thing, or now and then in all."""
        new = self.drawn()
        if self.rng.random() < ALL_AT_ONCE:
            return new
        name = self.rng.choice(fields(Style)).name
        return replace(style, **{name: getattr(new, name)})

    def _pass(self, style: Style, window: int) -> Cost:
        """Everything from a window on is fired anew."""
        board = self.board
        self.tried += 1
        board.mark()
        board.clear_from(window)
        if board.problem.instance.pinned:
            for task in sorted((t for t, n in enumerate(board.left) if n), key=self._by_due):
                if self.forward.problem.before[task] < 0:
                    self.inserter.into_room(task, self.inserter.on_time_by(task))
        self.forward.run(style, window)
        return board.cost()

    def _by_due(self, task: int) -> int:
        return self.forward.due[task]

    def first(self) -> Cost:
        """One pass in the plain style, on a board without loads of its own."""
        return self._pass(self.style, 0)

    def passes(self, over: Callable[[], bool]) -> Cost:
        """Whole passes until `over()`; begun with what is on the board."""
        board = self.board
        best, kept = board.cost(), board.snapshot()
        while board.problem.job and not over():
            anew = self.rng.random() < DRAWN_ANEW
            style = self.drawn() if anew else self.changed(self.style)
            cost = self._pass(style, 0)
            if cost < best:
                best, kept, self.style = cost, board.snapshot(), style
        board.restore(kept)
        return best

    def walk(self, over: Callable[[], bool]) -> Cost:
        """From a window at random on all is fired anew in a changed style; kept if no worse."""
        board = self.board
        best = board.cost()
        while any(board.busy) and not over():
            last = max(busy[-1] for busy in board.busy if busy)
            style = self.changed(self.style)
            cost = self._pass(style, self.rng.randint(0, last))
            if cost <= best:
                best, self.style = cost, style
            else:
                board.undo()
        board.mark()
        return best
