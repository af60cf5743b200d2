"""Working windows compiled for fast questions: earliest start, and when beads are out."""

from __future__ import annotations

from bisect import bisect_left, bisect_right

from orders.planning.errors import PlanningError
from orders.planning.instance import Calendar, Span

NEVER = 1 << 60
"""A minute later than every plan."""


class WorkingHours:
    """The calendar's windows, sorted, without those that lie inside another.

    Windows that touch stay two: a load must lie inside one of them.
    """

    def __init__(self, calendar: Calendar) -> None:
        self.past_closing = calendar.cooling_may_run_past_closing
        windows: list[Span] = []
        for start, end in sorted(calendar.open, key=lambda w: (w[0], -w[1])):
            if end < start:
                raise PlanningError(
                    f"A working window runs from minute {start} to minute {end}, which is "
                    "backwards; give its opening first and its closing second."
                )
            if not windows or end > windows[-1][1]:
                windows.append((start, end))
        if not any(end > start for start, end in windows):
            raise PlanningError(
                "The calendar has no working hours, so nothing can be fired; "
                "open at least one working window."
            )
        self.opens = [start for start, _ in windows]
        self.closes = [end for _, end in windows]
        self.last = self.closes[-1]
        self.longest_min = max(end - start for start, end in windows)
        self.worked = [0]
        for start, end in windows:
            self.worked.append(self.worked[-1] + end - start)

    def inside_min(self, firing_min: int, occupancy_min: int) -> int:
        """The part of a load's occupancy that must lie inside one window [min]."""
        return firing_min if self.past_closing else occupancy_min

    def earliest_start(self, from_min: int, inside_min: int, occupancy_min: int) -> int:
        """First start at or after `from_min` that the calendar allows, or NEVER.

        A load whose cooling would end after the last closing is not allowed: nobody would
        ever take its beads out.
        """
        closes, opens = self.closes, self.opens
        i = bisect_left(closes, from_min + inside_min)
        n = len(closes)
        while i < n:
            start = from_min if from_min > opens[i] else opens[i]
            if start + inside_min <= closes[i]:
                return start if start + occupancy_min <= self.last else NEVER
            i += 1
        return NEVER

    def out_at(self, end_min: int) -> int:
        """First working minute at or after `end_min`, or NEVER; a closing minute counts."""
        i = bisect_left(self.closes, end_min)
        if i == len(self.closes):
            return NEVER
        return end_min if end_min > self.opens[i] else self.opens[i]

    def open_by(self, by_min: int) -> int:
        """The latest working minute up to one; before the first opening, that minute itself."""
        at = bisect_right(self.opens, by_min) - 1
        return by_min if at < 0 else min(by_min, self.closes[at])

    def worked_by(self, minute: int) -> int:
        """Working minutes from the first opening up to a minute; before it, below 0."""
        at = bisect_right(self.opens, minute) - 1
        if at < 0:
            return minute - self.opens[0]
        return self.worked[at] + min(minute, self.closes[at]) - self.opens[at]
