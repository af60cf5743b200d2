"""What good beads, rejects and accidents bear when a batch is sorted.

A usual reject costs nothing but brings its scrap; one beyond the usual, and a bead that broke
altogether, is expensed at what a good one costs (IAS 2.16(a); normal and abnormal loss in process
costing, as published course notes teach it).
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import isqrt

from workshop.costs.amounts import ZERO, six


def usual_rejects(sorted_count: int, reject_rate: Decimal) -> int:
    """The most rejects that are still usual: the upper limit of a p-chart, in whole beads.

    >>> usual_rejects(160, Decimal("0.08")), usual_rejects(500, Decimal("0.034"))
    (23, 29)

    Source: p + 3 √(p(1 − p) ÷ n), Shewhart's control chart for a share of defectives.
    """
    mean = Fraction(reject_rate) * sorted_count
    spread = 9 * mean * (1 - Fraction(reject_rate))
    # mean + √spread over one denominator, so that the root is of a whole number and the floor exact
    below = mean.denominator * spread.denominator
    root = isqrt(int(spread * below * below))
    return (int(mean * below) + root) // below


@dataclass(frozen=True)
class Sorted:
    """The value that went in, told apart: what is good, scrap, and the two expenses."""

    each: Decimal
    good: Decimal
    scrap: Decimal
    accidents: Decimal
    beyond: Decimal


def sort_value(
    value: Decimal,
    *,
    good: int,
    rejects: int,
    broken: int = 0,
    reject_rate: Decimal,
    scrap: Decimal = ZERO,
) -> Sorted:
    """Share the value of beads that are sorted; the five amounts add up to it.

    value  of all of them, with the charges of piercing and polishing
    scrap  what the rejects bring as glass, all of them; never more than the value

    >>> found = sort_value(Decimal(60), good=118, rejects=40, broken=2,
    ...     reject_rate=Decimal("0.08"), scrap=Decimal("0.02"))
    >>> str(found.good), str(found.accidents), str(found.beyond)
    ('51.668927', '0.875745', '7.435328')
    """
    count = good + rejects + broken
    scrap = six(min(scrap, value)) if rejects else ZERO
    usual = min(rejects, usual_rejects(count, reject_rate)) if good else 0
    each_scrap = scrap / rejects if rejects else ZERO
    each = (value - usual * each_scrap) / (count - usual) if count > usual else ZERO
    accidents = six(broken * each)
    beyond = six((rejects - usual) * (each - each_scrap))
    left = value - scrap - accidents - beyond
    if not good:  # all that cannot be good is expense; the last millionth lies with the larger part
        beyond, accidents = (beyond + left, accidents) if rejects else (beyond, accidents + left)
        left = ZERO
    return Sorted(each, left, scrap, accidents, beyond)
