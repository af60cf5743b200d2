"""Glasses kept apart: heaps of another kind than bottle glass, and the owner's word about them."""

from collections.abc import Iterable, Mapping, Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    Balance,
    GlassColour,
    GlassForm,
    GlassKind,
    GlassTest,
    Item,
    LocationKind,
    Posting,
    PostingKind,
    Sack,
    said_glass,
)
from stock.services.convert import Made, Taken, convert
from stock.services.moves import say_quantity
from stock.services.places import glass_item, usual_place
from workshop.models import Person
from workshop.services.acts import record_act

ITS_OWN, WITH_BOTTLES = "own", "bottles"
# Expansion of a heap whose kind is known by a standard; borosilicate glass 3.3: ISO 3585.
EXPANSION_OF_KIND = {GlassKind.OVEN: 33}


def heap_of(colour: GlassColour | None, kind: str) -> GlassColour | None:
    """The glass of a kind beside the bottle glass of a colour; made when first asked for.

    A glass that is of no bottle already stays what it is.
    """
    if kind == GlassKind.BOTTLE or (colour is not None and not colour.is_bottle):
        return colour
    name = f"{colour or _('mixed')} · {GlassKind(kind).label}"[:40]
    known = (
        GlassColour.objects.filter(kept_from=colour, kind=kind)
        if colour is not None
        else GlassColour.objects.filter(kept_from__isnull=True, kind=kind, name=name)
    ).first()
    if known is not None:
        return known
    like = colour or GlassColour(swatch="#b9b2a3")
    return GlassColour.objects.create(
        name=_free_name(name),
        kind=kind,
        kept_from=colour,
        swatch=like.swatch,
        see_through=like.see_through,
        bottle_g=like.bottle_g,
        price_per_kg=like.price_per_kg,
        washing_yield=like.washing_yield,
        powder_yield=like.powder_yield,
        chunk_yield=like.chunk_yield,
        expansion_e7=EXPANSION_OF_KIND.get(GlassKind(kind)),
    )


WORST_FIRST = (GlassKind.UNKNOWN, GlassKind.OVEN, GlassKind.SHEET)


def mix_of(colours: Iterable[GlassColour]) -> GlassColour | None:
    """The heap of a mix of glasses: that of the kind most to be kept apart, else mixed bottles."""
    kinds = {colour.kind for colour in colours}
    worst = next((kind for kind in WORST_FIRST if kind in kinds), GlassKind.BOTTLE)
    return heap_of(None, worst)


def _free_name(name: str) -> str:
    """The name, or with a number behind it where a glass is called so already."""
    taken = set(GlassColour.objects.values_list("name", flat=True))
    names = (name if n == 1 else f"{name[:36]} {n}" for n in range(1, 1000))
    return next(each for each in names if each not in taken)


@transaction.atomic
def clear_sack(
    sack: Sack,
    *,
    person: Person,
    why: str,
    becomes: str = WITH_BOTTLES,
) -> Posting:
    """The owner's word, with its reason, on glass kept apart.

    becomes  "bottles": melted with the bottle glass of its colour; "own": melted as a glass of
             its own, on its own heap. Of a heap that was used meanwhile, what is left goes over.
    """
    sack = Sack.objects.select_for_update(of=("self",)).select_related("colour").get(pk=sack.pk)
    if not sack.awaits_word or (becomes == ITS_OWN and not sack.held_apart):
        raise ValidationError(
            _("%(sack)s is not held apart (any more); there is nothing to clear.") % {"sack": sack}
        )
    if not why.strip():
        raise ValidationError({"why": _("Write how you know; it stays with the sack.")})
    there = _where_it_lies(sack)
    target = _target(sack, there.item, becomes)
    mg = min(there.free_quantity, sack.net_g * 1000)
    posting = convert(
        PostingKind.CLEARING,
        [Taken(there.item, there.place, mg)],
        [Made(target, usual_place(LocationKind.YARD), mg)],
        on=timezone.localdate(),
        person=person,
        why=str(_("sack %d cleared for melting") % sack.number),
        belongs=("sack", str(sack.number)),
    )
    sack.held_apart, sack.cleared_by, sack.cleared_why = False, person, why.strip()
    sack.with_bottles = becomes == WITH_BOTTLES
    sack.save(update_fields=["held_apart", "cleared_by", "cleared_why", "with_bottles"])
    record_act(
        person,
        "clear sack",
        sack,
        before={"held_apart": there.place.kind == LocationKind.APART, "glass": str(there.item)},
        after={"held_apart": False, "glass": str(target), "why": why.strip()},
    )
    return posting


def _target(sack: Sack, item: Item, becomes: str) -> Item:
    """The heap that the glass goes to; glass held apart before there were heaps keeps its own."""
    if becomes == ITS_OWN or item.colour is None or item.colour.is_bottle:
        return item
    return glass_item(item.colour.kept_from, GlassForm.RAW, item.mark)


def _where_it_lies(sack: Sack) -> Balance:
    """What is left of the sack's heap, held apart or in the yard."""
    assert sack.posting is not None, "a sack is posted when it is weighed in"
    item = sack.posting.movements.select_related("item__colour__kept_from").get().item
    kind = LocationKind.APART if sack.held_apart else LocationKind.YARD
    row = Balance.objects.select_related("place").filter(item=item, place=usual_place(kind)).first()
    if row is None or row.free_quantity <= 0:
        raise ValidationError(
            _("Nothing is left of %(glass)s raw; it was used meanwhile.")
            % {"glass": said_glass(item.colour, item.mark)}
        )
    row.item = item
    return row


def refuse_mixing(inputs: Sequence[Taken], outputs: Sequence[Made]) -> None:
    """Of a kind and mark of glass no more comes out of a preparation than went in.

    So window glass cannot be written out as bottle glass, nor a mark be lost on the way.
    """
    went_in, came_out = _by_kind(inputs), _by_kind(outputs)
    if len({*went_in, *came_out}) < 2:
        return  # one glass: that no more comes out than went in is the book's own rule
    for glass, mg in came_out.items():
        if mg > went_in.get(glass, 0):
            item = next(each.item for each in outputs if _kind_of(each.item) == glass)
            raise ValidationError(_said_mixing(item, mg, went_in.get(glass, 0)))


def _said_mixing(item: Item, came_mg: int, went_mg: int) -> str:
    kind, mark = _kind_of(item)
    words = {
        "glass": f"{GlassKind(kind).label} · {mark}" if mark else str(GlassKind(kind).label),
        "came": say_quantity(item, came_mg),
        "went": say_quantity(item, went_mg),
    }
    return (
        _(
            "%(came)s of %(glass)s came out and %(went)s went in. Glasses of another kind or mark "
            "are kept apart: write what came out beside the heap it came from. Only the owner can "
            "put a sack with bottle glass, on the sack's page."
        )
        % words
    )


def _kind_of(item: Item) -> tuple[str, str]:
    return (item.colour.kind if item.colour is not None else GlassKind.BOTTLE, item.mark)


def _by_kind(parts: Iterable[Taken] | Iterable[Made]) -> Mapping[tuple[str, str], int]:
    found: dict[tuple[str, str], int] = {}
    for part in parts:
        key = _kind_of(part.item)
        found[key] = found.get(key, 0) + part.quantity
    return found


@transaction.atomic
def write_test(test: GlassTest, *, person: Person) -> GlassTest:
    """Two glasses were fused together and looked at when cold."""
    test.person = person
    test.full_clean()
    test.save()
    record_act(
        person, "test glasses together", test, after={"glasses": str(test), "held": test.held}
    )
    return test
