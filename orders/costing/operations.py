"""The operations that join a term to its children: each can be worked again and said in words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from math import prod
from typing import Any

# The chain is worked to 28 figures whatever the caller's own context says.
CONTEXT = Context(prec=28)

ZERO = Decimal(0)
ONE = Decimal(1)
MINUTES_AN_HOUR = Decimal(60)
G_PER_KG = Decimal(1000)
MM3_PER_CM3 = Decimal(1000)
MM_PER_M = Decimal(1000)


@dataclass(frozen=True, slots=True)
class Operation:
    """How a value follows from its children's values, and the same in words."""

    work: Callable[[list[Any]], Any]
    words: str


def whole_up(value: Decimal) -> int:
    """The least whole number that is not below the value."""
    return int(value.to_integral_value(ROUND_CEILING))


def whole_down(value: Decimal) -> int:
    """The greatest whole number that is not above the value."""
    return int(value.to_integral_value(ROUND_FLOOR))


def nothing_below(value: Any) -> Any:
    return value if value > 0 else type(value)(0)


def _divide_all(values: Sequence[Any]) -> Any:
    result = Decimal(values[0])
    for divisor in values[1:]:
        result /= divisor
    return result


def _subtract_all(values: Sequence[Any]) -> Any:
    return values[0] - sum(values[1:])


def _start(values: Sequence[Any]) -> int:
    from orders.costing.beads_to_start import beads_to_start

    needed, reject_rate, assurance = values
    return beads_to_start(needed, reject_rate, assurance)


def _start_scattered(values: Sequence[Any]) -> int:
    from orders.costing.beads_to_start import beads_to_start_scattered

    return beads_to_start_scattered(*values)


OPERATIONS: dict[str, Operation] = {
    "given": Operation(lambda v: v[0], "as it stands"),
    "same": Operation(lambda v: v[0], "the same"),
    "list": Operation(len, "how many there are"),
    "sum": Operation(lambda v: sum(v), "a + b + …"),
    "difference": Operation(_subtract_all, "a − b − …"),
    "rest": Operation(lambda v: nothing_below(_subtract_all(v)), "a − b − …, not below 0"),
    "product": Operation(lambda v: prod(v), "a × b × …"),
    "quotient": Operation(_divide_all, "a ÷ b ÷ …"),
    "least": Operation(min, "the least of them"),
    "greatest": Operation(max, "the greatest of them"),
    "share": Operation(lambda v: v[0] * v[1] / v[2], "a × b ÷ c"),
    "without": Operation(lambda v: v[0] * (1 - v[1]), "a × (1 − b)"),
    "with": Operation(lambda v: v[0] * (1 + v[1]), "a × (1 + b)"),
    "before_loss": Operation(lambda v: v[0] / (1 - v[1]), "a ÷ (1 − b)"),
    "rounded_up": Operation(lambda v: whole_up(Decimal(v[0]) / v[1]), "a ÷ b, rounded up"),
    "rounded_down": Operation(lambda v: whole_down(Decimal(v[0]) / v[1]), "a ÷ b, rounded down"),
    "whole_multiple": Operation(
        lambda v: whole_up(Decimal(v[0]) / v[1]) * v[1], "a, rounded up to a multiple of b"
    ),
    "survivors": Operation(
        lambda v: whole_up(v[0] * (1 - v[1])), "a × (1 − b), rounded up: expected survivors"
    ),
    "chained_rejects": Operation(lambda v: 1 - prod(1 - rate for rate in v), "1 − (1 − a)(1 − b)…"),
    "start": Operation(
        _start, "least N for which a good of N come with chance c when a share b is rejected"
    ),
    "start_scattered": Operation(
        _start_scattered,
        "least N for which a good of N come with chance d when the reject rate scatters load by "
        "load as a beta distribution (b, c)",
    ),
    "per_thousand": Operation(lambda v: prod(v) / 1000, "a × b × … ÷ 1000"),
    "paid_by_hour": Operation(lambda v: v[0] * v[1] / MINUTES_AN_HOUR, "minutes × pay ÷ 60"),
}
