"""Where from, where to: one page each way, and the tag that tells it to a buyer."""

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from stock.models import (
    BeadBatch,
    ItemKind,
    LocationKind,
    LossName,
    Movement,
    Posting,
    PostingKind,
    Sack,
    StrandTag,
)
from stock.services.tags import publish_tag, tag_of
from stock.strand_codes import TAGS_AT_ONCE
from stock.trail import Tracker, Trail
from stock.trail_picture import TrailPicture, trail_picture
from stock.views.prices import sees_prices
from workshop.doors import may
from workshop.letters import sorting_key
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent

RECYCLED = {Sack.Origin.BOTTLES, Sack.Origin.SHEET, Sack.Origin.OLD_BEADS}
STEPS = (
    PostingKind.FINISHING,
    PostingKind.FIRING,
    PostingKind.MOULDING,
    PostingKind.PREPARATION,
    PostingKind.SORTING,
)


@dataclass(frozen=True)
class Origin:
    """Everything behind some glass: postings by step, sacks, and the recycled share by mass."""

    whole_mg: float
    steps: list[tuple[str, list[tuple[Posting, float]]]]
    sacks: list[tuple[Sack, float]]
    recycled: float


def origin_of(trail: Trail) -> Origin:
    """A trail as the page tells it (3 queries).

    Recycled share: glass from sacks of discarded glass ÷ all glass, by mass. Opening stock, bought
    glass and what was found at counts do not count, for nothing shows that they are recycled.
    Source: recycled content in ISO 14021:2016, 7.8.1.1 (from memory).
    """
    mg = dict(trail.by_posting)
    postings = Posting.objects.filter(pk__in=mg).select_related("person").order_by("-on", "-pk")
    by_kind: dict[str, list[tuple[Posting, float]]] = defaultdict(list)
    for posting in postings:
        by_kind[posting.kind].append((posting, float(mg[posting.pk])))
    ends: dict[int, Fraction] = defaultdict(Fraction)
    for (_kind, _loss, posting_id), part in trail.ends.items():
        ends[posting_id] += part
    sacks = [
        (sack, float(ends[sack.posting_id]))
        for sack in Sack.objects.filter(posting__in=list(ends)).select_related(
            "collector", "colour"
        )
    ]
    whole = float(trail.whole_mg)
    recycled = sum(part for sack, part in sacks if sack.origin in RECYCLED)
    return Origin(
        whole,
        [(str(PostingKind(kind).label), by_kind[kind]) for kind in STEPS if by_kind[kind]],
        sacks,
        recycled / whole if whole else 0.0,
    )


def _way_title(name: str) -> str:
    return _("The way of the glass: %(name)s") % {"name": name}


def way_of(request, trail: Trail, name: str) -> TrailPicture | None:
    """A trail drawn for whoever is signed in; a stop leads where they may go (2 queries)."""
    sacks, book = sees_prices(request), may(request, "stock:posting")

    def page_of(posting: Posting, found: Sack | None) -> str:
        if found is not None and sacks:
            return reverse("stock:sack", args=[found.pk])
        return reverse("stock:posting", args=[posting.pk]) if book else ""

    return trail_picture(trail, title=_way_title(name), page_of=page_of)


def strand(request, pk):
    """The firings, batches, preparations, sacks and collectors behind strands of one posting."""
    posting = get_object_or_404(Posting.objects.select_related("person"), pk=pk)
    movement = _strung(posting)
    trail = Tracker().back_from_work(movement)
    tag = StrandTag.objects.filter(posting=posting).first()
    return render(
        request,
        "stock/trail_strand.html",
        {
            "posting": posting,
            "item": movement.item,
            "strands": movement.quantity,
            "origin": origin_of(trail),
            "picture": way_of(request, trail, movement.item.name),
            "batches": _batches(posting),
            "tag": tag,
            "sees_names": sees_prices(request),
            "may_tag": may(request, "stock:strand_tag"),
            "may_see_book": may(request, "stock:posting"),
            "may_print_tags": may(request, "orders:strung_tags"),
            "tag_sheets": range(1, movement.quantity + 1, TAGS_AT_ONCE),
            "place": whole_number(request.GET.get("strand")),
        },
    )


def _strung(posting: Posting) -> Movement:
    movement = posting.movements.filter(
        item__kind=ItemKind.STRANDS, from_place__kind=LocationKind.IN_WORK
    ).first()
    if movement is None:
        raise Http404
    return movement


def _batches(posting: Posting):
    return (
        BeadBatch.objects.filter(item__movements__posting=posting)
        .select_related("bead")
        .distinct()
        .order_by("number")
    )


def sack(request, pk):
    """Every strand that a sack's glass went into, and where the rest of it is."""
    found = get_object_or_404(Sack.objects.select_related("collector", "colour"), pk=pk)
    movement = found.posting.movements.first()
    trail = Tracker().forward(movement)
    strung = (
        Movement.objects.filter(
            posting__in=list(trail.by_posting), item__kind=ItemKind.STRANDS,
            from_place__kind=LocationKind.IN_WORK,
        )
        .select_related("item", "posting")
        .order_by("-pk")
    )  # fmt: skip
    ends: dict[str, Fraction] = defaultdict(Fraction)
    for (kind, loss, _posting), mg in trail.ends.items():
        name = LossName(loss).label if loss in LossName.values else LocationKind(kind).label
        ends[str(name)] += mg
    return render(
        request,
        "stock/trail_sack.html",
        {
            "sack": found,
            "picture": way_of(request, trail, str(found)),
            "whole_mg": float(trail.whole_mg),
            "ends": sorted(((n, float(mg)) for n, mg in ends.items()), key=lambda p: -p[1]),
            "strung": [(m, float(trail.by_posting[m.posting_id])) for m in strung],
        },
    )


@idempotent
def tag(request, pk):
    """The tag to print for the strands of a posting; the owner opens or closes its page."""
    posting = get_object_or_404(Posting, pk=pk)
    movement = _strung(posting)
    if request.method == "POST":
        publish_tag(tag_of(posting), "publish" in request.POST, person=request.user)
        return redirect("stock:strand_tag", pk=pk)
    found = StrandTag.objects.filter(posting=posting).first()
    code, address = "", ""
    if found and found.published:
        address = request.build_absolute_uri(reverse("stock:strand_story", args=[found.token]))
        import segno

        code = segno.make(address, error="m").svg_inline(scale=3, border=2, dark="#23211c")
    return render(
        request,
        "stock/strand_tag.html",
        {
            "posting": posting,
            "item": movement.item,
            "origin": origin_of(Tracker().back_from_work(movement)),
            "tag": found,
            "address": address,
            "code": code,
            "colours": _colours(posting),
        },
    )


def _colours(posting: Posting) -> list:
    found = {}
    for batch in _batches(posting).prefetch_related("bead__colours__colour"):
        for part in batch.bead.colours.all():
            found[part.colour_id] = part.colour
    return sorted(found.values(), key=lambda colour: sorting_key(colour.name_for_reader))


def public(request, token):
    """What anybody with the tag may read: glass, firings, recycled share; no names of people."""
    found = get_object_or_404(StrandTag.objects.select_related("posting"), token=token)
    if not found.published:
        raise Http404
    movement = _strung(found.posting)
    trail = Tracker().back_from_work(movement)
    origin = origin_of(trail)
    return render(
        request,
        "stock/trail_public.html",
        {
            "posting": found.posting,
            "item": movement.item,
            "origin": origin,
            "picture": trail_picture(trail, title=_way_title(movement.item.name), named=False),
            "batches": _batches(found.posting),
            "colours": _colours(found.posting),
            "days": [
                (name, sorted({posting.on for posting, _mg in postings}))
                for name, postings in reversed(origin.steps)
            ],
            "months": sorted({sack.received_on.replace(day=1) for sack, _mg in origin.sacks}),
        },
    )
