"""Beads from the mould to the shelf: moulded, fired, sorted into good and rejects."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.masses import fill_mg
from stock.models import (
    Balance,
    Bead,
    BeadBatch,
    GlassColour,
    GlassForm,
    Item,
    LossName,
    Place,
    PlaceKind,
    Posting,
    PostingKind,
)
from stock.services.book import Move, NotEnough, post
from stock.services.convert import Loss, Made, Taken, convert
from stock.services.places import (
    COOLED,
    MOULDED,
    TO_PAINT,
    batch_item,
    bench_place,
    glass_item,
    usual_place,
)
from workshop.models import BeadKind, Person
from workshop.services.acts import record_act
from workshop.services.numbers import take_number

TO_REMAKE, TO_GLASS = "remade", "glass"


def glass_to_weigh(bead: Bead, count: int, form: str = "") -> list[Taken]:
    """Glass of each colour that `count` beads take from the glass shelf, by the bead's shares."""
    form = form or (GlassForm.REJECTS if bead.kind == BeadKind.REMADE else bead.form)
    parts = list(bead.colours.select_related("colour"))
    if not parts:
        raise ValidationError(
            _("%(bead)s has no colours yet; give them in the bead's page first.") % {"bead": bead}
        )
    shelf = usual_place(PlaceKind.GLASS_SHELF)
    each = fill_mg(bead, parts)
    return [
        Taken(glass_item(part.colour, form), shelf, _whole(each * count * part.share))
        for part in parts
    ]


@transaction.atomic
def mould_beads(
    bead: Bead,
    count: int,
    *,
    person: Person,
    on: date | None = None,
    glass: Sequence[Taken] | None = None,
    from_holds: Mapping[int, int] | None = None,
    note: str = "",
    belongs: tuple[str, str] | None = None,
    key: uuid.UUID | None = None,
) -> BeadBatch:
    """Fill moulds with `count` beads: prepared glass becomes a new batch on the bench.

    glass       what was weighed out; left out, what the bead's colours and losses ask for
    from_holds  of that, what was held for an order, in mg by item key
    """
    if key is not None and (done := Posting.objects.filter(key=key).first()):
        return BeadBatch.objects.get(number=int(done.belongs_ref))
    if count < 1:
        raise ValidationError({"count": _("Mould at least one bead.")})
    on = on or timezone.localdate()
    taken = [
        replace(part, from_hold=min(part.quantity, (from_holds or {}).get(part.item.pk, 0)))
        for part in (glass if glass is not None else glass_to_weigh(bead, count))
    ]
    batch = BeadBatch(
        number=take_number("batch"), bead=bead, made_on=on, started=count, note=note[:200]
    )
    batch.full_clean(exclude=["number"])
    batch.save()
    spilt = _whole(Decimal(sum(t.quantity for t in taken)) * bead.spill_share)
    convert(
        PostingKind.MOULDING,
        taken,
        [Made(batch_item(batch), bench_place(MOULDED), count)],
        [Loss(LossName.SPILL, spilt)],
        on=on,
        person=person,
        why=str(_("batch %d moulded") % batch.number),
        belongs=belongs or ("batch", str(batch.number)),
        key=key,
    )
    record_act(person, "mould beads", batch, after={"bead": bead.name, "count": count})
    return batch


@transaction.atomic
def load_beads(
    batch: BeadBatch, count: int, *, person: Person, on: date | None = None, load: str = ""
) -> Posting:
    """Moulded (or painted) beads into the kiln."""
    return _shift(batch, count, (PlaceKind.BENCH,), usual_place(PlaceKind.KILN),
                  PostingKind.LOADING, person, on, load)  # fmt: skip


@transaction.atomic
def unload_beads(
    batch: BeadBatch, count: int, *, person: Person, on: date | None = None, load: str = ""
) -> Posting:
    """A cooled load's beads out of the kiln, to be finished and sorted."""
    return _shift(batch, count, (PlaceKind.KILN,), bench_place(COOLED),
                  PostingKind.FIRING, person, on, load)  # fmt: skip


def _shift(
    batch: BeadBatch,
    count: int,
    kinds: Sequence[str],
    to_place: Place,
    kind: str,
    person: Person,
    on: date | None,
    load: str,
) -> Posting:
    item = batch_item(batch)
    moves = [
        Move(item, part.place, to_place, part.quantity)
        for part in take_where_it_is(item, count, kinds)
        if part.place != to_place
    ]
    belongs = ("load", load) if load else ("batch", str(batch.number))
    return post(
        kind, moves, on=on or timezone.localdate(), person=person,
        why=str(_("batch %d") % batch.number), belongs=belongs,
    )  # fmt: skip


def take_where_it_is(item: Item, count: int, kinds: Sequence[str]) -> list[Taken]:
    """`count` pieces of an item from the places of some kinds, in the order of the kinds."""
    rows = Balance.objects.at(*kinds).filter(item=item, quantity__gt=0).select_related("place")
    found, parts = 0, []
    for row in sorted(rows, key=lambda row: (list(kinds).index(row.place.kind), row.place_id)):
        piece = min(row.free_quantity, count - found)
        if piece > 0:
            parts.append(Taken(item, row.place, piece))
            found += piece
    if found < count:
        raise NotEnough(item, usual_place(kinds[0]), count, found)
    return parts


@transaction.atomic
def log_good_beads(
    batch: BeadBatch,
    *,
    good: int,
    rejected: int,
    person: Person,
    on: date | None = None,
    firing: int | None = None,
    rejects_to: str = TO_REMAKE,
    place: Place | None = None,
    broken: int = 0,
    belongs: tuple[str, str] | None = None,
    key: uuid.UUID | None = None,
) -> Posting:
    """Finish and sort what came out of the kiln: good beads to the shelf, rejects to the glass.

    firing      1 or 2; a painted bead's good ones go on to painting after the first
    rejects_to  "remade": kept as rejects for remade beads; "glass": raw glass again
    broken      beads gone altogether (an accident in the kiln); their glass and cost are lost
    """
    on = on or timezone.localdate()
    # Of two people who sort the same batch, the second waits here and then sees what is left.
    BeadBatch.objects.select_for_update().get(pk=batch.pk)
    bead = batch.bead
    firing = firing or next_firing(batch)
    count = good + rejected + broken
    if min(good, rejected, broken) < 0 or not count:
        raise ValidationError(_("Write how many came good and how many are rejects."))
    taken = take_where_it_is(batch_item(batch), count, (PlaceKind.KILN, PlaceKind.BENCH))
    last = firing >= bead.firings
    glass = _sorted_glass(bead, taken, good, rejected, broken, firing)
    shelf = (place or usual_place(PlaceKind.BEAD_SHELF)) if last else bench_place(TO_PAINT)
    made = [Made(batch_item(batch), shelf, good, glass.good_mg)]
    if glass.reject_mg:
        made.append(_rejects(batch, glass.reject_mg, rejects_to))
    posting = convert(
        PostingKind.FINISHING,
        taken,
        made,
        glass.losses,
        rest=LossName.UNWEIGHED,
        on=on,
        person=person,
        why=str(_("batch %d finished and sorted") % batch.number),
        belongs=belongs or ("batch", str(batch.number)),
        key=key,
    )
    BeadBatch.objects.filter(pk=batch.pk).update(
        good=F("good") + (good if last else 0), rejected=F("rejected") + rejected + broken
    )
    batch.refresh_from_db(fields=["good", "rejected"])
    record_act(
        person, "finish and sort", batch, after={"good": good, "rejected": rejected, "lost": broken}
    )
    return posting


@dataclass(frozen=True)
class _SortedGlass:
    """Glass of what was sorted, in milligrams: in good beads, in rejects, and lost by name."""

    good_mg: int
    reject_mg: int
    losses: tuple[Loss, ...]


def _sorted_glass(
    bead: Bead, taken: Sequence[Taken], good: int, rejected: int, broken: int, firing: int
) -> _SortedGlass:
    """Piercing and polishing take glass once, after the first firing; broken beads take theirs."""
    glass = sum(_glass_share(part) for part in taken)
    lost = glass * broken // (good + rejected + broken)
    sound = glass - lost
    # What the hole takes is gone from good beads and rejects alike before they are sorted.
    pierced = _whole(sound * Decimal(bead.pierced_waste)) if firing == 1 else 0
    rejects = (sound - pierced) * rejected // max(1, good + rejected)
    good_mg = sound - pierced - rejects
    polished = _whole(good_mg * Decimal(bead.polishing_loss)) if firing == 1 else 0
    losses = (
        Loss(LossName.PIERCING, pierced),
        Loss(LossName.POLISHING, polished),
        Loss(LossName.ACCIDENT, lost),
    )
    return _SortedGlass(good_mg - polished, rejects, losses)


def next_firing(batch: BeadBatch) -> int:
    """Which firing the batch's beads come from: the second once some were sent to painting."""
    if batch.bead.firings == 1:
        return 1
    painted = Posting.objects.filter(
        kind=PostingKind.FINISHING,
        reversed_by__isnull=True,
        movements__item__batch=batch,
        movements__to_place=bench_place(TO_PAINT),
    )
    return 2 if painted.exists() else 1


def _glass_share(part: Taken) -> int:
    row = Balance.objects.get(item=part.item, place=part.place)
    return row.glass_mg * part.quantity // row.quantity


def _rejects(batch: BeadBatch, glass_mg: int, rejects_to: str) -> Made:
    colour = only_colour(batch.bead)
    if rejects_to == TO_GLASS:
        return Made(glass_item(colour, GlassForm.RAW), usual_place(PlaceKind.YARD), glass_mg)
    rejects = glass_item(colour, GlassForm.REJECTS)
    return Made(rejects, usual_place(PlaceKind.GLASS_SHELF), glass_mg)


def only_colour(bead: Bead) -> GlassColour | None:
    """The bead's one colour; None when it is of several, whose glass is a mix."""
    parts = list(bead.colours.select_related("colour"))
    return parts[0].colour if len(parts) == 1 else None


def _whole(mg: Decimal) -> int:
    return int(mg.to_integral_value(ROUND_HALF_UP))
