"""The longer search: a few neighbouring loads are re-packed exactly, the rest is kept.

One neighbourhood is 8 to 15 loads near each other in time. Where and when they stand is kept;
which of them are fired, at which programme, and what is in them is solved as a mixed-integer
programme with HiGHS. The answer is taken only if the whole plan gets better. Between
neighbourhoods, ruin and repair moves loads in time, which the exact model does not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import count
from random import Random

from orders.planning.board import Board
from orders.planning.budget import own_seconds
from orders.planning.instance import Instance, Plan
from orders.planning.measure import Key, measure
from orders.planning.milp import Model
from orders.planning.moves import Slot
from orders.planning.problem import Problem
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.search import RoundSearch
from orders.planning.rounds.walk import Walk
from orders.planning.ruin import Ruin, energy

Progress = Callable[[], float]
"""How far a part of the search is: at 1 it ends."""

FEWEST, MOST = 8, 15
"""Loads in one neighbourhood."""

TURN_S = 1.0
"""Longest time for one neighbourhood, or for one turn of ruin and repair. Our choice."""

NODES = 30
"""Nodes of the solver's tree for one neighbourhood when rounds are counted. Our choice."""

MOST_PROGRAMMES = 12
"""Programmes tried for one load of a neighbourhood: those that suit most work. Our choice."""

PLENTY_S = 60.0
"""Seconds after which even a counted solve ends."""

WALKS = 20
"""Days from which a plan of rounds is fired anew in one counted turn."""

RUIN_STEPS = 200
"""Steps of ruin and repair after one neighbourhood when rounds are counted."""

FADING = 0.9
"""How much of what a way has gained is still remembered one turn later. Our choice."""

WARM_MIN = 2.0
"""Kiln minutes a step of it may be worse at first. Our choice."""

LOAD_COST = 0.01
"""Minutes a load counts for beyond its own, so that of equal minutes fewer loads win."""


@dataclass(frozen=True, slots=True)
class Searched:
    plan: Plan
    key: Key
    neighbourhoods: int
    improved: int


@dataclass(frozen=True, slots=True)
class _Choice:
    """One slot fired at one programme: its column, and the columns of what may be in it."""

    slot: Slot
    minutes: int
    end: int
    fired: int
    put: dict[int, int]


def longer_search(
    instance: Instance,
    plan: Plan,
    *,
    seconds: float | None = None,
    rounds: int | None = None,
    seed: int = 0,
) -> Searched:
    """Better the given plan for `seconds`, or for so many rounds; the result is never worse.

    plan    without the instance's pinned loads
    rounds  neighbourhoods, each followed by ruin and repair; the same seed and rounds give the
            same plan

    Not for web requests: it imports the solver.
    """
    if (seconds is None) == (rounds is None):
        raise ValueError("Give seconds or rounds.")
    if instance.has_rounds:
        return _longer_rounds(instance, plan, seconds, rounds, Random(seed))
    problem = Problem(instance)
    board = Board(problem)
    board.load_plan(_without_pins(instance, plan))
    search = _Search(board, Random(seed))
    if problem.job and rounds is not None:
        for _ in range(rounds):
            search.solve(None)
            search.ruin_steps(RUIN_STEPS)
    elif problem.job and seconds is not None:
        search.run(seconds)
    return Searched(board.plan(), board.key(), search.tried, search.improved)


def _longer_rounds(
    instance: Instance, plan: Plan, seconds: float | None, rounds: int | None, rng: Random
) -> Searched:
    """The walk over the calendar and ruin and repair in turn, without the solver: where loads push
    each other along, no neighbourhood stands still."""
    search = RoundSearch(RoundProblem(instance), rng)
    search.board.load_plan(_without_pins(instance, plan))
    walk = Walk(search.board, rng)
    for walking, ruining in _turns(seconds, rounds):
        walk.walk(partial(_over, walking))
        search.search(ruining, WARM_MIN)
    before = measure(instance, plan)
    if search.board.unplaced or search.board.key() >= before:
        return Searched(plan, before, search.steps, 0)
    return Searched(search.board.plan(), search.board.key(), search.steps, 1)


def _turns(seconds: float | None, rounds: int | None) -> Iterator[tuple[Progress, Progress]]:
    """How far the walk and ruin and repair are in each turn: by count, or by own seconds."""
    if rounds is not None:
        for _ in range(rounds):
            yield _counted(WALKS), _counted(RUIN_STEPS)
    elif seconds:
        until = own_seconds() + seconds
        while (left := until - own_seconds()) > 0:
            turn = min(TURN_S, left)
            yield _timed(turn / 2), _timed(turn)


def _over(progress: Progress) -> bool:
    return progress() >= 1


def _counted(steps: int) -> Progress:
    taken = count()
    return lambda: next(taken) / steps


def _timed(seconds: float) -> Progress:
    began = own_seconds()
    return lambda: (own_seconds() - began) / seconds


class _Search:
    """Solving neighbourhoods and ruin and repair in turn, more of what has paid so far."""

    def __init__(self, board: Board, rng: Random) -> None:
        self.board = board
        self.rng = rng
        self.ruin = Ruin(board, rng)
        self.tried = self.improved = 0

    def solve(self, seconds: float | None) -> None:
        self.improved += _solve_near(self.board, self.rng, seconds)
        self.tried += 1

    def ruin_steps(self, steps: int) -> None:
        self.ruin.search(_counted(steps), WARM_MIN)

    def ruin_for(self, seconds: float) -> None:
        self.ruin.search(_timed(seconds), WARM_MIN)

    def run(self, seconds: float) -> None:
        """What has bettered the plan most for its time gets four turns in five."""
        until = own_seconds() + seconds
        ways = (self.solve, self.ruin_for)
        gained, spent = [1.0, 1.0], [0.0, 0.0]
        turns = 0
        while (began := own_seconds()) < until:
            rates = [gain / max(took, 1e-3) for gain, took in zip(gained, spent, strict=True)]
            better = 0 if rates[0] > rates[1] else 1
            way = turns if turns < 2 else better if self.rng.random() < 0.8 else 1 - better
            before = energy(self.board.cost())
            ways[way](min(TURN_S, until - began))
            gained[way] = FADING * gained[way] + before - energy(self.board.cost())
            spent[way] = FADING * spent[way] + own_seconds() - began
            turns += 1


def _without_pins(instance: Instance, plan: Plan) -> Plan:
    pinned = {(pin.load.kiln, pin.load.start_min) for pin in instance.pinned}
    return Plan(tuple(x for x in plan.loads if (x.kiln, x.start_min) not in pinned))


def _solve_near(board: Board, rng: Random, seconds: float | None) -> bool:
    """Re-pack one neighbourhood; True if the plan got better."""
    chosen = _neighbourhood(board, rng)
    if len(chosen) < 2:
        return False
    before = board.cost()
    model, choices = _model(board, chosen)
    now = sum(slot.end - slot.start + LOAD_COST for slot in chosen)
    values = _solved(model, choices, now, seconds)
    if not values:
        return False
    board.mark()
    for slot in chosen:
        for task, moulds in list(slot.items.items()):
            board.take(slot, task, moulds)
        board.drop(slot)
    for choice in choices:
        if round(values[choice.fired]):
            slot = board.open(choice.slot.kiln, choice.slot.start, choice.minutes)
            for task, column in choice.put.items():
                moulds = round(values[column])
                if moulds:
                    board.put(slot, task, moulds)
            if not slot.items:
                board.drop(slot)
    if board.cost() < before:
        return True
    board.undo()
    return False


def _solved(
    model: Model, choices: list[_Choice], now: float, seconds: float | None
) -> tuple[float, ...]:
    """Columns of a cheaper way to fire the same work; empty if none was found.

    First which loads are fired, with moulds allowed to be split; then whole moulds into those.
    """
    model.row({c.fired: model.cost[c.fired] for c in choices}, upper=now - LOAD_COST / 2)
    limit_s, nodes = (PLENTY_S, NODES) if seconds is None else (max(0.1, seconds), None)
    answer = model.solve(limit_s, nodes)
    if not answer.values:
        return ()
    for choice in choices:
        model.fix(choice.fired, round(answer.values[choice.fired]))
        for column in choice.put.values():
            model.whole[column] = True
    return model.solve(limit_s, nodes).values


def _neighbourhood(board: Board, rng: Random) -> list[Slot]:
    movable = [s for s in board.slots() if s.pinned is None]
    if not movable:
        return []
    few = [rng.choice(movable) for _ in range(3)]
    seed = max(few, key=lambda s: s.free)
    size = rng.randint(FEWEST, MOST)
    if rng.random() < 0.5:
        near = sorted(movable, key=lambda s: abs(s.start - seed.start))
    else:
        bits = 0
        for task in seed.items:
            bits |= board.problem.bit[board.problem.box[task]]
        near = sorted(movable, key=lambda s: (not s.mask & bits, abs(s.start - seed.start)))
    return near[:size]


def _model(board: Board, chosen: list[Slot]) -> tuple[Model, list[_Choice]]:
    problem = board.problem
    model = Model()
    need: dict[int, int] = {}
    for slot in chosen:
        for task, moulds in slot.items.items():
            need[task] = need.get(task, 0) + moulds
    limits = _limits(board, need, chosen)
    choices: list[_Choice] = []
    for slot in chosen:
        once: dict[int, float] = {}
        for minutes, members in _programmes(board, slot, need, limits):
            end = slot.start + problem.base_min[slot.kiln] + minutes
            fired = model.column(end - slot.start + LOAD_COST, upper=1, whole=True)
            once[fired] = 1.0
            places = {fired: -float(problem.places[slot.kiln])}
            put = {}
            for task in members:
                each = problem.each[task]
                most = min(need[task], problem.places[slot.kiln] // each)
                column = model.column(upper=most)
                put[task] = column
                places[column] = float(each)
                model.row({column: 1.0, fired: -float(most)}, upper=0)
            model.row(places, upper=0)
            choices.append(_Choice(slot, minutes, end, fired, put))
        if once:
            model.row(once, upper=1)
    for task, moulds in need.items():
        terms = {c.put[task]: 1.0 for c in choices if task in c.put}
        model.row(terms, lower=moulds, upper=moulds)
    _mould_rows(board, model, chosen, choices)
    return model, choices


def _limits(board: Board, need: dict[int, int], chosen: list[Slot]) -> dict[int, tuple[int, int]]:
    """For each task the earliest start and the latest end that keep every promise as it is.

    Where both firings of a job are in the neighbourhood, each keeps to its side of where the
    second starts now.
    """
    problem = board.problem
    limits = {}
    for task in need:
        latest = board.must_end_by(task)
        if problem.after[task] < 0:
            order = problem.order[task]
            latest = problem.due[order]
            for other in problem.order_tasks[order]:
                latest = max(latest, board.end_of(other))
        earliest = board.ready_at(task)
        if problem.before[task] in need:
            # Its first firing may end as late as this one starts now, so this one starts then.
            earliest = board.start_of(task)
        limits[task] = (earliest, latest)
    return limits


def _programmes(
    board: Board, slot: Slot, need: dict[int, int], limits: dict[int, tuple[int, int]]
) -> list[tuple[int, list[int]]]:
    """(minutes, tasks) choices for a slot, each set of tasks sharing one temperature."""
    problem = board.problem
    kiln = slot.kiln
    room_until = _room_until(board, slot)
    bits = problem.kiln_bits[kiln]
    able = [
        task
        for task in need
        if kiln in problem.task_kilns[task]
        and bits & problem.bit[problem.box[task]]
        and limits[task][0] <= slot.start
    ]
    found: list[tuple[int, frozenset[int]]] = []
    low_c = problem.instance.kilns[kiln].temp_min_c
    for minutes in sorted({problem.lower_min[problem.box[t]] for t in able} | {slot.minutes}):
        end = slot.start + problem.base_min[kiln] + minutes
        if end > room_until:
            continue
        at_minutes = problem.bits_at_minutes(minutes)
        members = [
            t for t in able if at_minutes & problem.bit[problem.box[t]] and end <= limits[t][1]
        ]
        for temp in sorted({max(low_c, problem.boxes[problem.box[t]][0]) for t in members}):
            inside = frozenset(
                t
                for t in members
                if problem.boxes[problem.box[t]][0] <= temp <= problem.boxes[problem.box[t]][1]
            )
            if inside and not any(inside <= other for _, other in found):
                found = [f for f in found if f[0] < minutes or not f[1] <= inside]
                found.append((minutes, inside))
    return _most_useful(board, slot, need, found)


def _most_useful(
    board: Board, slot: Slot, need: dict[int, int], found: list[tuple[int, frozenset[int]]]
) -> list[tuple[int, list[int]]]:
    """The programmes that suit most work; one that suits what is in the slot now comes first."""
    each, here = board.problem.each, set(slot.items)

    def order(programme: tuple[int, frozenset[int]]) -> tuple[bool, int]:
        minutes, tasks = programme
        as_now = minutes <= slot.minutes and here <= tasks
        return not as_now, -sum(need[task] * each[task] for task in tasks)

    chosen = sorted(found, key=order)[:MOST_PROGRAMMES]
    return [(minutes, sorted(tasks)) for minutes, tasks in chosen]


def _room_until(board: Board, slot: Slot) -> int:
    """How long the slot could last: to the kiln's next load and to closing time."""
    problem = board.problem
    hours = problem.hours
    slots = board.kiln_slots[slot.kiln]
    at = slots.index(slot)
    until = slots[at + 1].start if at + 1 < len(slots) else hours.last
    base = problem.base_min[slot.kiln]
    longest = slot.minutes
    while longest < slot.minutes + 120:
        occupancy = base + longest + 1
        inside = hours.inside_min(problem.preheat[slot.kiln] + longest + 1, occupancy)
        if hours.earliest_start(slot.start, inside, occupancy) != slot.start:
            break
        longest += 1
    return min(until, slot.start + base + longest)


def _mould_rows(board: Board, model: Model, chosen: list[Slot], choices: list[_Choice]) -> None:
    """At every start the moulds in use, here and in loads that stay, are at most those owned."""
    problem = board.problem
    chosen_ids = set(map(id, chosen))
    starts = sorted({slot.start for slot in chosen})
    for shape, owned in enumerate(problem.owned):
        hold = problem.hold[shape]
        others = [
            (s.start, s.end + hold, s.use[shape])
            for s in board.slots()
            if id(s) not in chosen_ids and shape in s.use
        ]
        instants = set(starts)
        for start, _, _ in others:
            if any(c.slot.start <= start < c.end + hold for c in choices):
                instants.add(start)
        for instant in sorted(instants):
            terms = {
                column: 1.0
                for c in choices
                if c.slot.start <= instant < c.end + hold
                for task, column in c.put.items()
                if problem.shape[task] == shape
            }
            if not terms:
                continue
            used = sum(n for start, end, n in others if start <= instant < end)
            model.row(terms, upper=max(0, owned - used))
