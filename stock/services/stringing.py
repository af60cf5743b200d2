"""Beads strung to strands, and strands taken apart into beads again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    Balance,
    Bead,
    ChargeName,
    Item,
    ItemKind,
    LocationKind,
    LossName,
    Movement,
    Posting,
)
from stock.models import PostingKind as Kind
from stock.services.book import Move, NotEnough, post
from stock.services.convert import Made, Taken, Told, convert
from stock.services.moves import Cost, split_whole
from stock.services.places import usual_place
from stock.services.standards import Standards, set_up_borne
from stock.trail import made_by
from workshop.costs.amounts import ONE, ZERO, six
from workshop.models import Person, Skill
from workshop.rates import Amount
from workshop.services.acts import record_act


def oldest_first(bead: Bead, pieces: int) -> list[Taken]:
    """Free good beads of a kind from its batches, the oldest batch first."""
    rows = (
        Balance.objects.at(LocationKind.BEAD_SHELF)
        .free()
        .filter(item__batch__bead=bead)
        .select_related("item__batch__bead", "place")
        .order_by("item__batch__made_on", "item__batch__number", "place_id")
    )
    parts, left = [], pieces
    for row in rows:
        piece = min(row.free_quantity, left)
        if piece > 0:
            parts.append(Taken(row.item, row.place, piece))
            left -= piece
    if left:
        raise ValidationError(
            _(
                "%(bead)s: %(needed)s are needed and %(found)s are free on the bead shelf. "
                "Make %(left)s more, or string fewer strands."
            )
            % {"bead": bead, "needed": pieces, "found": pieces - left, "left": left}
        )
    return parts


@transaction.atomic
def string_strands(
    item: Item,
    strands: int,
    beads: Sequence[Taken] | Mapping[Bead, int],
    *,
    person: Person,
    on: date | None = None,
    belongs: tuple[str, str] = ("", ""),
    findings: Decimal = ZERO,
    supplies: Sequence[Taken] = (),
    counted: bool = False,
) -> Posting:
    """String `strands` of one design from named batches, or from beads per kind, oldest first.

    beads     what goes onto all of the strands together: parts taken, or pieces by bead
    findings  what clasps, spacers and cord of one strand cost that are not kept in stock
    supplies  those of all of them that are, from their shelf
    counted   loose beads: nobody strings them, they are counted out
    """
    if strands < 1:
        raise ValidationError({"strands": _("String at least one strand.")})
    if item.kind != ItemKind.STRANDS:
        raise ValidationError(_("%(item)s is not a strand.") % {"item": item})
    if isinstance(beads, Mapping):
        beads = [part for bead, pieces in beads.items() for part in oldest_first(bead, pieces)]
    on = on or timezone.localdate()
    pieces = sum(part.quantity for part in beads)
    costs = []
    if not counted:
        costs = Standards(on).steps(
            Skill.STRINGING, Amount(beads=pieces, strands=strands), set_up=set_up_borne(belongs)
        )
    if findings:
        cost = six(findings * strands)
        costs.append(Cost(ChargeName.MATERIALS, cost, "findings", Decimal(strands), rate=findings))
    words = _("%(count)d × %(item)s counted out") if counted else _("%(count)d × %(item)s strung")
    posting = convert(
        Kind.STRINGING,
        [*beads, *supplies],
        [Made(item, usual_place(LocationKind.STRAND_SHELF), strands)],
        on=on,
        person=person,
        why=str(words % {"count": strands, "item": item.name}),
        belongs=belongs,
        charges=costs,
    )
    record_act(person, "count out" if counted else "string", item, after={"strands": strands})
    return posting


@dataclass(frozen=True)
class Returned:
    """Beads of one batch that come off the cord again, and what they carried when strung."""

    item: Item
    pieces: int
    value: Decimal = ZERO


def beads_on(item: Item, strands: int) -> list[Returned]:
    """The beads, by batch, on the `strands` that have lain on the shelf the longest."""
    row = Balance.objects.filter(item=item, place__kind=LocationKind.STRAND_SHELF).first()
    if row is None or row.quantity < strands:
        raise NotEnough(item, usual_place(LocationKind.STRAND_SHELF), strands,
                        row.quantity if row else 0)  # fmt: skip
    found: dict[Item, int] = {}
    worth: dict[Item, Decimal] = {}
    for posting_id, pieces, made in made_by(row, strands):
        strung = Movement.objects.filter(
            posting_id=posting_id, to_place__kind=LocationKind.IN_WORK, item__kind=ItemKind.BEADS
        ).select_related("item__batch__bead")
        by_bead: dict[int, list[Movement]] = {}
        for movement in strung:
            assert movement.item.batch is not None
            by_bead.setdefault(movement.item.batch.bead_id, []).append(movement)
        for movements in by_bead.values():
            whole = sum(m.quantity for m in movements) * pieces // made
            for m, part in zip(
                movements, split_whole(whole, [m.quantity for m in movements]), strict=True
            ):
                found[m.item] = found.get(m.item, 0) + part
                carried = six(m.value * part / m.quantity)
                worth[m.item] = worth.get(m.item, ZERO) + carried
    return [
        Returned(bead_item, pieces, worth[bead_item])
        for bead_item, pieces in found.items()
        if pieces
    ]


@transaction.atomic
def take_apart(
    item: Item,
    strands: int,
    *,
    person: Person,
    broken: Mapping[int, int] | None = None,
    on: date | None = None,
) -> Posting:
    """Cut strands open; their beads go back to the bead shelf under their batches.

    Each takes what it carried when it was strung, less if the strands are worth less by now; what
    broke, the findings and the stringing are expensed.

    `broken` says how many beads of an item (by key) did not survive; their glass is lost.
    """
    if strands < 1:
        raise ValidationError({"strands": _("Take at least one strand apart.")})
    shelf = usual_place(LocationKind.STRAND_SHELF)
    back = beads_on(item, strands)
    if not back:
        raise ValidationError(_("Nothing in the book says what these strands were strung from."))
    bead_shelf = usual_place(LocationKind.BEAD_SHELF)
    made = [
        Made(part.item, bead_shelf, part.pieces - (broken or {}).get(part.item.pk, 0))
        for part in back
    ]
    if any(part.quantity < 0 for part in made):
        raise ValidationError(_("More beads are broken than were on the strands."))
    sound = [
        six(part.value * output.quantity / part.pieces)
        for part, output in zip(back, made, strict=True)
    ]

    def told(value: Decimal) -> Told:
        carried = sum((part.value for part in back), ZERO)
        scale = min(ONE, value / carried) if carried else ZERO
        worth = [six(each * scale) for each in sound]
        if (over := sum(worth, ZERO) - value) > 0:  # a millionth rounded up once too often
            worth[-1] -= over
        gone = value - sum(worth, ZERO)
        return Told(worth, expenses=[Cost(ChargeName.APART, -gone)] if gone else [])

    posting = convert(
        Kind.TAKING_APART,
        [Taken(item, shelf, strands)],
        made,
        rest=LossName.BREAKAGE,
        on=on or timezone.localdate(),
        person=person,
        why=str(_("%(count)d × %(item)s taken apart") % {"count": strands, "item": item.name}),
        told=told,
    )
    record_act(person, "take apart", item, after={"strands": strands})
    return posting


@transaction.atomic
def hand_over(
    parts: Sequence[Taken], *, person: Person, why: str, belongs: tuple[str, str],
    on: date | None = None,
) -> Posting:  # fmt: skip
    """Strands (or loose beads) leave with the customer."""
    sold = usual_place(LocationKind.SOLD)
    moves = [
        Move(part.item, part.place, sold, part.quantity, from_hold=part.from_hold) for part in parts
    ]
    return post(
        Kind.COLLECTION, moves, on=on or timezone.localdate(), person=person, why=why,
        belongs=belongs,
    )  # fmt: skip
