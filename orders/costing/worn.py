"""How a strand sits on a wrist, a neck or a waist: its length from a size, its room from a length.

A closed strand is a ring of beads. Their cord runs through their middles, half a bead outside the
skin all the way round, so that thick beads sit tighter than thin ones on the same length of cord.

Sources: circumference of a circle, 2 π (r + d / 2) = 2 π r + π d; the same sum stands in published
bracelet guides (wrist + ease + π × thickness). The ease is common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.numbers import ZERO

PI = Decimal("3.14159265358979")
HALF_MM = Decimal("0.5")
WRIST, NECK, WAIST = "wrist", "neck", "waist"
# What is left free so that it moves: a finger under a bracelet, two under a choker, three at the
# waist. Common practice, no source.
EASE_MM = {WRIST: Decimal(10), NECK: Decimal(20), WAIST: Decimal(30)}


@dataclass(frozen=True, slots=True)
class Worn:
    """How a closed strand sits.

    inside_mm  round the inside of its ring
    ease_mm    of that, what is more than the wrist, neck or waist; below 0 it does not close
    """

    inside_mm: Decimal
    ease_mm: Decimal | None = None

    @property
    def is_too_small(self) -> bool:
        """By more than the half millimetre that nobody feels."""
        return self.ease_mm is not None and self.ease_mm <= -HALF_MM


def strung_for(where: str, around_mm: Decimal, across_mm: Decimal) -> Decimal:
    """Length on the cord of a strand that is worn close around something [mm].

    around_mm  of the wrist, neck or waist, as measured
    across_mm  of the beads that lie on the skin

    >>> round(strung_for("wrist", Decimal(160), Decimal(10)), 1)
    Decimal('201.4')
    """
    return around_mm + EASE_MM[where] + PI * across_mm


def inside_mm(strung_mm: Decimal, across_mm: Decimal) -> Decimal:
    """What is free inside a closed strand of this length [mm]; nothing is less than nothing.

    >>> round(inside_mm(Decimal("201.4"), Decimal(10)), 1)
    Decimal('170.0')
    """
    return max(ZERO, strung_mm - PI * across_mm)


def sits(strung_mm: Decimal, across_mm: Decimal, around_mm: Decimal | None) -> Worn:
    """How a strand of a length sits on a size, or on none.

    >>> worn = sits(Decimal("201.4"), Decimal(10), Decimal(160))
    >>> round(worn.ease_mm, 1), worn.is_too_small
    (Decimal('10.0'), False)
    """
    inside = inside_mm(strung_mm, across_mm)
    return Worn(inside, None if around_mm is None else inside - around_mm)


def on_the_skin(widths_mm: Iterable[tuple[Decimal, bool]]) -> Decimal:
    """How thick the beads are that lie against the skin [mm].

    widths_mm  each bead's size across, and whether it is repeated along the cord: what stands
               once, such as a light in the middle, does not make the ring narrower

    >>> on_the_skin([(Decimal(8), True), (Decimal(10), True), (Decimal(30), False)])
    Decimal('9')
    """
    every = list(widths_mm)
    chosen = [wide for wide, repeated in every if repeated] or [wide for wide, _once in every]
    return sum(chosen, ZERO) / len(chosen) if chosen else ZERO
