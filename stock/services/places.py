"""The places every workshop has, and the items the book counts, made when first asked for."""

from stock.models import (
    BeadBatch,
    GlassColour,
    GlassForm,
    Item,
    ItemKind,
    LocationKind,
    StockLocation,
    said_glass,
)

# Codes of the spots where beads stand on the bench between two steps.
MOULDED, COOLED = "moulded", "out of the kiln"
TO_PAINT, PAINTED = "to paint", "painted"


def usual_place(kind: str) -> StockLocation:
    """The workshop's own place of a kind, e.g. its glass shelf."""
    return _built_in(kind, kind, str(LocationKind(kind).label))


def usual_places(*kinds: str) -> list[StockLocation]:
    """The workshop's own places of some kinds, in their order (1 query)."""
    found = {place.code: place for place in StockLocation.objects.filter(code__in=kinds)}
    return [found.get(kind) or usual_place(kind) for kind in kinds]


def bench_place(code: str) -> StockLocation:
    """The spot of the bench where beads of one step stand."""
    return _built_in(code, LocationKind.BENCH, code)


def _built_in(code: str, kind: str, name: str) -> StockLocation:
    place = StockLocation.objects.filter(code=code).first()
    if place is None:
        place, _made = StockLocation.objects.get_or_create(
            kind=kind, name=name, defaults={"code": code}
        )
        if not place.code:  # somebody wrote it down by hand before it was needed
            place.code = code
            place.save(update_fields=["code"])
    return place


def glass_item(colour: GlassColour | None, form: str, mark: str = "") -> Item:
    """The item of a glass colour in a form, of a mark; without a colour, a mix of colours."""
    item = Item.objects.filter(kind=ItemKind.GLASS, colour=colour, form=form, mark=mark).first()
    if item is None:
        name = f"{said_glass(colour, mark)} {GlassForm(form).label}"
        item, _made = Item.objects.get_or_create(
            kind=ItemKind.GLASS, colour=colour, form=form, mark=mark, defaults={"name": name}
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
