"""An instance with kilns kept hot, compiled and checked as `orders.planning.problem` does.

Minutes of piercing are counted in whole parts of a minute (`parts`), so that sums are exact.
"""

from __future__ import annotations

from collections.abc import Hashable
from fractions import Fraction
from math import lcm

from orders.planning.errors import PlanningError
from orders.planning.instance import Firing, Instance, Kiln, Pierce
from orders.planning.problem import Problem
from workshop.physics.kept_hot import KeptHot, exact

Method = tuple[Hashable, bool]
"""A skill, and whether moulds are drawn one by one: all pierced in a round are alike in both."""


class RoundProblem(Problem):
    def __init__(self, instance: Instance) -> None:
        pierced = [f.pierce for job in instance.jobs for f in job.firings if f.pierce]
        figures = [exact(x) for p in pierced for x in (p.minutes_a_mould, p.window_min)]
        self.parts = lcm(*(f.denominator for f in figures)) if figures else 1
        self.count: dict[Hashable, int] = {}
        for hands in instance.hands:
            if hands.skill in self.count:
                raise PlanningError(
                    f"Hands for {hands.skill} are listed twice; put them together in one line."
                )
            self.count[hands.skill] = hands.count
        super().__init__(instance)
        self._turns: dict[tuple[int, float, float], int] = {}

    def _kilns(self) -> None:
        super()._kilns()
        self.hot: list[KeptHot | None] = [kiln.hot for kiln in self.instance.kilns]
        for k, hot in enumerate(self.hot):
            if hot is not None:
                self.preheat[k] = self.base_min[k] = hot.warm_up_min + hot.change_min

    def _moulds(self) -> None:
        super()._moulds()
        self.hot_hold = [mould.tied_up_hot_min for mould in self.instance.moulds]

    def _boxes(self) -> None:
        super()._boxes()
        self.method: list[Method | None] = []
        self.hand_parts: list[int] = []
        self.window_parts: list[int] = []
        for task, firing in enumerate(self.what):
            self.method.append(self._method(task, firing.pierce))
            pierce = firing.pierce
            self.hand_parts.append(self._in_parts(pierce.minutes_a_mould) if pierce else 0)
            self.window_parts.append(self._in_parts(pierce.window_min) if pierce else 0)
        self.anneal = [firing.anneal_min for firing in self.what]
        self.slow = [firing.slow_min for firing in self.what]

    def _in_parts(self, minutes: Fraction) -> int:
        return int(exact(minutes) * self.parts)

    def _method(self, task: int, pierce: Pierce | None) -> Method | None:
        if pierce is None:
            return None
        job = self.job[task]
        if not self.count.get(pierce.skill):
            raise PlanningError(
                f"Job {job.id} is pierced while it is hot and nobody is there with the skill "
                f"{pierce.skill}; add at least one hand.",
                job=job.id,
            )
        if pierce.one_by_one and exact(pierce.minutes_a_mould) > exact(pierce.window_min):
            raise PlanningError(
                f"Job {job.id} cannot be pierced: a mould takes {float(pierce.minutes_a_mould):g} "
                f"minutes and stays soft for {float(pierce.window_min):g}; use moulds with fewer "
                "cavities or fire it hotter.",
                job=job.id,
            )
        return pierce.skill, pierce.one_by_one

    def turn_min(self, kiln: int, from_c: float, to_c: float) -> int:
        if from_c == to_c:
            return 0
        key = (kiln, from_c, to_c)
        found = self._turns.get(key)
        if found is None:
            hot = self.hot[kiln]
            found = self._turns[key] = hot.turn_min(from_c, to_c) if hot else 0
        return found

    def _alike(self, task: int) -> tuple[Hashable, ...]:
        what = self.what[task]
        return (*super()._alike(task), what.way, what.pierce, what.slow_min)

    def _usable_kilns(self, task: int) -> tuple[tuple[int, ...], int]:
        # Kept apart from the closed planner's: what differs is which kilns are of the right kind.
        job, what = self.job[task], self.what[task]
        kilns = self.instance.kilns
        right = [k for k, kiln in enumerate(kilns) if _right_kind(kiln, what)]
        if not right:
            needed = "kept hot" if what.pierce or what.way == "hot" else "closed"
            raise PlanningError(
                f"Job {job.id} cannot be fired: firing {self.firing[task]} needs a kiln that is "
                f"{needed}, and there is none; add one or let it be fired the other way.",
                job=job.id,
            )
        mould = self.instance.moulds[self.shape[task]]
        low_c, high_c, minutes, most = self.boxes[self.box[task]]
        span = self._shortest_span(task)
        if what.pierce and what.pierce.one_by_one and minutes + span > most:
            raise PlanningError(
                f"Job {job.id} cannot be fired: one mould takes {span} minutes to pierce and may "
                f"wait only {most - minutes} in the heat; give it more minutes or more hands.",
                job=job.id,
            )
        if what.pierce and not what.pierce.one_by_one and self._too_slow_together(task):
            raise PlanningError(
                f"Job {job.id} cannot be pierced: not even one mould is done while it is soft; use "
                "more hands or moulds with fewer cavities.",
                job=job.id,
            )
        fits = []
        for k in right:
            kiln = kilns[k]
            reaches = kiln.temp_min_c <= high_c and low_c <= kiln.temp_max_c
            inside = self._inside(k, minutes + (0 if kiln.hot else what.slow_min))
            if kiln.hot:
                inside = self.base_min[k] + minutes + span
            elif self.hours.past_closing:
                inside = self.preheat[k] + minutes
            if (
                reaches
                and kiln.places >= mould.places
                and mould.count > 0
                and inside <= self.hours.longest_min
            ):
                fits.append(k)
        if not fits:
            # The closed planner's own sentences say which limit it was, where they can.
            super()._usable_kilns(task)
            raise PlanningError(
                f"Job {job.id} cannot be fired: no kiln of the right kind is hot and large enough "
                "and done within one working window; widen its window or change a kiln.",
                job=job.id,
            )
        return tuple(fits), min(self.occupancy(k, minutes, what.slow_min) for k in fits) + span

    def occupancy(self, kiln: int, minutes: int, slow_min: int) -> int:
        """From lighting to the end, fired alone and without piercing."""
        return self.base_min[kiln] + minutes + (0 if self.hot[kiln] else slow_min)

    def lead(self, kiln: int) -> int:
        hot = self.hot[kiln]
        return hot.warm_up_min if hot else 0

    def turn(self, kiln: int, minutes: int) -> int:
        hot = self.hot[kiln]
        return hot.change_min + minutes if hot else super().turn(kiln, minutes)

    def alone_turn(self, task: int, kiln: int) -> int:
        more = self._shortest_span(task) if self.hot[kiln] else self.slow[task]
        return self.turn(kiln, self.lower_min[self.box[task]]) + more

    def turn_inside(self, kiln: int, minutes: int) -> int:
        return self.turn(kiln, minutes) if self.hot[kiln] else super().turn_inside(kiln, minutes)

    def cools(self, task: int, kiln: int) -> int:
        return self.anneal[task] if self.hot[kiln] else 0

    def least_hold(self, shape: int) -> int:
        if all(self.hot):
            return self.hot_hold[shape]
        return min(self.hold[shape], self.hot_hold[shape])

    def _shortest_span(self, task: int) -> int:
        method = self.method[task]
        if method is None:
            return 0
        return -(-self.hand_parts[task] // (self.parts * self.count[method[0]]))

    def _too_slow_together(self, task: int) -> bool:
        method = self.method[task]
        return method is not None and self.hand_parts[task] > (
            self.window_parts[task] * self.count[method[0]]
        )


def _right_kind(kiln: Kiln, firing: Firing) -> bool:
    if kiln.hot is None:
        return firing.pierce is None and firing.way != "hot"
    return firing.way != "closed"


def compiled(instance: Instance) -> Problem:
    """The instance for the planner that knows its kilns."""
    return RoundProblem(instance) if instance.has_rounds else Problem(instance)
