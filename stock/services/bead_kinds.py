"""What a bead is, written down with its colours."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.forms import ModelForm
from django.utils.translation import gettext as _

from stock.models import Bead, BeadColour, BeadPaint
from stock.services.moving import open_beads
from stock.services.standard_beads import cost_of_bead
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def name_paints(bead: Bead, paints: Sequence[BeadPaint], *, person: Person) -> Bead:
    """Say which paints go on a bead and how much of each; those named before go."""
    bead.paints.all().delete()
    BeadPaint.objects.bulk_create(paints)
    told = {paint.item.name: str(paint.mg_each or "") for paint in paints}
    record_act(person, "name paints", bead, after={"mg each": told})
    return bead


@transaction.atomic
def save_bead(form: ModelForm, shares: Any, *, person: Person) -> Bead:
    """Save what a bead is, its colours, and those that lie here already; both forms are valid."""
    before = {name: str(form.initial.get(name, "")) for name in form.changed_data}
    bead = form.save()
    bead.colours.all().delete()
    BeadColour.objects.bulk_create(
        BeadColour(bead=bead, colour=colour, share=share, layer=layer)
        for layer, (colour, share) in enumerate(shares.rows())
    )
    after: dict[str, Any] = {
        name: str(form.cleaned_data.get(name, "")) for name in form.changed_data
    }
    after["colours"] = {colour.name: str(share) for colour, share in shares.rows()}
    record_act(person, "save bead", bead, before=before, after=after)
    if pieces := form.cleaned_data.get("here"):
        each = form.cleaned_data["worth_each"]
        value = pieces * (_cost_to_make(bead) if each is None else each)
        open_beads(bead, pieces, value=value, person=person)
    return bead


def _cost_to_make(bead: Bead) -> Decimal:
    """What one costs to make; asked where that cannot be told, so that none sells for nothing."""
    each = cost_of_bead(bead)
    if each is None:
        raise ValidationError(
            {
                "worth_each": _(
                    "Write what one cost to make: without moulding steps and a kiln it cannot be "
                    "worked out."
                )
            }
        )
    return each
