"""A sample matched on its photograph, kept with it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from stock.matching import Found, Point
from stock.models import GlassColour, SampleMatch
from workshop.models import Person, Photo
from workshop.physics import colour as colours
from workshop.services.acts import record_act


@transaction.atomic
def keep_match(
    photo: Photo,
    thing: Any,
    found: Found,
    *,
    points: Mapping[str, Point],
    known_mm: Decimal,
    size_mm: Decimal,
    glass: GlassColour | None,
    person: Person,
) -> SampleMatch:
    """Note with a photograph what its sample was confirmed to be; what was noted before goes."""
    apart = None
    if glass is not None:
        seen, ours = (colours.lab_of(colours.rgb_of(text)) for text in (found.seen, glass.swatch))
        apart = Decimal(f"{colours.apart(seen, ours):.2f}")
    match, _made = SampleMatch.objects.update_or_create(
        photo=photo,
        defaults={
            "points": {name: list(point) for name, point in points.items()},
            "known_mm": known_mm,
            "size_mm": size_mm,
            "doubt_mm": Decimal(f"{found.doubt_mm:.2f}"),
            "seen": found.seen,
            "colour": glass,
            "apart": apart,
            "person": person,
        },
    )
    record_act(person, "match sample", thing, after={"found": str(match)})
    return match
