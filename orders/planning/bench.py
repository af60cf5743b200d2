"""Bench capacity: when the hands have time for a step of the work.

The day's free minutes of a skill (capacity less what is already committed) are taken to be
spread evenly over the day's working windows: a day of 480 working minutes with 240 free
minutes of stringing finishes 120 minutes of stringing in 240 minutes of clock. This is a plain
average, our choice; it promises nothing about which hand does what.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN, Calendar, Span


@dataclass(frozen=True, slots=True)
class Step:
    """Bench work of one skill: hand minutes of it that a job or an order needs."""

    skill: str
    minutes: float


@dataclass(frozen=True, slots=True)
class BenchUse:
    """Hand minutes of a skill to commit on a day."""

    day: int
    skill: str
    minutes: float


@dataclass(frozen=True, slots=True)
class StepTime:
    """When one step is done, and what to commit for it."""

    step: Step
    from_min: int
    done_min: int
    uses: tuple[BenchUse, ...]


def free_minutes(
    capacity_min: Mapping[str, float],
    days: Iterable[int],
    committed_min: Mapping[tuple[int, str], float],
) -> dict[tuple[int, str], float]:
    """Free hand minutes by (day, skill), from a working day's capacity less what is committed.

    >>> free_minutes({"stringing": 480}, [0, 1], {(0, "stringing"): 400})
    {(0, 'stringing'): 80, (1, 'stringing'): 480}
    """
    return {
        (day, skill): max(0, minutes - committed_min.get((day, skill), 0))
        for day in days
        for skill, minutes in capacity_min.items()
    }


class Bench:
    """A working copy of the free minutes, drawn down as steps are placed.

    free_min  by (day, skill); days that are missing have none. A skill that is missing on every
              day is not limited: a workshop that never entered it is not held up by it.
    hands     by skill, the groups of hands that can do it, in the order they are asked;
              `free_min` is then by (day, group). A skill of no group has itself for its group.
    """

    def __init__(
        self,
        calendar: Calendar,
        free_min: Mapping[tuple[int, str], float],
        hands: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self.free = dict(free_min)
        self.limited = {group for _, group in free_min}
        self.hands = hands or {}
        self.windows: dict[int, list[Span]] = {}
        for start, end in sorted(calendar.open):
            day = start // DAY_MIN
            while start < end:
                cut = min(end, (day + 1) * DAY_MIN)
                self.windows.setdefault(day, []).append((start, cut))
                start, day = cut, day + 1
        self.days = sorted(self.windows)
        self.working = {day: sum(b - a for a, b in spans) for day, spans in self.windows.items()}

    def do(self, step: Step, from_min: int) -> StepTime:
        """The earliest time the step is done if started at or after `from_min`; commits it.

        Raises PlanningError if the calendar ends first.
        """
        if step.minutes <= 0:
            return StepTime(step, from_min, from_min, ())
        groups = self.hands.get(step.skill, (step.skill,))
        if not self.limited.intersection(groups):
            return StepTime(step, from_min, self._by_the_clock(step, from_min), ())
        left = step.minutes
        uses = []
        for day in self.days[bisect_left(self.days, from_min // DAY_MIN) :]:
            free = sum(self.free.get((day, group), 0.0) for group in groups)
            if free <= 1e-9:
                continue
            working = self.working[day]
            usable = self._working_after(day, from_min) * free / working
            taken = min(left, usable)
            if taken <= 1e-9:
                continue
            self._take(day, groups, taken)
            uses.append(BenchUse(day, step.skill, taken))
            left -= taken
            if left <= 1e-9:
                done = self._clock(day, from_min, taken * working / free)
                return StepTime(step, from_min, done, tuple(uses))
        raise PlanningError(
            f"The bench has no time for {step.minutes:.0f} minutes of {step.skill}: "
            f"{left:.0f} minutes find no place before the calendar ends. "
            "Add working days, or hands with that skill."
        )

    def _take(self, day: int, groups: Sequence[str], minutes: float) -> None:
        """Those who can do little else first, so that the others stay free."""
        for group in groups:
            part = min(minutes, self.free.get((day, group), 0.0))
            if part > 0:
                self.free[day, group] -= part
                minutes -= part

    def do_all(self, steps: Iterable[Step], from_min: int) -> tuple[int, tuple[StepTime, ...]]:
        """Steps one after another; returns when the last is done."""
        times = []
        for step in steps:
            times.append(self.do(step, from_min))
            from_min = times[-1].done_min
        return from_min, tuple(times)

    def _working_after(self, day: int, from_min: int) -> int:
        return sum(max(0, end - max(start, from_min)) for start, end in self.windows[day])

    def _clock(self, day: int, from_min: int, working_min: float) -> int:
        """The minute of the day at which so many working minutes have passed."""
        for start, end in self.windows[day]:
            start = max(start, from_min)
            if end <= start:
                continue
            if working_min <= end - start + 1e-9:
                return start + ceil(working_min - 1e-9)
            working_min -= end - start
        return self.windows[day][-1][1]

    def _by_the_clock(self, step: Step, from_min: int) -> int:
        """One pair of hands, working hours only."""
        left = step.minutes
        for day in self.days[bisect_left(self.days, from_min // DAY_MIN) :]:
            working = self._working_after(day, from_min)
            if left <= working:
                return self._clock(day, from_min, left)
            left -= working
        raise PlanningError(
            f"{step.minutes:.0f} minutes of {step.skill} are not done before the calendar ends. "
            "Add working days."
        )
