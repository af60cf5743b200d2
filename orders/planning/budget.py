"""How long a search may go on: steps that are counted, or seconds of the planner's own work.

Seconds are counted on the processor's clock of this thread, so that a busy machine makes a search
take longer and not worse.
"""

from __future__ import annotations

import time
from collections.abc import Callable

own_seconds = time.thread_time
"""The clock of the planner's own work [s]."""

STILL_FALLING = 0.12
"""A first plan goes on for this share of the time after orders last came out less late."""

LONGEST_SHARE = 0.95
"""Share of the time that a first plan may take at most, however late orders are. Our choice."""


class Budget:
    """Seconds or steps, asked as a share that runs from 0 to 1.

    share  of the seconds that this part may take; longer while orders still come out less late
    """

    def __init__(self, seconds: float | None, steps: int | None, share: float = 1.0) -> None:
        if seconds is None and steps is None:
            raise ValueError("Give seconds or steps.")
        self.began = own_seconds()
        self.seconds = seconds
        self.steps = steps
        self.share = share
        self.taken = 0
        self._least_late: int | None = None

    def note(self, tardiness_min: int) -> None:
        """Tell how late all orders are together, whenever a plan has become better."""
        if self._least_late is None or tardiness_min < self._least_late:
            if self._least_late is not None and self.seconds and self.share < 1:
                part = (own_seconds() - self.began) / self.seconds
                self.share = min(LONGEST_SHARE, max(self.share, part + STILL_FALLING))
            self._least_late = tardiness_min

    def seconds_left(self) -> float:
        """Seconds that the whole search has left."""
        return max(0.0, (self.seconds or 0.0) - (own_seconds() - self.began))

    def spent(self) -> float:
        if self.seconds is None:
            return 0.0
        if self.seconds <= 0:
            return 1.0
        return (own_seconds() - self.began) / (self.seconds * self.share)

    def over(self) -> bool:
        return self.spent() >= 1

    def chain(self, chain_steps: int) -> Callable[[], float]:
        """A function for a search: share of one chain, or of what is left, used up."""
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
