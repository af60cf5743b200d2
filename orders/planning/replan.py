"""A whole new plan: greedy passes in several styles, load elimination, ruin and repair.

With `steps` the work is counted and the same seed gives the same plan, on any machine. With
`seconds` it runs until the clock says stop.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from orders.planning.board import Board, Snapshot
from orders.planning.eliminate import eliminate_loads, pull_earlier
from orders.planning.errors import PlanningError
from orders.planning.greedy import greedy
from orders.planning.instance import DAY_MIN, Instance, Plan
from orders.planning.measure import Key
from orders.planning.passes import FIRST_STYLES, Passes
from orders.planning.problem import Problem
from orders.planning.ruin import Ruin

PASSES_SHARE = 0.7
"""Share of the time for greedy passes where orders must be late. Our choice."""

WARM_MIN = 4.0
"""Kiln minutes a step may be worse while the search is warm. Our choice, measured."""

LEAST_CHAIN, CHAIN_PER_LOAD = 600, 100
"""Steps in one chain of ruin and repair: so many for each load, at least so many. Our choice."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """plan, its key, the key of the first plain greedy pass, and the work that was done.

    first_key is None when that pass found no room for all the work: the lateness of half a plan
    is nothing to compare with.
    """

    plan: Plan
    key: Key
    first_key: Key | None
    passes: int
    steps: int


class _Budget:
    """Seconds or steps, asked as a share that runs from 0 to 1."""

    def __init__(self, seconds: float | None, steps: int | None) -> None:
        if seconds is None and steps is None:
            raise ValueError("Give seconds or steps.")
        self.began = time.perf_counter()
        self.seconds = seconds
        self.steps = steps
        self.taken = 0

    def spent(self) -> float:
        if self.seconds is None:
            return 0.0
        if self.seconds <= 0:
            return 1.0
        return (time.perf_counter() - self.began) / self.seconds

    def over(self) -> bool:
        return self.spent() >= 1

    def passes_over(self, passes: int) -> bool:
        if self.steps is not None and passes >= len(FIRST_STYLES) + self.steps // 100:
            return True
        return self.spent() >= PASSES_SHARE

    def chain(self, chain_steps: int) -> Callable[[], float]:
        """A function for `Ruin.search`: share of one chain, or of what is left, used up."""
        spent_before, steps_before = self.spent(), self.taken
        count = -1

        def progress() -> float:
            nonlocal count
            count += 1
            self.taken = steps_before + count
            share = count / chain_steps
            if self.steps is not None:
                share = max(share, count / max(1, self.steps - steps_before))
            if self.seconds is not None:
                left = 0.97 - spent_before
                share = max(share, (self.spent() - spent_before) / left if left > 0 else 1.0)
            return share

        return progress

    def searched(self) -> bool:
        if self.steps is not None and self.taken >= self.steps:
            return True
        return self.spent() >= 0.97


def replan(
    instance: Instance,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    start: Plan | None = None,
) -> Replanned:
    """The best plan found for an instance.

    seconds  time to spend; steps  ruin-and-repair steps to take (give one, or both as limits)
    start    a plan to better, if there is one already (without the pinned loads)

    Raises PlanningError, naming a job, if a job can never be fired or the calendar ends before
    all work has found a place.
    """
    return replan_problem(Problem(instance), seconds=seconds, steps=steps, seed=seed, start=start)


def replan_problem(
    problem: Problem,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    start: Plan | None = None,
) -> Replanned:
    budget = _Budget(seconds, steps)
    rng = Random(seed)
    passes = Passes(problem, rng)
    passes.run(budget.passes_over)
    board = passes.best
    if start is not None:
        given = Board(problem)
        given.load_plan(start)
        if given.cost() < board.cost():
            board = given
    board = _search(problem, board, budget, rng)
    pull_earlier(board, lambda: budget.spent() > 1.1)
    if board.unplaced:
        raise unplaced_error(board)
    first_key = None if passes.first.unplaced else Key(*passes.first[1:])
    return Replanned(board.plan(), board.key(), first_key, passes.made, budget.taken)


def _search(problem: Problem, board: Board, budget: _Budget, rng: Random) -> Board:
    """Chains of ruin and repair: on from the best, and by turns from a new greedy pass."""
    eliminate_loads(board, rng, budget.over)
    best = board.cost()
    chains = 0
    while problem.job and not budget.searched():
        trial = board
        if chains % 2:
            trial = Board(problem)
            greedy(trial, replace(rng.choice(FIRST_STYLES), noise=0.3), None, rng)
            eliminate_loads(trial, rng, budget.over)
        kept = None if trial is not board else board.snapshot()
        steps = max(LEAST_CHAIN, CHAIN_PER_LOAD * trial.loads)
        cost = Ruin(trial, rng).search(budget.chain(steps), WARM_MIN)
        if cost < best:
            best, board = cost, trial
        elif kept is not None:
            board.restore(kept)
        chains += 1
    return board


def unplaced_error(board: Board) -> PlanningError:
    """A sentence that names the first job without a place, and says what would help."""
    problem = board.problem
    task = next(t for t, left in enumerate(board.left) if left)
    job, shape = problem.job[task], problem.what[task].shape
    left = board.left[task]
    day, minute = divmod(problem.hours.last, DAY_MIN)
    more = sum(1 for other in board.left if other) - 1
    others = f" and {more} more firings" if more else ""
    return PlanningError(
        f"Job {job.id} could not be placed: {left} of its moulds of shape {shape}{others} found "
        f"no room before the last working window closes (day {day}, "
        f"{minute // 60:02d}:{minute % 60:02d}). Open later working windows, or add moulds of "
        "that shape or a kiln.",
        job=job.id,
    )


__all__ = ["Replanned", "Snapshot", "replan", "replan_problem", "unplaced_error"]
