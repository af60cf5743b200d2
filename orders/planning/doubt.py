"""Dates under doubt: days lost to no firing, and beads rejected.

Chances come from the workshop's own records. Until there are enough of them a range is given
and nothing is called "nine times in ten".
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, inf
from random import Random

from workshop.physics.chance import binomial, binomial_at_least

MIN_DAYS = 30
"""Working days on record before a chance of losing a day is used. Our choice."""

MIN_BEADS = 200
"""Beads sorted on record before a reject rate is used. Our choice."""

NEGLIGIBLE = 1e-12
"""Chances smaller than this are left out of sums."""


def _check(chance: float, assurance: float) -> None:
    if not 0 <= chance < 1:
        raise ValueError(f"The chance should be from 0 to below 1, but it is {chance}.")
    if not 0 < assurance < 1:
        raise ValueError(f"The assurance should be between 0 and 1, but it is {assurance}.")


def extra_rounds(good_needed: int, fired: int, reject_chance: float) -> list[float]:
    """rho[i]: the chance that exactly i further firings are needed to have enough good beads.

    `fired` beads are fired first; if g < q are good, ceil((q - g) / (1 - reject)) more are fired
    in one further load, and again. Chances below one in a million million are left out.

    >>> [round(r, 6) for r in extra_rounds(100, 109, 0.08)[:4]]
    [0.625888, 0.361646, 0.012372, 9.4e-05]
    """
    _check(reject_chance, 0.5)
    if good_needed <= 0:
        return [1.0]
    return _rounds_by_state(good_needed, fired, 1 - reject_chance)


def _rounds_by_state(good_needed: int, fired: int, good: float) -> list[float]:
    """Follow the chance of each shortage from round to round."""
    state = {good_needed: 1.0}
    result: list[float] = []
    while state:
        done = 0.0
        following: dict[int, float] = {}
        for short, weight in state.items():
            if result:
                enough, left = _next_round(short, good)
            else:
                enough, left = _round(short, fired, good)
            for still, chance in left:
                if weight * chance >= NEGLIGIBLE:
                    following[still] = following.get(still, 0.0) + weight * chance
            done += weight * enough
        result.append(done)
        state = following
    return result


Shortages = tuple[tuple[int, float], ...]


@lru_cache(maxsize=4096)
def _next_round(short: int, good: float) -> tuple[float, Shortages]:
    """One further load for `short` beads. Every order comes to the same few shortages: kept."""
    return _round(short, ceil(short / good - 1e-9), good)


def _round(short: int, batch: int, good: float) -> tuple[float, Shortages]:
    """The chance that `batch` beads give `short` good ones, and of each shortage they leave.

    Chances grow up to batch * good and fall beyond it, so from the most good ones that are still
    too few down to the first that is negligible below there, all that count have been seen.
    """
    left = []
    for got in range(min(short - 1, batch), -1, -1):
        chance = binomial(batch, got, good)
        if chance >= NEGLIGIBLE:
            left.append((short - got, chance))
        elif got < batch * good:
            break
    return binomial_at_least(batch, good, short), tuple(reversed(left))


def done_by(firing_days: int, lost_chance: float, rounds: Sequence[float], days: int) -> float:
    """Chance that all is fired within so many working days, refiring as `rounds` says."""
    return sum(
        chance * binomial_at_least(days, 1 - lost_chance, firing_days + extra)
        for extra, chance in enumerate(rounds)
    )


def days_for(
    firing_days: int, lost_chance: float, rounds: Sequence[float], assurance: float
) -> int:
    """Fewest working days with `done_by` at least the assurance.

    >>> rounds = extra_rounds(100, 109, 0.08)
    >>> days_for(4, 0.15, rounds, 0.5), days_for(4, 0.15, rounds, 0.9)
    (5, 7)
    """
    _check(lost_chance, assurance)
    reachable = sum(rounds)
    if reachable < assurance:
        raise ValueError("The chances of the rounds add up to less than the assurance.")
    days = firing_days
    while done_by(firing_days, lost_chance, rounds, days) < assurance:
        days += 1
    return days


@dataclass(frozen=True, slots=True)
class Records:
    """What the workshop has written down."""

    working_days: int
    lost_days: int
    beads_sorted: int
    beads_rejected: int

    @property
    def enough(self) -> bool:
        return self.working_days >= MIN_DAYS and self.beads_sorted >= MIN_BEADS


def simulate_board(
    order_days: Mapping[str, Sequence[int]],
    working_days: Sequence[int],
    lost_chance: float,
    *,
    runs: int = 2000,
    seed: int = 0,
    refire_chance: Mapping[str, float] | None = None,
) -> dict[str, list[int | None]]:
    """Play the whole plan many times; a lost day moves every load after it, for all orders.

    order_days     per order, the days (of `working_days`) its loads stand on
    working_days   the days on which anything can be fired, in order
    refire_chance  per order, the chance that rejects make one further firing day needed (and,
                   with the same chance, another after that)

    Returns per order the sorted last firing days of all runs; None (last) where a run ran out
    of working days. Lost days hit all orders of a run together: multiplying the orders' own
    chances would be wrong.
    """
    if not 0 <= lost_chance < 1:
        raise ValueError(f"The chance should be from 0 to below 1, but it is {lost_chance}.")
    rng = Random(seed)
    days = list(working_days)
    last_at = {
        order: max((bisect_left(days, day) for day in on), default=-1)
        for order, on in order_days.items()
    }
    outcomes: dict[str, list[int | None]] = {order: [] for order in order_days}
    refire = refire_chance or {}
    for _ in range(runs):
        fired_on = [day for day in days if rng.random() >= lost_chance]
        for order, at in last_at.items():
            while rng.random() < refire.get(order, 0.0):
                at += 1
            if at < 0:
                continue
            outcomes[order].append(fired_on[at] if at < len(fired_on) else None)
    for found in outcomes.values():
        found.sort(key=lambda day: inf if day is None else day)
    return outcomes


def quantile(outcomes: Sequence[int | None], assurance: float) -> int | None:
    """The least day by which at least the share `assurance` of the runs is done."""
    if not outcomes:
        return None
    return outcomes[max(0, ceil(assurance * len(outcomes) - 1e-9) - 1)]
