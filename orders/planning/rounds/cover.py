"""The fewest kiln minutes and loads any plan with rounds can do with, when time is forgotten.

As `orders.planning.cover_bound`, and: a round takes change and hold, turns of heat forgotten; what
is drawn one by one takes at least its hand minutes over all hands; a run holds no more rounds than
the longest window leaves after its warm-up; a closed load takes at least the mean of what its
places ask for in soaking.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from orders.planning.instance import Firing, Kiln
from orders.planning.milp import Model, at_least
from orders.planning.problem import moulds_needed
from orders.planning.rounds.problem import RoundProblem


@dataclass(frozen=True, slots=True)
class Class:
    """All tasks that are alike but for their order: one of them, and the moulds of all."""

    task: int
    moulds: int


@dataclass(frozen=True, slots=True)
class Point:
    """A programme worth considering in one kind of kiln, and the classes that may be in it."""

    kiln: int
    minutes: int
    classes: frozenset[int]


def least_kiln_minutes_and_loads(problem: RoundProblem, seconds: float) -> tuple[int, int]:
    """Kiln minutes and rounds that no plan can do with less of.

    seconds  the solver may take for each of the two

    Source: covering by whole numbers, as in `cover_bound`.
    """
    if not problem.job:
        return 0, 0
    classes = classes_of(problem)
    kilns = _kinds_of_kiln(problem)
    points = [point for kiln in kilns for point in points_of(problem, classes, kiln)]
    minutes = _cover(problem, classes, points, by_loads=False).solve(seconds / 2)
    loads = _cover(problem, classes, points, by_loads=True).solve(seconds / 2)
    return at_least(minutes.bound), at_least(loads.bound)


def alike(problem: RoundProblem, task: int) -> Firing:
    """What a task asks of a load; the beads a mould holds and the time to cool change nothing."""
    what = problem.what[task]
    return Firing(what.shape, 1, what.temp_c, what.minutes, what.way, what.pierce, 0, what.slow_min)


def classes_of(problem: RoundProblem) -> list[Class]:
    """Tasks that are alike but for their order, counted together."""
    first: dict[Firing, int] = {}
    moulds: dict[Firing, int] = {}
    for task, what in enumerate(problem.what):
        kind = alike(problem, task)
        first.setdefault(kind, task)
        moulds[kind] = moulds.get(kind, 0) + moulds_needed(problem.beads[task], what.cavities)
    return [Class(task, moulds[kind]) for kind, task in first.items()]


def _kinds_of_kiln(problem: RoundProblem) -> list[int]:
    """One kiln of each kind."""
    seen: dict[Hashable, int] = {}
    for k, kiln in enumerate(problem.instance.kilns):
        seen.setdefault(_kind(kiln), k)
    return list(seen.values())


def _kind(kiln: Kiln) -> Hashable:
    hot = kiln.hot and (kiln.hot.warm_up_min, kiln.hot.change_min)
    return (
        kiln.places, kiln.preheat_min, kiln.turnaround_min, kiln.temp_min_c, kiln.temp_max_c, hot,
    )  # fmt: skip


def points_of(problem: RoundProblem, classes: list[Class], kiln: int) -> list[Point]:
    """Programmes from the lower ends of the windows, without those another one beats."""
    made = problem.instance.kilns[kiln]
    boxes = [
        (n, problem.boxes[problem.box[c.task]])
        for n, c in enumerate(classes)
        if kiln in problem.task_kilns[c.task]
    ]
    kept: list[Point] = []
    for minutes in sorted({box[2] for _, box in boxes}):
        for temp in sorted({max(made.temp_min_c, box[0]) for _, box in boxes}):
            inside = frozenset(
                n for n, box in boxes if box[0] <= temp <= box[1] and box[2] <= minutes <= box[3]
            )
            # Kept points have no more minutes, so a superset among them is always better.
            if inside and not any(inside <= p.classes for p in kept):
                kept = [p for p in kept if p.minutes < minutes or not p.classes <= inside]
                kept.append(Point(kiln, minutes, inside))
    return kept


def _cover(
    problem: RoundProblem, classes: list[Class], points: list[Point], *, by_loads: bool
) -> Model:
    model = Model()
    placed: list[dict[int, float]] = [{} for _ in classes]
    run_rows: dict[int, dict[int, float]] = {}
    for point in points:
        kiln, places = point.kiln, problem.places[point.kiln]
        hot = problem.hot[kiln]
        each_min = point.minutes + (hot.change_min if hot else problem.base_min[kiln])
        loads = model.column(1 if by_loads else each_min, whole=True)
        more = model.column(0 if by_loads else 1)
        room = {loads: -float(places)}
        added = {more: -1.0}
        pierced = {}
        spare = 0
        by_shape: dict[int, dict[int, float]] = {}
        for n in sorted(point.classes):
            task = classes[n].task
            shape = problem.shape[task]
            x = model.column(upper=classes[n].moulds)
            placed[n][x] = 1.0
            room[x] = float(problem.each[task])
            most = min(problem.owned[shape], places // problem.each[task])
            by_shape.setdefault(shape, {loads: -float(most)})[x] = 1.0
            method = problem.method[task]
            if hot and method and method[1]:
                hand_min = problem.hand_parts[task] / problem.parts
                hands = problem.count[method[0]]
                added[x] = hand_min / hands
                pierced[x] = hand_min / hands
                spare = max(spare, problem.boxes[problem.box[task]][3] - point.minutes)
            elif not hot and problem.slow[task]:
                added[x] = problem.slow[task] * problem.each[task] / places
        model.row(room, upper=0)
        if len(added) > 1:
            model.row(added, upper=0)
        if pierced:
            model.row({**pierced, loads: -float(spare)}, upper=0)
        for terms in by_shape.values():
            model.row(terms, upper=0)
        if hot:
            row = run_rows.setdefault(kiln, {})
            row[loads] = float(each_min)
            row[more] = 1.0
    for kiln, row in run_rows.items():
        hot = problem.hot[kiln]
        assert hot is not None
        runs = model.column(0 if by_loads else hot.warm_up_min, whole=True)
        model.row({**row, runs: -float(problem.hours.longest_min - hot.warm_up_min)}, upper=0)
    for n, terms in enumerate(placed):
        model.row(terms, lower=classes[n].moulds)
    return model
