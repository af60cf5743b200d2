"""The fewest kiln minutes of any plan with rounds that is no later than a given one.

As `cover`, by kiln and working window: what is due must be in by the window its due minute lies in,
nothing goes in before its release, and a window holds no more minutes than it has. Orders may be
late only as far as the tardiness of the given plan goes: an order with work still to go in after a
window is late at least until the next one opens.

A relaxation: moulds tied up, hands, turns of heat and whole rounds are forgotten, so every plan as
punctual has at least so many kiln minutes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from math import inf

from orders.planning.milp import Model, at_least
from orders.planning.problem import moulds_needed
from orders.planning.rounds.cover import Point, alike, classes_of, points_of
from orders.planning.rounds.problem import RoundProblem

LATE_WINDOWS = 2
"""Windows after the last due one that are still told apart. Our choice."""


def least_kiln_minutes_no_later(problem: RoundProblem, tardiness_min: int, seconds: float) -> int:
    """Kiln minutes that no plan with at most this tardiness can do with less of.

    seconds  the solver may take, about; 0 if it was not done by then

    Source: linear relaxation, proved in the module's first paragraphs.
    """
    if not problem.job:
        return 0
    answer = _DueCover(problem, tardiness_min).model.solve(seconds)
    return at_least(answer.bound)


class _DueCover:
    def __init__(self, problem: RoundProblem, tardiness_min: int) -> None:
        self.problem = problem
        self.model = Model()
        self.classes = classes_of(problem)
        number = {alike(problem, c.task): n for n, c in enumerate(self.classes)}
        tasks = range(len(problem.job))
        self.class_of = [number[alike(problem, task)] for task in tasks]
        self.need = [moulds_needed(problem.beads[t], problem.what[t].cavities) for t in tasks]
        self._windows()
        self.put: list[list[dict[int, float]]] = [
            [{} for _ in range(self.windows + 1)] for _ in self.classes
        ]
        for kiln in range(len(problem.places)):
            self._kiln(kiln)
        self.late = self._lateness(tardiness_min) if tardiness_min else {}
        for n in range(len(self.classes)):
            self._due_and_released(n)

    def _windows(self) -> None:
        """For each task the last window it can go in to be on time, and the first it can go in."""
        problem, hours = self.problem, self.problem.hours
        tasks = range(len(problem.job))
        self.last = [0] * len(tasks)
        self.first = [0] * len(tasks)
        due, ready = [0] * len(tasks), [0] * len(tasks)
        for task in reversed(tasks):
            by, after = problem.due[problem.order[task]], problem.after[task]
            if after >= 0:
                turns = (problem.alone_turn(after, k) for k in problem.task_kilns[after])
                by = due[after] - min(turns) - problem.gap[task]
            by -= min(problem.cools(task, k) for k in problem.task_kilns[task])
            due[task] = hours.open_by(by)
            self.last[task] = max(-1, bisect_right(hours.opens, due[task] - 1) - 1)
        for task in tasks:
            ready[task], before = problem.release[task], problem.before[task]
            if before >= 0:
                turns = (
                    problem.alone_turn(before, k) + problem.cools(before, k)
                    for k in problem.task_kilns[before]
                )
                out = ready[before] + min(turns) + problem.gap[before]
                ready[task] = max(ready[task], out)
            self.first[task] = bisect_left(hours.closes, ready[task])
        self.windows = min(len(hours.opens), max(self.last) + 1 + LATE_WINDOWS)

    def _kiln(self, kiln: int) -> None:
        """Rounds of each programme in each window, and all that comes later as one window more."""
        problem, model, hours = self.problem, self.model, self.problem.hours
        hot = problem.hot[kiln]
        points = points_of(problem, self.classes, kiln)
        for window in range(self.windows + 1):
            later = window == self.windows
            row: dict[int, float] = {}
            for point in points:
                self._point(point, window, row)
            length = hours.longest_min if later else hours.closes[window] - hours.opens[window]
            if hot:
                lit = model.column(hot.warm_up_min, upper=inf if later else 1)
                model.row({**row, lit: -float(length - hot.warm_up_min)}, upper=0)
            elif not later and row:
                # The last load of a window may cool past its closing.
                slowest = max(
                    self.problem.slow[self.classes[n].task] for p in points for n in p.classes
                )
                past = problem.turn(kiln, 0) - problem.preheat[kiln] + slowest
                model.row(row, upper=length + (past if hours.past_closing else 0))

    def _point(self, point: Point, window: int, row: dict[int, float]) -> None:
        """Adds the rounds of one programme in one window; `row` gets the minutes they take."""
        problem, model = self.problem, self.model
        places, hot = problem.places[point.kiln], problem.hot[point.kiln]
        each = float(problem.turn(point.kiln, point.minutes))
        fired = model.column(each)
        row[fired] = each
        room = {fired: -float(places)}
        pierced: dict[int, float] = {}
        spare = 0
        for n in sorted(point.classes):
            task = self.classes[n].task
            most = min(problem.owned[problem.shape[task]], places // problem.each[task])
            x = model.column(upper=self.classes[n].moulds)
            self.put[n][window][x] = 1.0
            room[x] = float(problem.each[task])
            model.row({x: 1.0, fired: -float(most)}, upper=0)
            method = problem.method[task]
            if hot and method and method[1]:
                pierced[x] = problem.hand_parts[task] / problem.parts / problem.count[method[0]]
                spare = max(spare, problem.boxes[problem.box[task]][3] - point.minutes)
            elif not hot:
                # A load soaks as long as the slowest in it: at least as long as the mean place.
                slow = problem.slow[task] * problem.each[task] / places
                model.cost[x] = row[x] = slow
        model.row(room, upper=0)
        if pierced:
            span = model.column(1.0)
            row[span] = 1.0
            model.row({**pierced, span: -1.0}, upper=0)
            model.row({**pierced, fired: -float(spare)}, upper=0)

    def _lateness(self, tardiness_min: int) -> dict[tuple[int, int], int]:
        """Columns that are 1 where an order is out only after a later window has opened.

        Work of it put in after a window in which it was due makes it so, a first firing too: its
        second goes in later still. Together they may be late for as long as the tardiness says.
        """
        problem, model, opens = self.problem, self.model, self.problem.hours.opens
        late: dict[tuple[int, int], int] = {}
        paid: dict[int, float] = {}
        for order, tasks in enumerate(problem.order_tasks):
            if not tasks:
                continue
            due = problem.due[order]
            for window in range(max(0, min(self.last[t] for t in tasks)), self.windows):
                column = late[order, window] = model.column(upper=1)
                if (order, window - 1) in late:
                    model.row({column: 1.0, late[order, window - 1]: -1.0}, upper=0)
                if window + 1 < len(opens):
                    later = opens[window + 1] - max(due, opens[window])
                    paid[column] = float(max(0, later))
        model.row(paid, upper=tardiness_min)
        return late

    def _due_and_released(self, n: int) -> None:
        model = self.model
        tasks = [t for t, number in enumerate(self.class_of) if number == n]
        total = sum(self.need[t] for t in tasks)
        so_far: dict[int, float] = {}
        for window in range(self.windows):
            so_far = {**so_far, **self.put[n][window]}
            due = [t for t in tasks if self.last[t] <= window]
            if due:
                terms = dict(so_far)
                for task in due:
                    column = self.late.get((self.problem.order[task], window))
                    if column is not None:
                        terms[column] = terms.get(column, 0.0) + self.need[task]
                model.row(terms, lower=sum(self.need[t] for t in due))
            released = sum(self.need[t] for t in tasks if self.first[t] <= window)
            if released < total:
                model.row(so_far, upper=released)
        model.row({**so_far, **self.put[n][self.windows]}, lower=total)
