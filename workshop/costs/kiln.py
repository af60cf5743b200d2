"""Usual fill of a kiln, and what a load puts into the goods that are fired in it.

Source: IAS 2.13: fixed costs are shared out by normal capacity, the production expected on average
in normal circumstances; the share of a unit does not rise because little is made, what is not
shared out is expense of the period, and goods never stand above cost.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from workshop.costs.amounts import ONE, ZERO, six
from workshop.costs.kiln_share import into_goods as part_in_goods

STARTING_FILL = Decimal("0.60")  # starting figure, no source
ENOUGH_LOADS, MOST_LOADS = 8, 50
WINDOW = timedelta(days=365)


@dataclass(frozen=True)
class EndedLoad:
    """A load that ended: the day, the places filled, the places of its kiln, and which kiln."""

    on: date
    filled: int
    places: int
    kiln: object = None


@dataclass(frozen=True)
class UsualFill:
    """The share of a kiln's places filled by a usual load, and the loads it was measured on."""

    share: Decimal
    measured: Decimal | None
    loads: int
    source: str  # "owner", "kiln", "workshop" or "starting figure"


def usual_fill(
    loads: Iterable[EndedLoad], day: date, *, kiln: object = None, owner: Decimal | None = None
) -> UsualFill:
    """How full a usual load is: measured on the 1st of the month, and the owner's word first.

    Loads that ended before the 1st and in the 365 days before it, the latest 50; empty ones are
    left out, spoiled ones count.

    >>> loads = [EndedLoad(date(2026, 3, 9), p, 24) for p in (7, 12, 9, 6, 11, 8, 10, 9, 13, 11)]
    >>> usual_fill(loads, date(2026, 4, 20)).share
    Decimal('0.4')
    """
    first = day.replace(day=1)
    counted = sorted(
        (each for each in loads if first - WINDOW <= each.on < first and each.filled),
        key=lambda each: each.on,
    )
    own = [each for each in counted if each.kiln == kiln][-MOST_LOADS:]
    everybody = counted[-MOST_LOADS:]
    if len(own) >= ENOUGH_LOADS:
        found = UsualFill(_share(own), _share(own), len(own), "kiln")
    elif len(everybody) >= ENOUGH_LOADS:
        found = UsualFill(_share(everybody), _share(everybody), len(everybody), "workshop")
    else:
        found = UsualFill(STARTING_FILL, None, len(everybody), "starting figure")
    if owner is not None:
        return UsualFill(owner, found.measured, found.loads, "owner")
    return found


def _share(loads: Sequence[EndedLoad]) -> Decimal:
    return Decimal(sum(each.filled for each in loads)) / sum(each.places for each in loads)


@dataclass(frozen=True)
class LoadCost:
    """What one load costs, part by part."""

    fuel: Decimal = ZERO
    hands: Decimal = ZERO
    workshop: Decimal = ZERO
    wear: Decimal = ZERO

    @property
    def whole(self) -> Decimal:
        return self.fuel + self.hands + self.workshop + self.wear

    @property
    def parts(self) -> dict[str, Decimal]:
        return {
            "fuel": self.fuel,
            "hands": self.hands,
            "workshop": self.workshop,
            "kiln wear": self.wear,
        }


def share_in_goods(filled: Decimal | int, places: int, fill: Decimal) -> Decimal:
    """The part of a load's cost that goes into goods: a fuller load bears no more than it costs.

    >>> share_in_goods(10, 24, Decimal("0.40"))
    Decimal('1')
    >>> round(share_in_goods(4, 24, Decimal("0.40")), 6)
    Decimal('0.416667')
    """
    return part_in_goods(ONE, Decimal(filled), fill * places) if filled else ZERO


def into_goods(load: LoadCost, filled: int, places: int, fill: Decimal) -> dict[str, Decimal]:
    """What a load puts into goods, part by part, each rounded once."""
    share = share_in_goods(filled, places, fill)
    return {name: six(part * share) for name, part in load.parts.items()}


def empty_places(load: LoadCost, filled: int, places: int, fill: Decimal) -> Decimal:
    """What is left over of a load: the expense of the places that stood empty."""
    return load.whole * (ONE - share_in_goods(filled, places, fill))


def place_cost(load: LoadCost, places: int, fill: Decimal) -> Decimal:
    """What a place of a load costs before anyone knows how full it will be.

    >>> round(place_cost(LoadCost(fuel=Decimal("20.525")), 24, Decimal("0.40")), 6)
    Decimal('2.138021')
    """
    return load.whole / (fill * places)
