"""The shelves of a workshop that begins: its colours of glass, and what lies here already."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from stock.models import GlassColour
from stock.services.moving import open_glass
from stock.services.standard_beads import cost_of_kilogram
from workshop.costs.amounts import six
from workshop.models import Person
from workshop.services.acts import record_act

G_PER_KG = 1000


@dataclass(frozen=True)
class NewColour:
    """A colour to begin with, and the grams of it that lie here by form."""

    colour: GlassColour
    here_g: Mapping[str, int] = field(default_factory=dict)


@transaction.atomic
def begin_colours(rows: Sequence[NewColour], *, person: Person) -> list[GlassColour]:
    """Several colours at once; glass that lies here is worth what its bottles and its work cost."""
    for row in rows:
        row.colour.full_clean()
        row.colour.save()
        record_act(person, "add glasscolour", row.colour, after={"name": row.colour.name})
        for form, mass_g in row.here_g.items():
            each = cost_of_kilogram(row.colour, form)
            value = six(each * mass_g / G_PER_KG)
            open_glass(row.colour, form, mass_g, value=value, person=person)
    return [row.colour for row in rows]
