"""A move of the book and the sentences that refuse one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from stock.measures import say_quantity
from stock.models import Item, StockLocation
from workshop import formats
from workshop.money import ZERO

SIX_PLACES = Decimal("0.000001")


class NotEnough(ValidationError):
    """A shelf holds less than is to be taken from it. Carries item, place, needed and found."""

    def __init__(self, item: Item, place: StockLocation, needed: int, found: int) -> None:
        self.item, self.place, self.needed, self.found = item, place, needed, found
        super().__init__(
            _(
                "%(item)s needs %(needed)s and %(found)s is free at %(place)s. "
                "Bring %(missing)s more, or take less."
            )
            % {
                "item": item.name,
                "needed": say_quantity(item, needed),
                "found": say_quantity(item, found),
                "place": place.name,
                "missing": say_quantity(item, needed - found),
            }
        )


class GlassNotConserved(ValidationError):
    """What came out of a piece of work does not weigh what went into it."""

    def __init__(self, went_in_mg: int, came_out_mg: int) -> None:
        self.went_in_mg, self.came_out_mg = went_in_mg, came_out_mg
        words = {"went_in": say_glass(went_in_mg), "came_out": say_glass(came_out_mg)}
        if came_out_mg > went_in_mg:
            sentence = _(
                "What came out weighs %(came_out)s and only %(went_in)s went in. "
                "Weigh again, or add what else went in."
            )
        else:
            sentence = _(
                "%(went_in)s went in and only %(came_out)s is accounted for. "
                "Name the rest as lost, or weigh again."
            )
        super().__init__(sentence % words)


def say_glass(glass_mg: int) -> str:
    """A mass of glass in words."""
    return formats.mass(Decimal(glass_mg) / 1000)


@dataclass(frozen=True)
class Move:
    """So much of an item from one place to another.

    quantity   in the item's smallest unit (mg of glass, pieces)
    glass_mg   glass carried; left out, it is the quantity itself for glass and the source
               shelf's average for pieces
    value      money carried; left out, the source shelf's weighted average (IAS 2); what
               comes out of work shares the value that went in
    from_hold  how much of the quantity was held for an order and is now used
    loss       the name of a loss, when the place it goes to is `lost`
    own        charges that this thing alone bears, of those that went into the work
    named      why its value leaves or comes, where the places do not say it all (a reversal)
    """

    item: Item
    from_place: StockLocation
    to_place: StockLocation
    quantity: int
    glass_mg: int | None = None
    value: Decimal | None = None
    from_hold: int = 0
    loss: str = ""
    own: Decimal = ZERO
    named: str = ""


@dataclass(frozen=True)
class Cost:
    """Value that a posting brings to the goods beside what moves, or takes from them if below 0.

    item, place  where the value comes to lie; without them it goes into the work, and what comes
                 out of the work bears it
    """

    name: str
    amount: Decimal
    step: str = ""
    units: Decimal = ZERO
    setup_min: Decimal = ZERO
    minutes: Decimal = ZERO
    rate: Decimal = ZERO
    item: Item | None = None
    place: StockLocation | None = None


@dataclass(frozen=True)
class Shares:
    """How the value that went into a work is told apart.

    values    of each thing that comes out, in their order; None: its part of the rest, by glass
    expenses  what no thing bears, by name, each below 0
    """

    values: Sequence[Decimal | None]
    expenses: Sequence[Cost] = ()


# What is asked once the value that went in is known.
Sharing = Callable[[Decimal], Shares]


def split_whole(total: int, weights: Sequence[int]) -> list[int]:
    """A whole number in whole parts by weight, the largest remainders first.

    >>> split_whole(10, [1, 1, 1])
    [4, 3, 3]
    """
    whole = sum(weights)
    if not weights:
        return []
    if whole == 0:
        weights, whole = [1] * len(weights), len(weights)
    parts = [total * weight // whole for weight in weights]
    by_rest = sorted(range(len(weights)), key=lambda i: (-(total * weights[i] % whole), i))
    for i in by_rest[: total - sum(parts)]:
        parts[i] += 1
    return parts
