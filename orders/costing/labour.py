"""Minutes and pay of hands, step by step.

minutes = set-up + standard minutes each × units; standard = basic × (1 + allowance), the convention
of work study (ILO, Introduction to Work Study, 4th ed. 1992). The set-up comes once an order.

What a unit is depends on the basis:
kg      kilograms of glass: still to be prepared where the skill is preparing, else as filled
mould   moulds filled for the first firing; every firing's where the skill is firing
bead    beads started; painting: expected survivors of the first firing; stringing: beads strung
strand  strands strung (not those taken ready from the shelf)
load    fair share of kiln loads, all firings
order   once

A new design may be given Wright's learning curve, cumulative average (T. P. Wright, Factors
affecting the cost of airplanes, J. Aeronautical Sciences 3, 1936): average of the first n = a n^b,
b = log2(rate). A curve that begins above the standard time stops at it: after the unit at which
the owner calls the hands practised, or, where he names none, before the first unit that would take
less. One whose first unit takes the standard time itself is Wright's curve as published: the
owner's number alone ends it, and from there each takes as long as the last unit on it did.
"""

from decimal import Decimal
from functools import lru_cache
from math import log2

from orders.costing.checks import number, whole
from orders.costing.facts import LearningFacts, RateFacts
from orders.costing.numbers import MINUTES_AN_HOUR, ONE, ZERO

# A hand that strings a thousand a day for a hundred years makes fewer: the curve is not asked.
MOST_ON_CURVE = 10**9


def standard_min(basic_min: Decimal, allowance: Decimal) -> Decimal:
    """Standard time of one unit: basic time and its allowances.

    >>> standard_min(Decimal("37.5"), Decimal("0.20"))
    Decimal('45.000')

    Source: textbook exercise: mean of 30 s at 125 % rating, 20 % allowance, gives 45 s.
    """
    return basic_min * (ONE + allowance)


def basic_min(observed_min: Decimal, rating: Decimal) -> Decimal:
    """Basic time: observed time at the pace seen, brought to the standard pace (rating 1).

    >>> basic_min(Decimal(800), Decimal("1.10"))
    Decimal('880.00')

    Source: published example: 800 s observed at 110 is 880 s.
    """
    return observed_min * rating


def part_of_day_min(normal_min: Decimal, share_of_day: Decimal) -> Decimal:
    """The other convention, normal ÷ (1 − a) with a as part of the day: for rates taken elsewhere.

    >>> round(part_of_day_min(Decimal("2.22") * Decimal("1.30"), Decimal("0.25")), 3)
    Decimal('3.848')

    Source: published lathe example.
    """
    return normal_min / (ONE - share_of_day)


def wright_exponent(rate: Decimal) -> Decimal:
    """b = log2(rate): −0.321928 for an 80 % curve."""
    return Decimal(log2(rate))


def wright_total(first: Decimal, rate: Decimal, units: int, made_before: int = 0) -> Decimal:
    """Time of the next ``units`` when ``made_before`` have been made, cumulative average curve.

    >>> round(wright_total(Decimal(100), Decimal("0.8"), 10), 2)
    Decimal('476.51')

    Source: Wright 1936: total of n = n × first × n^b.
    """

    def total(count: int) -> Decimal:
        if not count:
            return ZERO
        return first * count * Decimal(count) ** wright_exponent(rate)

    return total(made_before + units) - total(made_before)


@lru_cache(maxsize=4096)
def units_on_curve(first: Decimal, rate: Decimal, practised: int = 0) -> int:
    """How many units follow Wright's curve before each takes the standard time.

    first      the first one's time, in standard times
    practised  the owner's own number, 0 for none; it can only make the curve end sooner

    >>> units_on_curve(Decimal(2), Decimal("0.8")), units_on_curve(Decimal(2), Decimal("0.8"), 2)
    (3, 2)
    >>> units_on_curve(Decimal(1), Decimal("0.8"), 50)
    50

    Source: unit n takes total(n) − total(n − 1) (Wright 1936); 2 × 3 × 3^b − 3.2 = 1.01 and
    2 × 4 × 4^b − 4.21 = 0.91, so the third is the last above 1.
    """
    low, high = 0, practised or MOST_ON_CURVE
    if first <= ONE:
        return high
    while low < high:
        middle = (low + high + 1) // 2
        if wright_total(first, rate, 1, middle - 1) > ONE:
            low = middle
        else:
            high = middle - 1
    return low


def learned_total(
    first: Decimal, rate: Decimal, units: int, made_before: int = 0, practised: int = 0
) -> Decimal:
    """Standard times that the next ``units`` take: on the curve as far as it goes, then alike.

    >>> round(learned_total(Decimal(2), Decimal("0.8"), 10), 4)
    Decimal('11.2126')
    >>> round(learned_total(Decimal(100), Decimal(1), 3, practised=2), 4)
    Decimal('201.0000')
    """
    end = units_on_curve(first, rate, practised)
    on_curve = max(0, min(units, end - made_before))
    after = ONE if first > ONE else wright_total(first, rate, 1, end - 1)
    return wright_total(first, rate, on_curve, made_before) + (units - on_curve) * after


def learned_units(learning: LearningFacts, units: int, subject: str) -> Decimal:
    """Standard units that new work of so many units takes while the hands are learning it."""
    rate = number(learning.rate, "rate", subject, above=True, most=1)
    first = number(learning.first_unit_times, "first_unit_times", subject, above=True, most=1000)
    before = whole(learning.made_before, "count", subject, most=10**9)
    practised = whole(learning.practised or 0, "practised", subject, most=10**9)
    return learned_total(first, rate, units, before, practised)


def pay(rate: RateFacts, units: Decimal | int, minutes: Decimal) -> Decimal:
    """Pay for units of a step, without its set-up: by the piece if so agreed, else by the hour."""
    if rate.piece is not None:
        return rate.piece * units
    return minutes * rate.hourly / MINUTES_AN_HOUR


def setup_pay(rate: RateFacts) -> Decimal:
    """Pay for the set-up of a step, always by the hour."""
    return Decimal(rate.setup_min) * rate.hourly / MINUTES_AN_HOUR


def piece_pay(pieces: Decimal, rate: Decimal, hours: Decimal, floor_hourly: Decimal) -> Decimal:
    """Pay of a pay period by the piece, topped up to the agreed floor for the hours worked.

    >>> piece_pay(Decimal(90), Decimal("1.10"), Decimal(8), Decimal("12.50"))
    Decimal('100.00')

    Source: top-up rule is common practice, set by law or agreement.
    """
    return max(pieces * rate, hours * floor_hourly)
