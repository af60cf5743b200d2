"""The places every workshop has, and the items the book counts, made when first asked for."""

from stock.models import BeadBatch, GlassColour, GlassForm, Item, ItemKind, Place, PlaceKind

# Where beads stand on the bench between two steps.
MOULDED, COOLED, TO_PAINT = "moulded", "out of the kiln", "to paint"


def usual_place(kind: str) -> Place:
    """The workshop's own place of a kind, e.g. its glass shelf."""
    place = Place.objects.filter(kind=kind).order_by("pk").first()
    if place is None:
        place, _made = Place.objects.get_or_create(kind=kind, name=str(PlaceKind(kind).label))
    return place


def bench_place(name: str) -> Place:
    """The spot of the bench where beads of one step stand."""
    place, _made = Place.objects.get_or_create(kind=PlaceKind.BENCH, name=name)
    return place


def glass_item(colour: GlassColour | None, form: str) -> Item:
    """The item of a glass colour in a form; without a colour, a mix of colours."""
    item = Item.objects.filter(kind=ItemKind.GLASS, colour=colour, form=form).first()
    if item is None:
        name = f"{colour.name if colour else 'mixed'} {GlassForm(form).label}"
        item, _made = Item.objects.get_or_create(
            kind=ItemKind.GLASS, colour=colour, form=form, defaults={"name": name}
        )
    return item


def batch_item(batch: BeadBatch) -> Item:
    """The item of a batch's beads."""
    item, _made = Item.objects.get_or_create(
        batch=batch,
        defaults={"kind": ItemKind.BEADS, "name": f"{batch.bead.name}, batch {batch.number}"},
    )
    return item


def strand_item(name: str) -> Item:
    """A new item for the strands of one design; the design keeps it."""
    return Item.objects.create(kind=ItemKind.STRANDS, name=name[:120])
