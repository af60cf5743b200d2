"""The places every workshop has, made when first asked for."""

from stock.models import GlassColour, GlassForm, Item, ItemKind, Place, PlaceKind


def usual_place(kind: str) -> Place:
    """The workshop's own place of a kind, e.g. its glass shelf."""
    place = Place.objects.filter(kind=kind).order_by("pk").first()
    if place is None:
        place, _made = Place.objects.get_or_create(kind=kind, name=str(PlaceKind(kind).label))
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
