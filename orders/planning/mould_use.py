"""How many moulds of one shape are tied up at each minute, as a step function."""

from __future__ import annotations

from bisect import bisect_left, bisect_right

from orders.planning.calendar import NEVER


class MouldUse:
    """Steps of use: from `times[n]` to the next step, `levels[n]` moulds are tied up.

    >>> use = MouldUse()
    >>> use.add(100, 200, 3); use.add(150, 300, 2)
    >>> use.peak(0, 150), use.peak(0, 151), use.peak(200, 500)
    (3, 5, 2)
    >>> use.free_from(0, minutes=120, most=2)
    200
    """

    __slots__ = ("levels", "times")

    def __init__(self) -> None:
        self.times = [-NEVER]
        self.levels = [0]

    def add(self, start: int, end: int, moulds: int) -> None:
        """Tie up so many more moulds through [start, end) [min]; fewer if below 0."""
        if end <= start:
            return
        times, levels = self.times, self.levels
        first = bisect_left(times, start)
        if first == len(times) or times[first] != start:
            times.insert(first, start)
            levels.insert(first, levels[first - 1])
        last = bisect_left(times, end, first)
        if last == len(times) or times[last] != end:
            times.insert(last, end)
            levels.insert(last, levels[last - 1])
        for step in range(first, last):
            levels[step] += moulds
        # Steps that are none are taken out, the later one first.
        for step in (last, first):
            if levels[step] == levels[step - 1]:
                del times[step], levels[step]

    def peak(self, start: int, end: int) -> int:
        """Most moulds tied up at any minute of [start, end)."""
        times = self.times
        first = bisect_right(times, start) - 1
        last = bisect_left(times, end, first)
        if last <= first + 1:
            return self.levels[first]
        return max(self.levels[first:last])

    def free_from(self, start: int, minutes: int, most: int) -> int:
        """First minute from `start` on from which no more than `most` are tied up for so long."""
        if most < 0:
            return NEVER
        times, levels = self.times, self.levels
        step = bisect_right(times, start) - 1
        many = len(times)
        while True:
            if levels[step] > most:
                # After the last step nothing is tied up, so this ends.
                while levels[step] > most:
                    step += 1
                start = times[step]
            end = start + minutes
            step += 1
            while step < many and times[step] < end:
                if levels[step] > most:
                    break
                step += 1
            else:
                return start

    def next_change(self, after: int) -> int:
        """The first step after a minute; NEVER if there is none."""
        step = bisect_right(self.times, after)
        return self.times[step] if step < len(self.times) else NEVER
