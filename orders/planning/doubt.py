"""Dates under doubt: days lost to no firing, and beads rejected.

Chances come from the workshop's own records. Until there are enough of them a range is given
and nothing is called "nine times in ten".
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, exp, inf, lgamma, log, log1p
from random import Random

from orders.costing.spread import wilson_interval

MIN_DAYS = 30
"""Working days on record before a chance of losing a day is used. Our choice."""

MIN_BEADS = 200
"""Beads sorted on record before a reject rate is used. Our choice."""

WILSON_Z = 1.96
"""Standard normal quantile of a 95 % interval (two-sided); handbook value 1.959964."""

NEGLIGIBLE = 1e-12
"""Chances smaller than this are left out of sums."""


def binomial_at_least(trials: int, chance: float, wanted: int) -> float:
    """P(Binomial(trials, chance) >= wanted).

    >>> round(binomial_at_least(113, 0.92, 100), 6)
    0.932509
    """
    if wanted <= 0:
        return 1.0
    if wanted > trials:
        return 0.0
    # Sum the shorter tail, so that little is lost to rounding.
    if wanted > trials * chance:
        return min(1.0, sum(_binomial(trials, k, chance) for k in range(wanted, trials + 1)))
    return max(0.0, 1.0 - sum(_binomial(trials, k, chance) for k in range(wanted)))


def _binomial(trials: int, k: int, chance: float) -> float:
    if chance <= 0:
        return 1.0 if k == 0 else 0.0
    if chance >= 1:
        return 1.0 if k == trials else 0.0
    ways = lgamma(trials + 1) - lgamma(k + 1) - lgamma(trials - k + 1)
    return exp(ways + k * log(chance) + (trials - k) * log1p(-chance))


def beads_to_fire(good_needed: int, reject_chance: float, assurance: float) -> int:
    """Fewest beads to fire so that enough are good with the assurance.

    >>> beads_to_fire(100, 0.08, 0.5), beads_to_fire(100, 0.08, 0.9)
    (108, 113)

    Raises ValueError unless 0 <= reject_chance < 1 and 0 < assurance < 1.
    """
    _check(reject_chance, assurance)
    return _fewest(good_needed, 1 - reject_chance, assurance)


def days_to_allow(firing_days: int, lost_chance: float, assurance: float) -> int:
    """Fewest working days in which so many firing days are found with the assurance.

    The quantile of a negative binomial: each day is lost with `lost_chance`, independently.

    >>> days_to_allow(5, 0.15, 0.5), days_to_allow(5, 0.15, 0.9)
    (6, 7)
    """
    _check(lost_chance, assurance)
    return _fewest(firing_days, 1 - lost_chance, assurance)


def _check(chance: float, assurance: float) -> None:
    if not 0 <= chance < 1:
        raise ValueError(f"The chance should be from 0 to below 1, but it is {chance}.")
    if not 0 < assurance < 1:
        raise ValueError(f"The assurance should be between 0 and 1, but it is {assurance}.")


def _fewest(wanted: int, chance: float, assurance: float) -> int:
    """Least n with P(Binomial(n, chance) >= wanted) >= assurance: bracket, then bisect."""
    if wanted <= 0:
        return 0
    low, high = wanted, wanted
    while binomial_at_least(high, chance, wanted) < assurance:
        low, high = high + 1, max(high + 1, ceil(high * 1.2))
    while low < high:
        middle = (low + high) // 2
        if binomial_at_least(middle, chance, wanted) >= assurance:
            high = middle
        else:
            low = middle + 1
    return low


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
            batch = ceil(short / good - 1e-9) if result else fired
            for got in range(min(short, batch + 1)):
                chance = weight * _binomial(batch, got, good)
                if chance >= NEGLIGIBLE:
                    following[short - got] = following.get(short - got, 0.0) + chance
            done += weight * binomial_at_least(batch, good, short)
        result.append(done)
        state = following
    return result


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


def wilson(successes: int, trials: int) -> tuple[float, float]:
    """95 % interval for a chance; the whole range where nothing was tried.

    >>> [round(x, 4) for x in wilson(0, 10)]
    [0.0, 0.2775]
    """
    return wilson_interval(successes, trials, WILSON_Z) if trials > 0 else (0.0, 1.0)


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


@dataclass(frozen=True, slots=True)
class Days:
    """Working days until an order is fired.

    If `enough`: planned_days is met five times in ten, cautious_days nine in ten. If not, they
    are a range: nothing going wrong, and the worst rates that the few records allow (95 %
    Wilson limits); cautious_days is then None where the records allow any rate.
    """

    planned_days: int
    cautious_days: int | None
    enough: bool
    sentence: str


def days_under_doubt(firing_days: int, good_needed: int, fired: int, records: Records) -> Days:
    """Working days for an order that needs `firing_days` in the queue, from the records."""
    if records.enough:
        lost = records.lost_days / records.working_days
        reject = records.beads_rejected / records.beads_sorted
        if lost < 1 and reject < 1:
            rounds = extra_rounds(good_needed, fired, reject)
            return Days(
                days_for(firing_days, lost, rounds, 0.5),
                days_for(firing_days, lost, rounds, 0.9),
                True,
                f"From {records.working_days} working days and {records.beads_sorted} sorted "
                "beads on record.",
            )
    few = (
        f"There are {records.working_days} working days and {records.beads_sorted} sorted beads "
        f"on record; {MIN_DAYS} and {MIN_BEADS} are needed before a nine-in-ten date is given."
    )
    worst_lost = wilson(records.lost_days, records.working_days)[1]
    worst_reject = wilson(records.beads_rejected, records.beads_sorted)[1]
    if (
        records.working_days < 5
        or records.beads_sorted < 20
        or max(worst_lost, worst_reject) >= 0.9
    ):
        return Days(firing_days, None, False, few)
    rounds = extra_rounds(good_needed, fired, worst_reject)
    return Days(firing_days, days_for(firing_days, worst_lost, rounds, 0.9), False, few)


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
