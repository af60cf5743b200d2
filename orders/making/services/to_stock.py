"""Strands strung to stock, for nobody's order yet."""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from orders.costing.errors import CostingError
from orders.drawn.strands import Draughtsman, findings_each
from orders.facts.wording import refusal
from orders.making.services.findings import findings_for
from orders.making.services.holds import strand_item
from orders.models import StrandDesign
from stock.models import Bead, Posting
from stock.services.stringing import string_strands
from stock.services.tickets import Done, write_ticket
from workshop.models import Person, Skill


def beads_each(design: StrandDesign) -> dict[Bead, int]:
    """The beads one strand of a design takes; a ValidationError where it cannot be laid out."""
    try:
        layout = Draughtsman([design]).layout(design.pk)
    except CostingError as error:
        raise ValidationError(refusal(error)) from error
    beads = Bead.objects.in_bulk([int(key) for key, _each in layout.beads])
    return {beads[int(key)]: each for key, each in layout.beads}


@transaction.atomic
def string_to_stock(
    design: StrandDesign,
    strands: int,
    *,
    person: Person,
    on: date | None = None,
    minutes: int | None = None,
) -> Posting:
    """String so many strands of a design from free beads, the oldest batches first.

    minutes  that it took; None where the work is told otherwise, so that no ticket is written
    """
    wanted = {bead: each * strands for bead, each in beads_each(design).items()}
    supplies, _held = findings_for(design, strands)
    posting = string_strands(
        strand_item(design),
        strands,
        wanted,
        person=person,
        on=on,
        findings=findings_each(design, in_stock_too=False),
        supplies=supplies,
        counted=design.is_loose,
    )
    if minutes is not None and (minutes or not design.is_loose):
        done = Done(strands=0 if design.is_loose else strands, minutes=minutes)
        write_ticket(Skill.STRINGING, done, person, posting=posting)
    return posting
