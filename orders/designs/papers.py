"""The price list and strand tags: designs drawn from their real beads."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from django.db.models import Q, QuerySet
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.designs.services.shelf_tags import Place, name_ready_strands
from orders.drawn.masses import StrandMass, strand_masses
from orders.drawn.strands import Draughtsman, printed_lengths
from orders.drawn.titles import titled
from orders.facts.order import told_price
from orders.facts.standing import breaks_in_force
from orders.models import Customer, CustomerGroup, DesignPrice, Order, StrandDesign
from orders.papers.epc import qr_svg
from orders.papers.live import base_context
from orders.papers.long_run import Kind, in_pieces
from orders.papers.pages import photo_html
from stock.models import LocationKind, Movement, StrandTag
from stock.strand_codes import strand_code
from workshop import formats
from workshop.drawing import DrawnStrand, strand_svg
from workshop.drawing.strands import MOST_PX_PER_MM
from workshop.languages import CODES
from workshop.letterhead import written_to
from workshop.models import Business, Photo, TaxRate


@dataclass(frozen=True)
class Priced:
    """A design on the price list, its prices by quantity."""

    name: str
    length: str
    picture: str
    prices: tuple[tuple[int, Decimal], ...]


@dataclass(frozen=True)
class Tag:
    """What hangs on a strand."""

    name: str
    length: str
    picture: str
    code: str
    recycled: int
    mass: str
    number: str = ""


@dataclass(frozen=True)
class Strung:
    """Strands of one stringing that get a tag each: their design, and which of them.

    story  the address where anybody may read where their glass came from; "" where it is closed
    """

    design: StrandDesign
    posting: int
    places: range
    story: str = ""


DESIGNS_AT_ONCE = 40  # on the price list, in one piece


def on_the_list() -> QuerySet[StrandDesign]:
    """Designs that the price list may name."""
    return StrandDesign.objects.listed().filter(in_use=True).with_findings()


@written_to(lambda *_args, language="", **_more: language)
def price_list_html(
    business: Business,
    group: str = "",
    designs: Sequence[StrandDesign] | None = None,
    *,
    language: str = "",
) -> str:
    """Designs in use, or some of them, with the prices in force for a group (8 queries).

    language  its code, or "" for the workshop's
    A design is drawn once, and one that has no price is not drawn at all.
    """
    designs = list(on_the_list()) if designs is None else designs
    with_tax = business.tells_with_tax(group)
    prices = prices_in_force(designs, group, business=business)
    designs = [design for design in designs if prices.get(design.pk)]
    draughtsman = Draughtsman(designs)
    pictures = _at_one_scale(designs, draughtsman)
    lengths = printed_lengths(designs)
    photos = photos_on_papers(designs)
    shown = [
        Priced(
            design.name_for_reader,
            lengths[design.pk],
            pictures.get(design.pk, "") + photo_html(photos.get(design.pk), design.name_for_reader),
            tuple(sorted(prices[design.pk].items())),
        )
        for design in designs
    ]
    return render_to_string(
        "print/price_list.html",
        base_context(
            business,
            _("Price list"),
            designs=shown,
            breaks=breaks_for(group),
            with_tax=with_tax,
        ),
    )


def _read(said: Mapping[str, str]) -> dict[str, str]:
    group, language = said.get("group", ""), said.get("language", "")
    return {
        "group": group if group in CustomerGroup.values else "",
        "language": language if language in CODES else "",
    }


def _count(_asked: dict[str, str]) -> int:
    return -(-on_the_list().count() // DESIGNS_AT_ONCE)


def _pages(asked: dict[str, str]) -> Iterator[str]:
    business = Business.current()
    for designs in in_pieces(list(on_the_list()), DESIGNS_AT_ONCE):
        yield price_list_html(business, asked["group"], designs, language=asked["language"])


PRICE_LIST = Kind(gettext_lazy("Price list"), _read, _count, _pages)


def breaks_for(group: str) -> list[tuple[int, Decimal]]:
    """From how many strands how much comes off for a group: its own steps before everybody's."""
    steps = list(breaks_in_force(timezone.localdate()))
    own = {step.from_quantity: step.off for step in steps if group and step.group == group}
    found = {
        step.from_quantity: step.off
        for step in steps
        if not step.group and all(step.from_quantity < least for least in own)
    }
    return sorted((least, off) for least, off in (found | own).items() if off)


def prices_in_force(
    designs: Sequence[StrandDesign], group: str = "", *, business: Business
) -> dict[int, dict[int, Decimal]]:
    """By design and quantity the price of today, told as the group sees prices (2 queries).

    A group's own price goes before everybody's.
    """
    today = timezone.localdate()
    standard = TaxRate.standard_on(today)
    rate = standard.rate if standard is not None else Decimal(0)
    with_tax = business.tells_with_tax(group)
    rows = DesignPrice.objects.filter(
        Q(group="") | Q(group=group),
        design__in=designs,
        customer__isnull=True,
        valid_from__lte=today,
    ).order_by("design_id", "from_strands", "group", "valid_from")
    found: dict[int, dict[int, Decimal]] = {}
    for row in rows:
        told = told_price(row, with_tax, rate, business.currency)
        found.setdefault(row.design_id, {})[row.from_strands] = told
    return found


Piece = tuple[StrandDesign, str, str]
"""What a tag is for: a design, the code of the strand and the address of its story, "" for none."""


def strand_tags_html(pieces: Sequence[Piece], business: Business, customer: Customer) -> str:
    """Tags of an order's pieces: picture, recycled content and a code that names each."""
    return _tags_html(pieces, business, customer)


def order_pieces(order: Order, address: Callable[[str], str]) -> list[Piece]:
    """A tag for each strand of an order that is strung, with its own code (4 queries).

    Ready ones that came from the shelf are named by their stringing there (6 more for each design
    at most); what lay there before the book began bears no code. Of a design of which nothing is
    strung yet there is one, to be shown.
    address  of the story of a stringing, by its token
    """
    lines = order.lines.exclude(design__sort=StrandDesign.Sort.WORK).select_related("design")
    wanted = {line.design_id: line.strung for line in lines}
    designs = StrandDesign.objects.filter(pk__in=wanted).with_findings().order_by("sorts_as")
    strung = Movement.objects.filter(
        posting__belongs_kind="order", posting__belongs_ref=str(order.number),
        posting__reversed_by__isnull=True, from_place__kind=LocationKind.IN_WORK,
        item__design__in=wanted,
    ).order_by("posting_id")  # fmt: skip
    by_item: dict[int, list[Place]] = {}
    for movement in strung:
        places = range(1, movement.quantity + 1)
        by_item.setdefault(movement.item_id, []).extend((movement.posting_id, n) for n in places)
    named: list[tuple[StrandDesign, Place | None]] = []
    for design in designs:
        own = list(by_item.get(design.item_id or 0, []))
        rest = wanted[design.pk] - len(own)
        if rest > 0:
            own += name_ready_strands(order, design, rest)
        bare = max(wanted[design.pk] - len(own), 0 if own else 1)
        named += [(design, place) for place in [*own, *[None] * bare]]
    tokens = dict(
        StrandTag.objects.filter(
            published=True, posting__in={place[0] for _design, place in named if place}
        ).values_list("posting", "token")
    )
    return [
        (design, strand_code(*place), address(tokens[place[0]]) if place[0] in tokens else "")
        if place
        else (design, "", "")
        for design, place in named
    ]


def photos_on_papers(designs: Iterable[StrandDesign]) -> dict[int, str | None]:
    """By design, the photograph that papers show, as an address that holds it (1 query).

    Of a design as it was asked for it is that of the design, unless it has one of its own.
    """
    designs = list(designs)
    keys = {key for each in designs for key in (each.pk, each.variant_of_id) if key}
    found = Photo.objects.for_papers("design", keys)
    return {each.pk: found.get(each.pk) or found.get(each.variant_of_id or 0) for each in designs}


def strung_tags_html(strung: Sequence[Strung], business: Business) -> str:
    """A tag for each single strand, with its own code (7 queries, whatever their number)."""
    pieces = [
        (each.design, strand_code(each.posting, place), each.story)
        for each in strung
        for place in each.places
    ]
    return _tags_html(pieces, business)


@written_to(lambda _pieces, _business, reader=None: reader)
def _tags_html(pieces: Sequence[Piece], business: Business, reader: Customer | None = None) -> str:
    """Tags by design, code of the strand and address of its story; drawn once a design."""
    designs = list({design.pk: design for design, _number, _story in pieces}.values())
    pictures, masses = _pictures(designs, 200), strand_masses(designs)
    lengths = printed_lengths(designs)
    tags = []
    for design, number, story in pieces:
        mass = masses.get(design.pk)
        said = f"{design.name_for_reader}\n{lengths[design.pk]}\n{business.name}"
        told = f"{story}?strand={number}" if story else "\n".join(filter(None, (said, number)))
        tags.append(
            Tag(
                design.name_for_reader,
                lengths[design.pk],
                pictures.get(design.pk, ""),
                mark_safe(qr_svg(told)),
                recycled_per_cent(mass) if mass else 0,
                formats.grams(round(mass.total_g)) if mass else "",
                number,
            )
        )
    return render_to_string("print/tags.html", base_context(business, _("Strand tags"), tags=tags))


def recycled_per_cent(mass: StrandMass) -> int:
    """Recycled content by mass, rounded down so that no tag claims too much.

    Source: ISO 14021, 7.8: recycled content is the proportion by mass of recycled material.
    """
    if not mass.total_g:
        return 0
    share = mass.recycled_g / mass.total_g * 100
    return int(share.to_integral_value(ROUND_FLOOR))


LIST_PX = 640  # what a strand may take of the price list's width
WHOLE_MM = 520.0  # a strand longer than that is drawn with a break, or all others would be threads


def _at_one_scale(
    designs: Sequence[StrandDesign], draughtsman: Draughtsman, *, width: int = LIST_PX
) -> dict[int, str]:
    """Strands that lie beside each other as on a table: the larger bead is the larger drawing."""
    drawn = {design.pk: draughtsman.strand(design.pk) for design in designs}
    longest = max((strand.whole_mm for strand in drawn.values() if strand.beads), default=WHOLE_MM)
    scale = min(MOST_PX_PER_MM, width / min(longest, WHOLE_MM))
    return _drawn(designs, drawn, width, scale)


def _pictures(
    designs: Sequence[StrandDesign], width: int, draughtsman: Draughtsman | None = None
) -> dict[int, str]:
    draughtsman = draughtsman or Draughtsman(designs)
    drawn = {design.pk: draughtsman.strand(design.pk) for design in designs}
    return _drawn(designs, drawn, width)


def _drawn(
    designs: Sequence[StrandDesign],
    drawn: Mapping[int, DrawnStrand],
    width: int,
    px_per_mm: float | None = None,
) -> dict[int, str]:
    return {
        design.pk: mark_safe(
            titled(
                strand_svg(
                    drawn[design.pk],
                    width=width,
                    prefix=f"s{design.pk}",
                    paper=True,
                    px_per_mm=px_per_mm,
                ),
                design.name_for_reader,
            )
        )
        for design in designs
        if drawn[design.pk].beads
    }
