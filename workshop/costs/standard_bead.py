"""The standard cost of one good bead: no set-up, no whole moulds, a usual load."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.costs.amounts import ONE, ZERO


@dataclass(frozen=True)
class GlassOf:
    """Glass of one colour in a bead: its share, what raw glass costs a gram, and its preparing."""

    share: Decimal
    raw_per_g: Decimal
    yields: Decimal = ONE
    preparing_per_g: Decimal = ZERO


@dataclass(frozen=True)
class FiringOf:
    """One firing of a bead: rejects, its mould, what a place of the load costs, wear and wash.

    reject_g  glass of a reject sorted out after this firing
    """

    reject_rate: Decimal
    places: int
    cavities: int
    place_cost: Decimal
    fill_cost: Decimal
    reject_g: Decimal


@dataclass(frozen=True)
class BeadSteps:
    """What goes into one bead started, and what comes on later."""

    fill_g: Decimal
    glass: Sequence[GlassOf]
    firings: Sequence[FiringOf]
    pigment: Decimal = ZERO
    moulding: Decimal = ZERO
    piercing: Decimal = ZERO
    polishing: Decimal = ZERO
    painting: Decimal = ZERO


def standard_cost(bead: BeadSteps) -> Decimal:
    """What one good bead costs to make, at standard, exact.

    The beads lost on the way are borne by the good ones, less what their glass brings.
    """
    glass = bead.fill_g * sum(
        (part.share * (part.raw_per_g / part.yields + part.preparing_per_g) for part in bead.glass),
        ZERO,
    )
    raw = sum((part.share * part.raw_per_g for part in bead.glass), ZERO)
    cost = glass + bead.pigment + bead.moulding + bead.piercing + bead.polishing
    reach, scrap = ONE, ZERO
    for number, firing in enumerate(bead.firings, start=1):
        if number == 2:
            cost += reach * bead.painting
        cost += reach / firing.cavities * (firing.places * firing.place_cost + firing.fill_cost)
        scrap += reach * firing.reject_rate * firing.reject_g * raw
        reach *= ONE - firing.reject_rate
    return (cost - scrap) / reach
