"""Minutes and pay of hands, step by step.

minutes = set-up + standard minutes each × units; standard = basic × (1 + allowance), the convention
of work study (ILO, Introduction to Work Study, 4th ed. 1992). The set-up comes once an order.

What a unit is depends on the basis:
kg      kilograms of glass: still to be prepared where the skill is preparing, else as filled
mould   moulds filled for the first firing; every firing's where the skill is firing
bead    beads started; painting: expected survivors of the first firing; stringing: beads strung
strand  strands strung (not those taken ready from the shelf)
load    fair share of kiln loads or rounds, all firings
run     fair share of rounds ÷ rounds in a usual run; kilns kept hot only
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

from orders.costing.numbers import ONE, ZERO

# A hand that strings a thousand a day for a hundred years makes fewer: the curve is not asked.
MOST_ON_CURVE = 10**9


def standard_min(basic_min: Decimal, allowance: Decimal) -> Decimal:
    """Standard time of one unit: basic time and its allowances.

    >>> standard_min(Decimal("37.5"), Decimal("0.20"))
    Decimal('45.000')

    Source: textbook exercise: mean of 30 s at 125 % rating, 20 % allowance, gives 45 s.
    """
    return basic_min * (ONE + allowance)


def wright_exponent(rate: Decimal) -> Decimal:
    """The exponent of a learning curve, b = log2(rate).

    rate  of the curve, above 0 up to 1; 0.8 for an 80 % curve

    >>> round(wright_exponent(Decimal("0.8")), 6)
    Decimal('-0.321928')

    Source: Wright 1936: the average falls to the rate at each doubling.
    """
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

    first      the first one's time, in standard times
    rate       of the curve, above 0 up to 1
    practised  the owner's own number after which the curve ends, 0 for none

    >>> round(learned_total(Decimal(2), Decimal("0.8"), 10), 4)
    Decimal('11.2126')
    >>> round(learned_total(Decimal(100), Decimal(1), 3, practised=2), 4)
    Decimal('201.0000')

    Source: Wright 1936; where the curve ends, see `units_on_curve`.
    """
    end = units_on_curve(first, rate, practised)
    on_curve = max(0, min(units, end - made_before))
    after = ONE if first > ONE else wright_total(first, rate, 1, end - 1)
    return wright_total(first, rate, on_curve, made_before) + (units - on_curve) * after
