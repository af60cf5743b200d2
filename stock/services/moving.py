"""Stock put somewhere else within the walls, and stock that was here before the book began."""

import uuid
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.masses import finished_mg
from stock.models import (
    SHELVES,
    Balance,
    Bead,
    BeadBatch,
    GlassColour,
    GlassForm,
    LocationKind,
    Posting,
    PostingKind,
    StockLocation,
)
from stock.services.book import Move, NotEnough, post
from stock.services.places import batch_item, glass_item, usual_place
from stock.services.sacks import known_mark, refuse_mixed_mark
from workshop.costs.amounts import six
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

MG_PER_G, G_PER_KG = 1000, 1000


@transaction.atomic
def move_stock(
    balance: Balance,
    to_place: StockLocation,
    quantity: int,
    *,
    person: Person,
) -> Posting:
    """Put so much of what lies in one place into another; what is promised stays where it is."""
    # On the bench and in the kiln beads stand at a step of the work, and only the work moves them.
    if to_place.kind != balance.place.kind or to_place.kind not in SHELVES:
        raise ValidationError(
            {"place": _("Choose a place of the same kind; other moves are work and have a page.")}
        )
    if quantity > balance.free_quantity:
        raise NotEnough(balance.item, balance.place, quantity, max(0, balance.free_quantity))
    move = Move(balance.item, balance.place, to_place, quantity)
    posting = post(
        PostingKind.MOVE,
        [move],
        on=timezone.localdate(),
        person=person,
        why=str(_("moved to %s") % to_place.name),
    )
    record_act(person, "move stock", posting, after={"to": to_place.name, "quantity": quantity})
    return posting


def open_stock(form: Any, *, person: Person) -> Posting:
    """Glass or beads that lay here before the book began, as a valid form tells of them."""
    data, each = form.cleaned_data, form.cleaned_data["worth_each"]
    known = {"on": data["on"], "person": person}
    if data["bead"]:
        return open_beads(data["bead"], data["pieces"], value=each * data["pieces"], **known)
    value = six(each * data["mass_g"] / G_PER_KG)
    glass = form.chosen_colour(), data["form"], data["mass_g"]
    return open_glass(*glass, mark=data["mark"], value=value, **known)


@transaction.atomic
def open_glass(
    colour: GlassColour | None,
    form: str,
    mass_g: int,
    *,
    mark: str = "",
    value: Decimal = Decimal(0),
    person: Person,
    on: date | None = None,
    key: uuid.UUID | None = None,
) -> Posting:
    """Glass that lay here before the book began; of a lot or maker, on a heap of its own."""
    refuse_mixed_mark(colour, mark)
    shelf = LocationKind.YARD if form == GlassForm.RAW else LocationKind.GLASS_SHELF
    move = Move(
        glass_item(colour, form, known_mark(mark)),
        usual_place(LocationKind.OPENING),
        usual_place(shelf),
        mass_g * MG_PER_G,
        value=value,
    )
    return _open(move, person, on, key)


@transaction.atomic
def open_beads(
    bead: Bead,
    pieces: int,
    *,
    value: Decimal = Decimal(0),
    person: Person,
    on: date | None = None,
    place: StockLocation | None = None,
    key: uuid.UUID | None = None,
) -> Posting:
    """Good beads that lay here before the book began; they get a batch of their own."""
    day = on or timezone.localdate()
    batch = BeadBatch.objects.create(
        number=take_number("batch"), bead=bead, made_on=day, started=pieces, good=pieces,
        note=str(_("here before the book began")),
    )  # fmt: skip
    move = Move(
        batch_item(batch),
        usual_place(LocationKind.OPENING),
        place or usual_place(LocationKind.BEAD_SHELF),
        pieces,
        round(finished_mg(bead) * pieces),
        value,
    )
    return _open(move, person, on, key)


def _open(move: Move, person: Person, on: date | None, key: uuid.UUID | None) -> Posting:
    posting = post(
        PostingKind.OPENING,
        [move],
        on=on or timezone.localdate(),
        person=person,
        why=str(_("%s was here before the book began") % move.item.name)[:200],
        key=key,
    )
    record_act(person, "opening stock", posting, after={"item": move.item.name})
    return posting
