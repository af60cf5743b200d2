"""What lies on the shelves, gathered for a page. Each function states its number of queries."""

from dataclasses import dataclass, field

from django.db.models import F, Q, QuerySet, Sum

from stock.models import (
    Balance,
    Collector,
    GlassColour,
    GlassForm,
    ItemKind,
    LocationKind,
    Movement,
    Sack,
)

READY_FORMS = (GlassForm.CHUNKS, GlassForm.POWDER)


@dataclass(frozen=True)
class ColourStock:
    """Glass of one colour inside the walls, by form, in milligrams.

    by_mark  of it, what lies on heaps of a lot or maker: mark, form, milligrams
    """

    colour: GlassColour | None
    by_form: dict[str, int] = field(default_factory=dict)
    held_mg: int = 0
    apart_mg: int = 0
    by_mark: list[tuple[str, str, int]] = field(default_factory=list)

    @property
    def is_for_beads(self) -> bool:
        """Bottle glass, or bottles not sorted yet; window glass and its like melt otherwise."""
        return self.colour is None or self.colour.is_bottle

    @property
    def raw_mg(self) -> int:
        return self.by_form.get(GlassForm.RAW, 0)

    @property
    def ready_mg(self) -> int:
        return sum(self.by_form.get(form, 0) for form in READY_FORMS)

    @property
    def total_mg(self) -> int:
        return sum(self.by_form.values())

    @property
    def below_reorder_mg(self) -> int:
        """How much raw glass is missing to the point at which more is collected."""
        if self.colour is None:
            return 0
        return max(0, self.colour.reorder_g * 1000 - self.raw_mg)


def glass_by_colour() -> list[ColourStock]:
    """Every colour in use with what there is of it, then the mixed glass (2 queries)."""
    marks: dict[int | None, list[tuple[str, str, int]]] = {}
    forms: dict[int | None, dict[str, int]] = {}
    held: dict[int | None, int] = {}
    apart: dict[int | None, int] = {}
    rows = (
        Balance.objects.inside()
        .of_glass()
        .values_list(
            "item__colour_id", "item__form", "item__mark", "place__kind", "quantity", "reserved"
        )
        .order_by("item__mark", "item_id", "place_id")
    )
    for colour_id, form, mark, place, quantity, promised in rows:
        if place == LocationKind.APART:
            apart[colour_id] = apart.get(colour_id, 0) + quantity
            continue
        if mark and quantity:
            label = str(GlassForm(form).label)
            marks.setdefault(colour_id, []).append((mark, label, quantity))
        of = forms.setdefault(colour_id, {})
        of[form] = of.get(form, 0) + quantity
        held[colour_id] = held.get(colour_id, 0) + promised
    colours: list[GlassColour | None] = [
        colour
        for colour in GlassColour.objects.all()
        if colour.in_use or forms.get(colour.pk) or apart.get(colour.pk)
    ]
    if any(forms.get(None, {}).values()) or apart.get(None):
        colours.append(None)
    return [
        ColourStock(
            colour,
            forms.get(colour.pk if colour else None, {}),
            held.get(colour.pk if colour else None, 0),
            apart.get(colour.pk if colour else None, 0),
            marks.get(colour.pk if colour else None, []),
        )
        for colour in colours
    ]


def free_glass() -> dict[tuple[int | None, str], int]:
    """Glass that is not promised, milligrams by (colour key, form), without what is apart (1)."""
    rows = (
        Balance.objects.at(LocationKind.YARD, LocationKind.GLASS_SHELF)
        .of_glass()
        .filter(quantity__gt=0)
        .values_list("item__colour_id", "item__form")
        .annotate(there=Sum("quantity"), promised=Sum("reserved"))
        .order_by()
    )
    return {(colour, form): there - promised for colour, form, there, promised in rows}


def bottles_for(colour: GlassColour, short_mg: int) -> int:
    """About how many bottles make up a shortage of raw glass, rounded up."""
    return -(-short_mg // (colour.bottle_g * 1000))


def glass_to_prepare() -> QuerySet[Balance]:
    """Glass that can be prepared: raw in the yard, chunks and rejects on the shelf (1 query)."""
    return (
        Balance.objects.at(LocationKind.YARD, LocationKind.GLASS_SHELF)
        .of_glass()
        .filter(quantity__gt=0)
        .select_related("item__colour", "place")
        .order_by("place__kind", "item__colour__sorts_as", "item__form")
    )


@dataclass(frozen=True)
class BeadStock:
    """Good beads of a kind: on the shelf, of those promised, and on their way."""

    shelf: int = 0
    held: int = 0
    under_way: int = 0

    @property
    def free(self) -> int:
        return self.shelf - self.held


def bead_stock() -> dict[int, BeadStock]:
    """Beads by kind (1 query); kinds of which there are none are left out.

    Of every kind: what lies there is little, and a kind has every batch ever made of it.
    """
    rows = Balance.objects.inside().of_beads().filter(quantity__gt=0)
    shelf = Q(place__kind=LocationKind.BEAD_SHELF)
    sums = rows.values("item__batch__bead_id").annotate(
        shelf=Sum("quantity", filter=shelf, default=0),
        promised=Sum("reserved", filter=shelf, default=0),
        under_way=Sum("quantity", filter=~shelf, default=0),
    )
    return {
        row["item__batch__bead_id"]: BeadStock(row["shelf"], row["promised"], row["under_way"])
        for row in sums
    }


def strand_stock() -> QuerySet[Balance]:
    """Ready strands on the shelf, out at a stall and lent to shops, by design (1 query)."""
    return (
        Balance.objects.at(LocationKind.STRAND_SHELF, LocationKind.STALL, LocationKind.SHOP)
        .filter(item__kind=ItemKind.STRANDS, quantity__gt=0)
        .select_related("item", "place")
        .order_by("item__name")
    )


def strung_under(code: tuple[int, int]) -> bool:
    """Whether a strand with this stringing and place was ever strung here (1 query)."""
    posting, place = code
    return Movement.objects.filter(
        posting=posting,
        item__kind=ItemKind.STRANDS,
        from_place__kind=LocationKind.IN_WORK,
        quantity__gte=place,
    ).exists()


def usual_collectors() -> list[Collector]:
    """Those who brought glass most lately, for the tiles at the scale (1 query)."""
    latest = F("last_on").desc(nulls_last=True)
    return list(Collector.objects.filter(in_use=True).order_by(latest, "name")[:7])


def latest_sacks(limit: int = 6) -> QuerySet[Sack]:
    """The sacks weighed in last, those taken back left out (1 query)."""
    stands = Sack.objects.filter(posting__reversed_by__isnull=True)
    return stands.select_related("collector", "colour").order_by("-number")[:limit]
