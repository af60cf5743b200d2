"""The operations that join a term to its children: each can be worked again and said in words."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import partial
from math import prod
from typing import Any

from orders.costing.beads_to_start import beads_to_start, beads_to_start_scattered
from orders.costing.labour import learned_total, units_on_curve
from orders.costing.layout import graduated_mm, graduated_pairs, graduated_sizes, repeats
from orders.costing.numbers import MINUTES_AN_HOUR, nothing_below, whole_down, whole_up
from orders.costing.scatter import chained
from workshop.money import round_up_to_step
from workshop.physics.sentences import gettext_noop
from workshop.physics.shapes import SHAPE_FIELDS, SHAPE_WORDS, bead_shape


@dataclass(frozen=True, slots=True)
class Operation:
    """How a value follows from its children's values, and the same in words."""

    work: Callable[[list[Any]], Any]
    words: str


def _divide_all(values: Sequence[Any]) -> Any:
    result = Decimal(values[0])
    for divisor in values[1:]:
        result /= divisor
    return result


def _subtract_all(values: Sequence[Any]) -> Any:
    return values[0] - sum(values[1:])


def _start(values: Sequence[Any]) -> int:
    needed, reject_rate, assurance = values
    return beads_to_start(needed, reject_rate, assurance)


def _start_scattered(values: Sequence[Any]) -> int:
    return beads_to_start_scattered(*values)


def _chained(values: Sequence[Any]) -> tuple[Decimal, Decimal]:
    """values: mean and variance of the reject rate of each firing in turn."""
    return chained(list(zip(values[::2], values[1::2], strict=True)))


def _repeats(values: Sequence[Any], *, made_to_length: bool) -> int:
    return repeats(*values, made_to_length=made_to_length)


def _pairs(values: Sequence[Any], *, made_to_length: bool) -> int:
    """values: cord, gap, length of the centrepiece (0: none), then the sizes."""
    cord, gap, centre, *sizes = values
    return graduated_pairs(sizes, cord, gap, centre or None, made_to_length=made_to_length)


def _graduated_count(values: Sequence[Any]) -> int:
    """values: pairs, which size this is, length of the centrepiece (0: none), then the sizes."""
    pairs, place, centre, *sizes = values
    sides = 2 * graduated_sizes(sizes, pairs, bool(centre)).count(place)
    return sides + (1 if not centre and place == len(sizes) - 1 else 0)


def _graduated_length(values: Sequence[Any]) -> Decimal:
    """values: pairs, gap, length of the centrepiece (0: none), then the sizes."""
    pairs, gap, centre, *sizes = values
    return graduated_mm(sizes, pairs, gap, centre or None)


def _learned(values: Sequence[Any]) -> Decimal:
    """values: units, rate, first, made before, units that follow the curve."""
    units, rate, first, before, end = values
    return learned_total(first, rate, units, before, end)


def _on_curve(values: Sequence[Any]) -> int:
    """values: first, rate, and the owner's own number where he names one."""
    return units_on_curve(*values)


def _half_up(values: Sequence[Any]) -> Decimal:
    first, second, unit = values
    return ((first * second) / unit).to_integral_value(ROUND_HALF_UP) * unit


def _of_shape(kind: str, fields: Sequence[str], question: str, values: Sequence[Any]) -> Decimal:
    shape = bead_shape(kind, **dict(zip(fields, values, strict=True)))
    return Decimal(repr(getattr(shape, question)()))


OPERATIONS: dict[str, Operation] = {
    "given": Operation(lambda v: v[0], gettext_noop("as it stands")),
    "same": Operation(lambda v: v[0], gettext_noop("the same")),
    "list": Operation(len, gettext_noop("how many there are")),
    "sum": Operation(lambda v: sum(v), gettext_noop("a + b + …")),
    "difference": Operation(_subtract_all, gettext_noop("a − b − …")),
    "rest": Operation(
        lambda v: nothing_below(_subtract_all(v)), gettext_noop("a − b − …, not below 0")
    ),
    "product": Operation(lambda v: prod(v), gettext_noop("a × b × …")),
    "quotient": Operation(_divide_all, gettext_noop("a ÷ b ÷ …")),
    "least": Operation(min, gettext_noop("the least of them")),
    "greatest": Operation(max, gettext_noop("the greatest of them")),
    "share": Operation(lambda v: v[0] * v[1] / v[2], gettext_noop("a × b ÷ c")),
    "without": Operation(lambda v: v[0] * (1 - v[1]), gettext_noop("a × (1 − b)")),
    "with": Operation(lambda v: v[0] * (1 + v[1]), gettext_noop("a × (1 + b)")),
    "before_loss": Operation(lambda v: v[0] / (1 - v[1]), gettext_noop("a ÷ (1 − b)")),
    "rounded_up": Operation(
        lambda v: whole_up(Decimal(v[0]) / v[1]), gettext_noop("a ÷ b, rounded up")
    ),
    "rounded_down": Operation(
        lambda v: whole_down(Decimal(v[0]) / v[1]), gettext_noop("a ÷ b, rounded down")
    ),
    "whole_multiple": Operation(
        lambda v: whole_up(Decimal(v[0]) / v[1]) * v[1],
        gettext_noop("a, rounded up to a multiple of b"),
    ),
    "survivors": Operation(
        lambda v: whole_up(v[0] * prod(1 - rate for rate in v[1:])),
        gettext_noop("a × (1 − b) …, rounded up: expected survivors"),
    ),
    "chained_rejects": Operation(
        lambda v: 1 - prod(1 - rate for rate in v), gettext_noop("1 − (1 − a)(1 − b)…")
    ),
    "start": Operation(
        _start,
        gettext_noop("least N for which a good of N come with chance c when a share b is rejected"),
    ),
    "start_scattered": Operation(
        _start_scattered,
        gettext_noop(
            "least N for which a good of N come with chance d when rejects scatter load by "
            "load as a beta distribution (b, c)"
        ),
    ),
    "beta_mean": Operation(lambda v: v[0] / (v[0] + v[1]), gettext_noop("a ÷ (a + b)")),
    "beta_variance": Operation(
        lambda v: v[0] * v[1] / ((v[0] + v[1]) ** 2 * (v[0] + v[1] + 1)),
        gettext_noop("a b ÷ ((a + b)² (a + b + 1))"),
    ),
    "chained_alpha": Operation(
        lambda v: _chained(v)[0],
        gettext_noop("alpha of the beta distribution as wide as all firings together"),
    ),
    "chained_beta": Operation(
        lambda v: _chained(v)[1],
        gettext_noop("beta of the beta distribution as wide as all firings together"),
    ),
    "per_thousand": Operation(lambda v: prod(v) / 1000, gettext_noop("a × b × … ÷ 1000")),
    "thousandth": Operation(lambda v: sum(v) / 1000, gettext_noop("(a + b + …) ÷ 1000")),
    "paid_by_hour": Operation(
        lambda v: v[0] * v[1] / MINUTES_AN_HOUR, gettext_noop("minutes × pay ÷ 60")
    ),
    "repeats_down": Operation(
        lambda v: _repeats(v, made_to_length=False),
        gettext_noop(
            "(cord + gap − once − gap × its count) ÷ (repeat + gap × its count), rounded down"
        ),
    ),
    "repeats_up": Operation(
        lambda v: _repeats(v, made_to_length=True),
        gettext_noop(
            "(cord + gap − once − gap × its count) ÷ (repeat + gap × its count), rounded up"
        ),
    ),
    "pairs_down": Operation(
        lambda v: _pairs(v, made_to_length=False),
        gettext_noop("most beads on each side of the middle that stay within the cord"),
    ),
    "pairs_up": Operation(
        lambda v: _pairs(v, made_to_length=True),
        gettext_noop("fewest beads on each side of the middle that fill the cord"),
    ),
    "graduated_count": Operation(
        _graduated_count,
        gettext_noop("how often this size is nearest to a line from the smallest to the largest"),
    ),
    "graduated_length": Operation(
        _graduated_length, gettext_noop("both sides, the middle, and a gap between each two")
    ),
    "reached_length": Operation(
        lambda v: v[0] + v[1] * v[2] + v[3] * max(0, v[4] - 1),
        gettext_noop("once + repeats × repeat + gap × (beads − 1)"),
    ),
    "cord_length": Operation(
        lambda v: (v[0] * v[1] + v[2]) / 1000, gettext_noop("(a × b + c) ÷ 1000")
    ),
    "mixed_density": Operation(
        lambda v: 1 / sum(share / density for share, density in zip(v[::2], v[1::2], strict=True)),
        gettext_noop("1 ÷ (share ÷ density + …)"),
    ),
    "heat": Operation(
        lambda v: (v[0] * v[1] + v[2] * v[3]) / 1000 * (v[4] - v[5]) / 1000,
        gettext_noop(
            "(glass × its heat capacity + clay × its heat capacity) × (hot − cold) ÷ 1,000,000"
        ),
    ),
    "wood_heat": Operation(
        lambda v: v[0] * (1 - v[2]) - v[1] * v[2],
        gettext_noop("dry wood × (1 − moisture) − water × moisture"),
    ),
    "learned": Operation(
        _learned,
        gettext_noop(
            "first × (n × n^b, of all made so far, less that of those before), b = log2(rate); "
            "past the end of the curve one standard time each (a first unit of 1 or less: as the "
            "last on the curve)"
        ),
    ),
    "on_curve": Operation(
        _on_curve,
        gettext_noop(
            "last unit whose time, first × (n × n^b − (n − 1) × (n − 1)^b), is more than one "
            "standard time; no later than the owner's own number, which alone counts where the "
            "first takes one standard time"
        ),
    ),
    "up_to_step": Operation(
        lambda v: round_up_to_step(v[0], v[1]), gettext_noop("a, rounded up to a multiple of b")
    ),
    "half_up": Operation(_half_up, gettext_noop("a × b, rounded half-up to a multiple of c")),
    "half_up_less": Operation(
        lambda v: _half_up([v[0], 1 - v[1], v[2]]),
        gettext_noop("a × (1 − b), rounded half-up to a multiple of c"),
    ),
    "margin": Operation(lambda v: 1 - v[0] / v[1], gettext_noop("1 − a ÷ b")),
}


def _shapes() -> None:
    """Volume and length of every bead shape, from its sizes."""
    for kind, fields in SHAPE_FIELDS.items():
        OPERATIONS[f"volume_{kind}"] = Operation(
            partial(_of_shape, kind, fields, "volume_mm3"),
            f"closed form of a {SHAPE_WORDS[kind]} less its bore",
        )
        OPERATIONS[f"length_{kind}"] = Operation(
            partial(_of_shape, kind, fields, "length_on_cord_mm"),
            f"what is left of a {SHAPE_WORDS[kind]} along its bore",
        )


_shapes()
