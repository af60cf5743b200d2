"""The shelves of a workshop that begins: its colours of glass, and what lies here already."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction

from stock.models import GlassColour, GlassForm
from stock.services.moving import open_glass
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act

G_PER_KG = 1000


@dataclass(frozen=True)
class NewColour:
    """A colour to begin with, and the grams of it that lie here by form."""

    colour: GlassColour
    here_g: Mapping[str, int] = field(default_factory=dict)


@transaction.atomic
def begin_colours(rows: Sequence[NewColour], *, person: Person) -> list[GlassColour]:
    """Several colours at once; glass that lies here is worth what was paid for its bottles."""
    for row in rows:
        row.colour.full_clean()
        row.colour.save()
        record_act(person, "add glasscolour", row.colour, after={"name": row.colour.name})
        for form, mass_g in row.here_g.items():
            value = _worth(row.colour, form, mass_g)
            open_glass(row.colour, form, mass_g, value=value, person=person)
    return [row.colour for row in rows]


def _worth(colour: GlassColour, form: str, mass_g: int) -> Decimal:
    """What the bottles cost that glass was made of: prepared glass took more than its own mass."""
    raw_g = Decimal(mass_g)
    if form != GlassForm.RAW:
        raw_g /= colour.yield_for(form)
    return round_half_up(raw_g / G_PER_KG * colour.price_per_kg, Business.in_force().currency)
