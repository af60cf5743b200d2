"""Raw glass washed, sorted, broken or ground: what went in, what came out, what was lost."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    GlassColour,
    GlassForm,
    LocationKind,
    LossName,
    PostingKind,
    Preparation,
)
from stock.services.apart import refuse_mixing
from stock.services.convert import Loss, Made, Taken, convert
from stock.services.moves import Cost, split_whole
from stock.services.places import glass_item, usual_place
from stock.services.standards import Standards, total_of
from stock.services.tickets import write_preparing
from workshop.costs.amounts import SIX_PLACES
from workshop.models import Person, Skill
from workshop.rates import Amount
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

PREPARED = (GlassForm.CHUNKS, GlassForm.POWDER)


@transaction.atomic
def prepare_glass(
    inputs: Sequence[Taken],
    outputs: Sequence[Made],
    *,
    form: str,
    person: Person,
    hand: Person | None = None,
    on: date | None = None,
    losses: Mapping[str, int] | None = None,
    sieve_mm: Decimal | None = None,
    minutes: int = 0,
) -> Preparation:
    """Log one preparation: inputs, outputs and losses by name [mg]; the rest is lost unweighed.

    Refused with a sentence when the outputs and losses weigh more than the inputs, in all or of
    one kind or mark of glass.
    """
    on = on or timezone.localdate()
    if not outputs:
        raise ValidationError(_("Nothing came out; write at least one mass that was prepared."))
    refuse_mixing(inputs, outputs)
    number = take_number("preparation")
    outputs, charges = _charged(outputs, on)
    posting = convert(
        PostingKind.PREPARATION,
        inputs,
        outputs,
        [Loss(name, mg) for name, mg in (losses or {}).items()],
        rest=LossName.UNWEIGHED,
        on=on,
        person=person,
        why=str(_("preparation %d") % number),
        belongs=("preparation", str(number)),
        charges=charges,
    )
    made = Preparation(
        number=number,
        done_on=on,
        form=form,
        sieve_mm=sieve_mm,
        hand=hand or person,
        minutes=minutes,
        posting=posting,
    )
    made.full_clean(exclude=["number"])
    made.save()
    out_mg = sum(output.quantity for output in outputs)
    write_preparing(
        posting, minutes, out_mg, hand=made.hand, form=form, belongs=f"preparation {made.number}"
    )
    record_act(person, "prepare glass", made, after={"form": form, "minutes": minutes})
    return made


def _charged(outputs: Sequence[Made], on: date) -> tuple[list[Made], list[Cost]]:
    """Hands and workshop by kilogram that came out; each form bears its own steps, by mass."""
    standards, borne = Standards(on), set[str]()
    by_form: dict[str, list[int]] = {}
    for place, output in enumerate(outputs):
        by_form.setdefault(output.item.form, []).append(place)
    found, charges = list(outputs), list[Cost]()
    for form, places in by_form.items():
        masses = [outputs[place].quantity for place in places]
        amount = Amount(glass_g=Decimal(sum(masses)) / 1000)
        costs = standards.steps(Skill.PREPARING, amount, form=form, set_up=borne)
        charges += costs
        own = split_whole(int(total_of(costs) / SIX_PLACES), masses)
        for place, millionths in zip(places, own, strict=True):
            found[place] = replace(outputs[place], own=millionths * SIX_PLACES)
    return found, charges


def raw_of(colour: GlassColour | None, mass_mg: int) -> Taken:
    """So much raw glass of a colour, without a mark, out of the yard."""
    return Taken(glass_item(colour, GlassForm.RAW), usual_place(LocationKind.YARD), mass_mg)


def ready(colour: GlassColour | None, form: str, mass_mg: int, mark: str = "") -> Made:
    """So much prepared glass of a colour onto the glass shelf."""
    return Made(glass_item(colour, form, mark), usual_place(LocationKind.GLASS_SHELF), mass_mg)
