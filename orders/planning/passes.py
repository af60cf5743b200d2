"""The start of a new plan: greedy passes in several styles, the best of them kept.

Where many orders must be late, passes go on: the best style so far is changed a little, orders
that came out late are pushed forward, or the best plan is kept up to some minute and only what
comes after is filled anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

from orders.planning.board import Board
from orders.planning.greedy import Style, greedy
from orders.planning.instance import DAY_MIN
from orders.planning.problem import Problem

FIRST_STYLES = (
    Style(),
    Style(fullness=0.8),
    Style(seeds=4, fullness=0.7, horizon_min=3000),
    Style(fullness=0.95),
    Style(seeds=8, fullness=0.5, horizon_min=6000),
    Style(seeds=2, fullness=0.7, patience=200, horizon_min=3000),
)
"""The first is the plainest. Our choice, measured."""

LATE_STYLES = (
    Style(seeds=8, fullness=0.7, horizon_min=4000),
    Style(seeds=12, fullness=0.3, patience=600, horizon_min=1000),
    Style(seeds=1, fullness=0.5, patience=600, horizon_min=1000),
    Style(seeds=4, fullness=0.6, horizon_min=500),
)
"""Tried next where many orders are late. Our choice, measured."""

MANY_LATE_SHARE = 0.05
"""More passes are made while more than this share of the orders is late. Our choice."""

KEEP_BEGINNING = 0.8
"""Share of the later passes that keep the beginning of the best plan. Our choice, measured."""


class Passes:
    """The best of several greedy passes over one problem.

    best, cost  the best board so far and what it costs
    first       the cost of the first, plainest pass
    made        how many passes there were
    """

    def __init__(self, problem: Problem, rng: Random) -> None:
        self.problem = problem
        self.rng = rng
        self.shift = [0] * len(problem.due)
        self.style = FIRST_STYLES[0]
        self.best = Board(problem)
        greedy(self.best, self.style, None, rng)
        self.first = self.cost = self.best.cost()
        self.made = 1

    def run(self, over: Callable[[int], bool]) -> None:
        """Passes until `over`, asked with the number made, or until few orders are late."""
        styles = FIRST_STYLES + LATE_STYLES
        while not over(self.made):
            if self.made < len(styles):
                if self.made >= len(FIRST_STYLES) and not self._many_late():
                    return
                self._try(Board(self.problem), styles[self.made], self.shift)
            elif self._many_late():
                self._try_another()
            else:
                return

    def _many_late(self) -> bool:
        """A few late orders are mended faster by ruin and repair than by another pass."""
        return self.cost.late_orders > MANY_LATE_SHARE * len(self.problem.due)

    def _try_another(self) -> None:
        rng = self.rng
        style = next_style(self.style, rng)
        shift = squeak(self.best, self.shift, rng) if rng.random() < 0.5 else self.shift
        board = self._beginning() if rng.random() < KEEP_BEGINNING else Board(self.problem)
        self._try(board, style, shift)

    def _try(self, board: Board, style: Style, shift: list[int]) -> None:
        greedy(board, style, shift, self.rng)
        self.made += 1
        cost = board.cost()
        if cost < self.cost:
            self.best, self.cost, self.style, self.shift = board, cost, style, shift

    def _beginning(self) -> Board:
        """A board with the loads of the best one that start before some minute."""
        board = Board(self.problem)
        slots = self.best.slots()
        if not slots:
            return board
        # Early minutes are drawn more often: what is late at the end was decided before.
        until = slots[int(len(slots) * self.rng.random() ** 1.5)].start
        for slot in slots:
            if slot.start < until and slot.pinned is None:
                kept = board.open(slot.kiln, slot.start, slot.minutes)
                for task, moulds in slot.items.items():
                    board.put(kept, task, moulds)
        return board


def next_style(best: Style, rng: Random) -> Style:
    """By turns: the best style so far blurred, or with one thing changed, or any style."""
    draw = rng.random()
    other = any_style(rng)
    if draw < 0.3:
        return replace(best, noise=rng.choice((0.1, 0.3)))
    if draw < 0.7:
        changed = rng.choice(("seeds", "fullness", "patience", "horizon_min"))
        return replace(best, noise=0.1, **{changed: getattr(other, changed)})
    return other


def any_style(rng: Random) -> Style:
    """A style of greedy pass drawn at random; the ranges were found by trial on made-up floors."""
    return Style(
        seeds=rng.choice((1, 2, 4, 6, 8, 12)),
        fullness=rng.choice((0.0, 0.3, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85)),
        patience=rng.choice((0, 200, 600)),
        horizon_min=rng.choice((500, 1000, 2000, 4000, 8000)),
        noise=rng.choice((0.0, 0.1, 0.3)),
    )


def squeak(board: Board, shift: list[int], rng: Random) -> list[int]:
    """Orders that came out late are given an earlier due minute for the next pass.

    Source: D. E. Joslin, D. P. Clements (1999), Squeaky wheel optimization, Journal of
    Artificial Intelligence Research 10, 353-373.
    """
    return [
        before - int(min(late, 2 * DAY_MIN) * rng.random())
        if late and rng.random() < 0.5
        else before
        for before, late in zip(shift, board.order_late, strict=True)
    ]
