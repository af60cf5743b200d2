"""Amounts as the book keeps them, and amounts as they are printed."""

from collections.abc import Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal

SIX_PLACES = Decimal("0.000001")
ZERO, ONE = Decimal(0), Decimal(1)
MINUTES_AN_HOUR = Decimal(60)


def six(amount: Decimal) -> Decimal:
    """An amount as the book keeps it: half-up, once, to six decimals.

    >>> six(Decimal("2.0000005")), six(Decimal("-2.0000005"))
    (Decimal('2.000001'), Decimal('-2.000001'))
    """
    return amount.quantize(SIX_PLACES, ROUND_HALF_UP)


def without(whole: Decimal, share: Decimal) -> Decimal:
    """What is left of a whole once a share of it is gone: whole × (1 − share).

    >>> without(Decimal(40), Decimal("0.05"))
    Decimal('38.00')
    """
    return whole * (ONE - share)


def before_loss(rest: Decimal, share: Decimal) -> Decimal:
    """The whole of which a rest came out once a share was lost: rest ÷ (1 − share).

    >>> before_loss(Decimal(38), Decimal("0.05")) == 40
    True
    """
    return rest / (ONE - share)


def printed_column(amounts: Sequence[Decimal], digits: int) -> tuple[list[Decimal], Decimal]:
    """Exact amounts as they are printed, and their printed total, so that the column adds up.

    The total is rounded half-up; each amount is cut down (towards less) to the minor unit, then the
    units still missing go to the amounts cut most, the earlier of two equals first.

    >>> printed_column([Decimal("5.29375"), Decimal("3.0726"), Decimal("-0.14")], 2)
    ([Decimal('5.30'), Decimal('3.07'), Decimal('-0.14')], Decimal('8.23'))

    Source: Hamilton's method of largest remainders.
    """
    unit = ONE.scaleb(-digits)
    total = sum(amounts, ZERO).quantize(unit, ROUND_HALF_UP)
    cut = [amount.quantize(unit, ROUND_FLOOR) for amount in amounts]
    missing = int((total - sum(cut, ZERO)) / unit)
    most_cut = sorted(range(len(cut)), key=lambda i: (cut[i] - amounts[i], i))
    for i in most_cut[:missing]:
        cut[i] += unit
    return cut, total
