"""The fewest kiln minutes and loads any plan can do with, when time is forgotten.

Every load is fired at some point (temperature, minutes) which may be moved to the lower ends of
the windows in it without growing dearer. So it is enough to look at finitely many points, and
to count how many loads of each point are needed so that every mould fits somewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

from orders.planning.milp import Model, at_least
from orders.planning.problem import Problem, moulds_needed

MOST_POINTS = 60
"""Beyond this many points windows are widened outward to a grid: still a bound, a little lower."""


@dataclass(frozen=True, slots=True)
class KilnType:
    places: int
    base_min: int
    low_c: float
    high_c: float
    count: int


@dataclass(frozen=True, slots=True)
class Point:
    """A programme worth considering: kiln type, minutes, and the classes that may be in it."""

    kiln: KilnType
    temp_c: float
    minutes: int
    classes: frozenset[int]


@dataclass(frozen=True, slots=True)
class Class:
    """All tasks with one box and one mould shape."""

    box: tuple[float, float, int, int]
    shape: int
    moulds: int


def kiln_types(problem: Problem) -> list[KilnType]:
    """Kilns that are alike in places, minutes without the hold, and temperatures, counted once."""
    counts: dict[tuple[int, int, float, float], int] = {}
    for k, kiln in enumerate(problem.instance.kilns):
        kind = (kiln.places, problem.base_min[k], kiln.temp_min_c, kiln.temp_max_c)
        counts[kind] = counts.get(kind, 0) + 1
    return [KilnType(*kind, count) for kind, count in counts.items()]


def classes_of(problem: Problem, step: int) -> tuple[list[Class], list[int]]:
    """Classes with their moulds, and the class of each task.

    step  windows are widened outward to multiples of this (1: left as they are)
    """
    index: dict[tuple, int] = {}
    moulds: list[int] = []
    of_task = []
    for task, firing in enumerate(problem.what):
        low_c, high_c, low_min, high_min = problem.boxes[problem.box[task]]
        if step > 1:
            low_c, high_c = low_c // (5 * step) * (5 * step), -(-high_c // (5 * step)) * (5 * step)
            low_min, high_min = low_min // step * step, -(-high_min // step) * step
        kind = ((low_c, high_c, low_min, high_min), problem.shape[task])
        number = index.setdefault(kind, len(index))
        if number == len(moulds):
            moulds.append(0)
        moulds[number] += moulds_needed(problem.beads[task], firing.cavities)
        of_task.append(number)
    kinds = list(index)
    found = [Class(box, shape, n) for (box, shape), n in zip(kinds, moulds, strict=True)]
    return found, of_task


def points_of(problem: Problem, classes: list[Class]) -> list[Point]:
    """Points from the lower ends of the windows, without those another point beats."""
    points: list[Point] = []
    lows_c = sorted({c.box[0] for c in classes})
    lows_min = sorted({c.box[2] for c in classes})
    for kiln in kiln_types(problem):
        kept: list[Point] = []
        temps = sorted({max(kiln.low_c, t) for t in lows_c if t <= kiln.high_c})
        fits = [problem.mould_places[c.shape] <= kiln.places for c in classes]
        for minutes in lows_min:
            at_minutes = [
                (n, c.box[0], c.box[1])
                for n, c in enumerate(classes)
                if fits[n] and c.box[2] <= minutes <= c.box[3]
            ]
            for temp in temps:
                inside = frozenset(n for n, low, high in at_minutes if low <= temp <= high)
                # Kept points have no more minutes, so a superset among them is always better.
                if inside and not any(inside <= p.classes for p in kept):
                    kept = [p for p in kept if p.minutes < minutes or not p.classes <= inside]
                    kept.append(Point(kiln, temp, minutes, inside))
        points += kept
    return points


def classes_and_points(problem: Problem) -> tuple[list[Class], list[int], list[Point]]:
    """Tasks with alike windows as classes, the class of each task, and the firings (temperature
    [°C] and minutes) that could serve them. Windows are widened to a coarser grid until there are
    few enough points: a wider window can only lower the bound."""
    step = 1
    while True:
        classes, of_task = classes_of(problem, step)
        points = points_of(problem, classes)
        if len(points) <= MOST_POINTS * len(kiln_types(problem)) or step > 60:
            return classes, of_task, points
        step = 5 if step == 1 else step * 2


def least_kiln_minutes_and_loads(problem: Problem, seconds: float = 10.0) -> tuple[int, int]:
    """(kiln minutes, loads) no plan can go below; each a bound on its own.

    Source: covering argument, proved in the module's first paragraph.
    """
    if not problem.job:
        return 0, 0
    classes, _, points = classes_and_points(problem)
    minutes = _cover(problem, classes, points, by_loads=False).solve(seconds / 2)
    loads = _cover(problem, classes, points, by_loads=True).solve(seconds / 2)
    return at_least(minutes.bound), at_least(loads.bound)


def _cover(problem: Problem, classes: list[Class], points: list[Point], *, by_loads: bool) -> Model:
    model = Model()
    placed: list[dict[int, float]] = [{} for _ in classes]
    for point in points:
        cost = 1 if by_loads else point.kiln.base_min + point.minutes
        loads = model.column(cost, whole=True)
        places = {loads: -float(point.kiln.places)}
        by_shape: dict[int, dict[int, float]] = {}
        for n in point.classes:
            shape = classes[n].shape
            most = most_in_load(problem, shape, point.kiln)
            x = model.column(upper=classes[n].moulds)
            placed[n][x] = 1.0
            places[x] = float(problem.mould_places[shape])
            by_shape.setdefault(shape, {loads: -float(most)})[x] = 1.0
        model.row(places, upper=0)
        for terms in by_shape.values():
            model.row(terms, upper=0)
    for n, terms in enumerate(placed):
        model.row(terms, lower=classes[n].moulds)
    return model


def most_in_load(problem: Problem, shape: int, kiln: KilnType) -> int:
    """Most moulds of one shape that one load of this kiln can hold."""
    return min(problem.owned[shape], kiln.places // problem.mould_places[shape])
