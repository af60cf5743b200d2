"""What the whole chain is worked with: its context, its constants, rounding to whole numbers."""

from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from typing import Any

from workshop.money import ZERO as ZERO

# The chain is worked to 28 figures whatever the caller's own context says.
CONTEXT = Context(prec=28)

ONE = Decimal(1)
MINUTES_AN_HOUR = Decimal(60)
G_PER_KG = Decimal(1000)
MM_PER_M = Decimal(1000)


def whole_up(value: Decimal) -> int:
    """The least whole number that is not below the value.

    >>> whole_up(Decimal("11.4")), whole_up(Decimal(12))
    (12, 12)
    """
    return int(value.to_integral_value(ROUND_CEILING))


def whole_down(value: Decimal) -> int:
    """The greatest whole number that is not above the value.

    >>> whole_down(Decimal("11.9"))
    11
    """
    return int(value.to_integral_value(ROUND_FLOOR))


def nothing_below(value: Any) -> Any:
    """The value, or 0 of its own kind where it lies below."""
    return value if value > 0 else type(value)(0)
