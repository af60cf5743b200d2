"""Beads counted by weight: booked when the count is sure enough, and the mass remembered."""

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from stock.count_by_weight import WeighedCount
from stock.models import Balance, Bead, Item, LocationKind, Posting
from stock.services.counting import count_shelf
from workshop import formats
from workshop.models import Business, Person
from workshop.services.acts import record_act


@transaction.atomic
def book_weighed_count(item: Item, counted: WeighedCount, *, person: Person) -> Posting | None:
    """Book a count by weight; refused when its interval is wider than the owner allows."""
    allowed = Business.current().count_tolerance
    if Decimal(counted.spread) > allowed:
        raise ValidationError(
            _(
                "The count is %(least)s to %(most)s, sure to %(spread)s either way, and the owner "
                "allows %(allowed)s. Weigh a larger sample, bead by bead, or count by hand."
            )
            % {
                "least": formats.count(counted.least),
                "most": formats.count(counted.most),
                "spread": formats.percent(counted.spread),
                "allowed": formats.percent(allowed),
            }
        )
    rows = list(
        Balance.objects.at(LocationKind.BEAD_SHELF).filter(item=item, quantity__gt=0)
        .select_related("place")
    )  # fmt: skip
    if len(rows) != 1:
        raise ValidationError(
            _("%(item)s lies in %(places)s places; count each of them by hand.")
            % {"item": item, "places": len(rows)}
        )
    why = _("counted by weight, %(least)s to %(most)s") % {
        "least": counted.least,
        "most": counted.most,
    }
    return count_shelf(rows[0].place, {item: counted.beads}, why=str(why), person=person)


@transaction.atomic
def remember_mass(
    bead: Bead, counted: WeighedCount, said: dict[str, Any], *, person: Person
) -> None:
    """Keep the mean mass of a sample as the bead's own, if the sample is the larger one yet."""
    grams = said["sample_g"]
    beads = len(grams) if len(grams) > 1 else said.get("sample_beads") or 0
    if beads <= bead.weighed_count:
        return
    before = bead.weighed_mg
    bead.weighed_mg = round(sum(grams) * 1000 / beads)
    bead.weighed_count = beads
    bead.save(update_fields=["weighed_mg", "weighed_count"])
    record_act(
        person,
        "weigh sample",
        bead,
        before={"weighed_mg": before},
        after={"weighed_mg": bead.weighed_mg, "beads": beads},
    )
