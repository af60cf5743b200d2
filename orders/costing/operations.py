"""The operations that join a term to its children: each can be worked again and said in words."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from math import prod
from operator import add, mul, sub
from typing import Any

from orders.costing.beads_to_start import beads_to_start, beads_to_start_scattered
from orders.costing.cord import (
    Pattern,
    graduated_mm,
    graduated_pairs,
    graduated_sizes,
    nearest_pairs,
    repeats,
)
from orders.costing.finishing import FITS, NEAREST, REACHES, Candidate, Row, candidates, chosen
from orders.costing.labour import learned_total, standard_min, units_on_curve
from orders.costing.numbers import MINUTES_AN_HOUR, ONE, nothing_below, whole_down, whole_up
from orders.costing.scatter import beta_mean, beta_variance, chained
from workshop.costs.amounts import before_loss, without
from workshop.money import round_to_coin, round_up_to_step
from workshop.physics.density import mixed_density_g_cm3
from workshop.physics.heat import sensible_heat_mj, wet_wood_mj_kg
from workshop.physics.sentences import gettext_noop
from workshop.physics.shapes import SHAPE_FIELDS, bead_shape


@dataclass(frozen=True, slots=True)
class Operation:
    """How a value follows from its children's values, one by one, and the same in words.

    pair  the same for two values, where that is quicker than for any number of them
    """

    work: Callable[..., Any]
    words: str
    pair: Callable[[Any, Any], Any] | None = None


def _divided(first: Decimal | int, *divisors: Any) -> Decimal:
    result = Decimal(first)
    for divisor in divisors:
        result /= divisor
    return result


def _less(first: Any, *others: Any) -> Any:
    return first - sum(others)


def borne(cost: Decimal, needed: int, started: int, rejects: Decimal) -> Decimal:
    """The part of a cost that so many good beads bear of those that likely come good.

    >>> round(borne(Decimal("34.322875"), 92, 105, Decimal("0.08")), 6)
    Decimal('32.688452')

    Source: good ones in proportion, never more than all (convention of the workshop).
    """
    return cost * min(ONE, needed / (started * (ONE - rejects)))


def _survivors(started: int, *rates: Decimal) -> int:
    return whole_up(started * prod((1 - rate for rate in rates), start=ONE))


def _chained(*moments: Decimal) -> tuple[Decimal, Decimal]:
    """moments: mean and variance of the reject rate of each firing in turn."""
    return chained(list(zip(moments[::2], moments[1::2], strict=True)))


def _mixed_density(*parts: Decimal) -> Decimal:
    """parts: share and density of each colour in turn."""
    return mixed_density_g_cm3(list(zip(parts[::2], parts[1::2], strict=True)))


def _repeats(cord: Decimal, *pattern: Any, made_to_length: bool) -> int:
    return repeats(cord, Pattern(*pattern), made_to_length=made_to_length)


def _finished(
    cord: Decimal,
    gap: Decimal,
    once_mm: Decimal,
    once_count: int,
    sides: int,
    whole: int,
    *pieces: Any,
    fit: str,
) -> Candidate:
    """pieces: the length of each piece of one repeat and, after it, 1 for a spacer and 0 else."""
    spacers = tuple(bool(flag) for flag in pieces[1::2])
    row = Row(once_mm, once_count, tuple(pieces[::2]), spacers, sides, gap)
    best = chosen(candidates(row, cord, whole=bool(whole)), cord, fit)
    assert best is not None, "the layout was made from it"
    return best


def _times(*values: Any, fit: str) -> int:
    return _finished(*values, fit=fit).times


def _singles(*values: Any, fit: str) -> int:
    return _finished(*values, fit=fit).singles


def _nearest_pairs(cord: Decimal, gap: Decimal, centre: Decimal, *sizes: Decimal) -> int:
    fitting = graduated_pairs(sizes, cord, gap, centre or None)
    return nearest_pairs(sizes, cord, gap, centre or None, fitting)


def _pairs(
    cord: Decimal, gap: Decimal, centre: Decimal, *sizes: Decimal, made_to_length: bool
) -> int:
    """centre: length of the centrepiece, 0 for none."""
    return graduated_pairs(sizes, cord, gap, centre or None, made_to_length=made_to_length)


def _graduated_count(pairs: int, place: int, centre: Decimal, *sizes: Decimal) -> int:
    """place: which size this is; centre: length of the centrepiece, 0 for none."""
    sides = 2 * graduated_sizes(sizes, pairs, bool(centre)).count(place)
    return sides + (1 if not centre and place == len(sizes) - 1 else 0)


def _graduated_length(pairs: int, gap: Decimal, centre: Decimal, *sizes: Decimal) -> Decimal:
    """centre: length of the centrepiece, 0 for none."""
    return graduated_mm(sizes, pairs, gap, centre or None)


def _reached(once: Decimal, times: int, repeat: Decimal, gap: Decimal, beads: int) -> Decimal:
    return once + times * repeat + gap * max(0, beads - 1)


def _learned(units: int, rate: Decimal, first: Decimal, before: int, end: int) -> Decimal:
    """before: made before these; end: units that follow the curve."""
    return learned_total(first, rate, units, before, end)


def _of_shape(kind: str, question: str, *sizes: Any) -> Decimal:
    shape = bead_shape(kind, **dict(zip(SHAPE_FIELDS[kind], sizes, strict=True)))
    return Decimal(repr(getattr(shape, question)()))


OPERATIONS: dict[str, Operation] = {
    "given": Operation(lambda a: a, gettext_noop("as it stands")),
    "borne": Operation(
        borne,
        gettext_noop("a × b ÷ (c × (1 − d)), no more than a"),
    ),
    "same": Operation(lambda a: a, gettext_noop("the same")),
    "list": Operation(lambda *v: len(v), gettext_noop("how many there are")),
    "sum": Operation(lambda *v: sum(v), gettext_noop("a + b + …"), add),
    "difference": Operation(_less, gettext_noop("a − b − …"), sub),
    "rest": Operation(lambda *v: nothing_below(_less(*v)), gettext_noop("a − b − …, not below 0")),
    "product": Operation(lambda *v: prod(v), gettext_noop("a × b × …"), mul),
    "quotient": Operation(_divided, gettext_noop("a ÷ b ÷ …"), lambda a, b: Decimal(a) / b),
    "least": Operation(min, gettext_noop("the least of them"), min),
    "greatest": Operation(max, gettext_noop("the greatest of them")),
    "share": Operation(lambda a, b, c: a * b / c, gettext_noop("a × b ÷ c")),
    "without": Operation(without, gettext_noop("a × (1 − b)")),
    "less": Operation(lambda a: -a, gettext_noop("taken off")),
    "without_tax": Operation(lambda a, b: a / (1 + b), gettext_noop("a ÷ (1 + b)")),
    "with": Operation(standard_min, gettext_noop("a × (1 + b)")),
    "before_loss": Operation(before_loss, gettext_noop("a ÷ (1 − b)")),
    "rounded_up": Operation(
        lambda a, b: whole_up(Decimal(a) / b), gettext_noop("a ÷ b, rounded up")
    ),
    "rounded_down": Operation(
        lambda a, b: whole_down(Decimal(a) / b), gettext_noop("a ÷ b, rounded down")
    ),
    "whole_multiple": Operation(
        lambda a, b: whole_up(Decimal(a) / b) * b,
        gettext_noop("a, rounded up to a multiple of b"),
    ),
    "survivors": Operation(
        _survivors,
        gettext_noop("a × (1 − b) …, rounded up: expected survivors"),
    ),
    "chained_rejects": Operation(
        lambda *v: 1 - prod(1 - rate for rate in v), gettext_noop("1 − (1 − a)(1 − b)…")
    ),
    "start": Operation(
        beads_to_start,
        gettext_noop("least N for which a good of N come with chance c when a share b is rejected"),
    ),
    "start_scattered": Operation(
        beads_to_start_scattered,
        gettext_noop(
            "least N for which a good of N come with chance d when rejects scatter load by "
            "load as a beta distribution (b, c)"
        ),
    ),
    "beta_mean": Operation(beta_mean, gettext_noop("a ÷ (a + b)")),
    "beta_variance": Operation(
        beta_variance,
        gettext_noop("a b ÷ ((a + b)² (a + b + 1))"),
    ),
    "chained_alpha": Operation(
        lambda *v: _chained(*v)[0],
        gettext_noop("alpha of the beta distribution as wide as all firings together"),
    ),
    "chained_beta": Operation(
        lambda *v: _chained(*v)[1],
        gettext_noop("beta of the beta distribution as wide as all firings together"),
    ),
    "per_thousand": Operation(lambda *v: prod(v) / 1000, gettext_noop("a × b × … ÷ 1000")),
    "thousandth": Operation(lambda *v: sum(v) / 1000, gettext_noop("(a + b + …) ÷ 1000")),
    "paid_by_hour": Operation(
        lambda a, b: a * b / MINUTES_AN_HOUR, gettext_noop("minutes × pay ÷ 60")
    ),
    "repeats_down": Operation(
        partial(_repeats, made_to_length=False),
        gettext_noop(
            "(cord + gap − once − gap × its count) ÷ (repeat + gap × its count), rounded down"
        ),
    ),
    "repeats_up": Operation(
        partial(_repeats, made_to_length=True),
        gettext_noop(
            "(cord + gap − once − gap × its count) ÷ (repeat + gap × its count), rounded up"
        ),
    ),
    "times_nearest": Operation(
        partial(_times, fit=NEAREST),
        gettext_noop("whole repeats of the length that comes nearest to the cord"),
    ),
    "times_fits": Operation(
        partial(_times, fit=FITS),
        gettext_noop("whole repeats of the longest that stays within the cord"),
    ),
    "times_reaches": Operation(
        partial(_times, fit=REACHES),
        gettext_noop("whole repeats of the shortest that fills the cord"),
    ),
    "singles_nearest": Operation(
        partial(_singles, fit=NEAREST),
        gettext_noop("single pieces of one more repeat that come nearest to the cord"),
    ),
    "singles_fits": Operation(
        partial(_singles, fit=FITS),
        gettext_noop("single pieces of one more repeat that stay within the cord"),
    ),
    "singles_reaches": Operation(
        partial(_singles, fit=REACHES),
        gettext_noop("single pieces of one more repeat that fill the cord"),
    ),
    "pairs_nearest": Operation(
        _nearest_pairs,
        gettext_noop("beads on each side of the middle that come nearest to the cord"),
    ),
    "pairs_down": Operation(
        partial(_pairs, made_to_length=False),
        gettext_noop("most beads on each side of the middle that stay within the cord"),
    ),
    "pairs_up": Operation(
        partial(_pairs, made_to_length=True),
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
        _reached,
        gettext_noop("once + repeats × repeat + gap × (beads − 1)"),
    ),
    "cord_length": Operation(
        lambda a, b, c: (a * b + c) / 1000, gettext_noop("(a × b + c) ÷ 1000")
    ),
    "mixed_density": Operation(
        _mixed_density,
        gettext_noop("1 ÷ (share ÷ density + …)"),
    ),
    "heat": Operation(
        sensible_heat_mj,
        gettext_noop(
            "(glass × its heat capacity + clay × its heat capacity) × (hot − cold) ÷ 1,000,000"
        ),
    ),
    "wood_heat": Operation(
        wet_wood_mj_kg,
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
        units_on_curve,
        gettext_noop(
            "last unit whose time, first × (n × n^b − (n − 1) × (n − 1)^b), is more than one "
            "standard time; no later than the owner's own number, which alone counts where the "
            "first takes one standard time"
        ),
    ),
    "up_to_step": Operation(round_up_to_step, gettext_noop("a, rounded up to a multiple of b")),
    "half_up": Operation(
        lambda a, b, c: round_to_coin(Decimal(a) * b, Decimal(c)),
        gettext_noop("a × b, rounded half-up to a multiple of c"),
    ),
    "half_up_less": Operation(
        lambda a, b, c: round_to_coin(Decimal(a) * (1 - b), Decimal(c)),
        gettext_noop("a × (1 − b), rounded half-up to a multiple of c"),
    ),
    "margin": Operation(lambda a, b: 1 - a / b, gettext_noop("1 − a ÷ b")),
}


def _shapes() -> None:
    """Volume and length of every bead shape, from its sizes."""
    for kind in SHAPE_FIELDS:
        OPERATIONS[f"volume_{kind}"] = Operation(
            partial(_of_shape, kind, "volume_mm3"),
            gettext_noop("closed form of this shape, less its bore"),
        )
        OPERATIONS[f"length_{kind}"] = Operation(
            partial(_of_shape, kind, "length_on_cord_mm"),
            gettext_noop("what is left of this shape along its bore"),
        )


_shapes()
