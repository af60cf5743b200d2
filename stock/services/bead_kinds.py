"""What a bead is, written down with its colours."""

from typing import Any

from django.db import transaction
from django.forms import ModelForm

from stock.models import Bead, BeadColour
from stock.services.moving import open_beads
from workshop.models import Person
from workshop.services.acts import record_act


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
        open_beads(bead, pieces, value=pieces * form.cleaned_data["worth_each"], person=person)
    return bead
