"""How things of the book are measured: in pieces, by the kilogram, by the metre.

The book keeps whole numbers of the smallest unit: milligrams, millimetres, pieces.
"""

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.forms import Field
from django.utils.translation import gettext as _

from stock.models import Item, ItemKind
from workshop import formats
from workshop.form_fields import CountField, LengthField, MassField

KILOGRAM, METRE, PIECE = "kg", "m", "piece"
SMALLEST_IN = {KILOGRAM: 1_000_000, METRE: 1000, PIECE: 1}
BY_WEIGHT = frozenset({"paint", "wash"})
FUEL = "fuel"  # with the kind of fuel behind it: "fuel wood"


def unit_of_use(use: str) -> str:
    """The unit that a supply is bought and priced in."""
    if use == "cord":
        return METRE
    return KILOGRAM if use in BY_WEIGHT or use.startswith(FUEL) else PIECE


def unit_of(item: Item) -> str:
    """The unit that a thing is priced in."""
    if item.kind == ItemKind.SUPPLY:
        return unit_of_use(item.use)
    return KILOGRAM if item.kind == ItemKind.GLASS else PIECE


def say_in(unit: str, quantity: int) -> str:
    """A quantity of the smallest unit in words."""
    if unit == KILOGRAM:
        return formats.mass(Decimal(quantity) / 1000)
    if unit == METRE:
        return _("%(n)s m") % {"n": formats.decimal(Decimal(quantity) / 1000, 0, 2)}
    return formats.count(quantity)


def say_quantity(item: Item, quantity: int) -> str:
    """A quantity in words: glass and paint by their mass, cord by its length, else pieces."""
    return say_in(unit_of(item), quantity)


def unit_words(unit: str) -> str:
    """What a price is for, in words."""
    return {KILOGRAM: _("a kilogram"), METRE: _("a metre")}.get(unit, _("each"))


def quantity_box(unit: str, *, kg_per_litre: Decimal | None = None, **given: Any) -> Field:
    """A box that a quantity is typed in; `smallest_of` reads what came of it.

    kg_per_litre  of a liquid: then litres are read too
    """
    if unit == KILOGRAM:
        return MassField(**given).as_liquid(kg_per_litre)
    if unit == METRE:
        return LengthField(unit="m", **given)
    return CountField(**given)


def typed_quantity(unit: str, quantity: int) -> str:
    """A quantity as somebody types it into such a box; "" for nothing."""
    if not quantity:
        return ""
    number = (Decimal(quantity) / SMALLEST_IN[unit]).normalize()
    return f"{number:f}" if unit == PIECE else f"{number:f} {unit}"


def smallest_of(unit: str, typed: Decimal | int) -> int:
    """What was typed, in the smallest unit: the boxes give grams, millimetres or pieces."""
    whole = Decimal(typed) * (1000 if unit == KILOGRAM else 1)
    return int(whole.to_integral_value(ROUND_HALF_UP))
