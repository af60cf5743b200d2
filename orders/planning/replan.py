"""A whole new plan: greedy passes in several styles, load elimination, ruin and repair.

With kilns kept hot: passes over the calendar in several styles, the best of them bettered from some
day on, ruin and repair.

With `steps` the work is counted and the same seed gives the same plan, on any machine. With
`seconds` it runs until the clock of its own work says stop.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from orders.planning.board import Board, Snapshot
from orders.planning.budget import Budget
from orders.planning.eliminate import eliminate_loads, pull_earlier
from orders.planning.errors import PlanningError
from orders.planning.greedy import greedy
from orders.planning.instance import DAY_MIN, Instance, Plan
from orders.planning.measure import Key
from orders.planning.passes import FIRST_STYLES, Passes
from orders.planning.problem import Problem
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.search import RoundSearch
from orders.planning.rounds.walk import Walk
from orders.planning.ruin import Ruin

PASSES_SHARE = 0.7
"""Share of the time for greedy passes where orders must be late. Our choice."""

WARM_MIN = 4.0
"""Kiln minutes a step may be worse while the search is warm. Our choice, measured."""

PASSES_OF_ROUNDS, WALK_SHARE = 0.35, 0.75
"""Shares of the time at which passes over the calendar end, and the walk from the best of them.
Our choice, measured."""

LEAST_PASSES = 4
"""Passes over the calendar, however few steps are counted."""

LEAST_CHAIN, CHAIN_PER_LOAD = 600, 100
"""Steps in one chain of ruin and repair: so many for each load, at least so many. Our choice."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """plan, its key, the key of the first plain greedy pass, and the work that was done.

    first_key is None when that pass found no room for all the work: the lateness of half a plan
    is nothing to compare with. seconds_left is what a budget of seconds has left.
    """

    plan: Plan
    key: Key
    first_key: Key | None
    passes: int
    steps: int
    seconds_left: float = 0.0


def replan(
    instance: Instance,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    start: Plan | None = None,
    share: float = 1.0,
) -> Replanned:
    """The best plan found for an instance.

    seconds  of its own work to spend; steps  of ruin and repair (give one, or both as limits)
    start    a plan to better, if there is one already (without the pinned loads)
    share    of the seconds, where something else is to follow; more while lateness still falls

    Raises PlanningError, naming a job, if a job can never be fired or the calendar ends before
    all work has found a place.
    """
    budget = Budget(seconds, steps, share)
    rng = Random(seed)
    if instance.has_rounds:
        return _replan_rounds(RoundProblem(instance), budget, rng, start)
    return _replan_loads(Problem(instance), budget, rng, start)


def _replan_loads(problem: Problem, budget: Budget, rng: Random, start: Plan | None) -> Replanned:
    passes = Passes(problem, rng)
    passes.run(lambda made: _passes_over(budget, passes, made))
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
    return Replanned(
        board.plan(), board.key(), first_key, passes.made, budget.taken, budget.seconds_left()
    )


def _passes_over(budget: Budget, passes: Passes, made: int) -> bool:
    budget.note(passes.cost.tardiness_min)
    if budget.steps is not None and made >= len(FIRST_STYLES) + budget.steps // 100:
        return True
    return budget.spent() >= PASSES_SHARE


def _replan_rounds(
    problem: RoundProblem, budget: Budget, rng: Random, start: Plan | None
) -> Replanned:
    search = RoundSearch(problem, rng)
    walk = Walk(search.board, rng)
    first = walk.first()
    if first.unplaced:
        search.first()
    walk.passes(lambda: _walked(budget, walk, PASSES_OF_ROUNDS))
    if start is not None:
        walk = _from_start(search, walk, start)
    budget.note(walk.walk(lambda: _walked(budget, walk, WALK_SHARE)).tardiness_min)
    chains = 0
    while problem.job and not budget.searched():
        steps = max(LEAST_CHAIN, CHAIN_PER_LOAD * search.board.loads)
        budget.note(search.search(budget.chain(steps)).tardiness_min)
        chains += 1
    board = search.board
    if board.unplaced:
        raise unplaced_error(board)
    first_key = None if first.unplaced else Key(*first[1:])
    left = budget.seconds_left()
    return Replanned(board.plan(), board.key(), first_key, walk.tried, budget.taken, left)


def _from_start(search: RoundSearch, walk: Walk, start: Plan) -> Walk:
    """Goes on from a plan that was given, where it is better than what was found."""
    given = RoundSearch(search.problem, search.rng)
    given.board.load_plan(start)
    if given.board.unplaced:
        given.first()
    if given.board.cost() >= search.board.cost():
        return walk
    search.use(given.board)
    return Walk(given.board, search.rng)


def _walked(budget: Budget, walk: Walk, share: float) -> bool:
    if budget.steps is not None and walk.tried >= LEAST_PASSES + share * budget.steps / 10:
        return True
    return budget.spent() >= share


def _search(problem: Problem, board: Board, budget: Budget, rng: Random) -> Board:
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
            budget.note(cost.tardiness_min)
        elif kept is not None:
            board.restore(kept)
        chains += 1
    return board


def unplaced_error(board: Board | RoundBoard) -> PlanningError:
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


__all__ = ["Replanned", "Snapshot", "replan", "unplaced_error"]
