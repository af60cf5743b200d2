"""Designs to choose from: drawn, with the strands that lie ready."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Case, Count, F, IntegerField, QuerySet, Sum, Value, When
from django.utils import timezone

from orders.drawn.strands import Draughtsman
from orders.models import DesignPart, Order, StrandDesign
from stock.models import Balance, LocationKind
from workshop.drawing import DrawnStrand
from workshop.search import holding


@dataclass(frozen=True)
class DrawnDesign:
    """A design as a card shows it."""

    design: StrandDesign
    drawn: DrawnStrand
    ready: int
    length: str


def designs_by_use(words: str = "", *, in_use: bool = True) -> QuerySet[StrandDesign]:
    """Designs whose name holds every word, those ordered most in half a year first (2 queries)."""
    found = StrandDesign.objects.listed().with_findings()
    if in_use:
        found = found.filter(in_use=True)
    found = holding(found, words)
    lately = timezone.localdate() - timedelta(days=183)
    taken = Order.objects.filter(taken_on__gte=lately).order_by()
    wanted = dict(taken.values_list("lines__design").annotate(n=Count("lines")))
    # Counted once for all designs: joined to each, every line of ten years would be read.
    often = [When(pk__in=keys, then=Value(n)) for n, keys in _by_count(wanted).items()]
    return found.annotate(
        wanted=Case(*often, default=Value(0), output_field=IntegerField())
    ).order_by("-wanted", "sorts_as")


def _by_count(wanted: dict[int, int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for design, count in wanted.items():
        found.setdefault(count, []).append(design)
    return found


def drawn_designs(designs: Sequence[StrandDesign]) -> list[DrawnDesign]:
    """Each design drawn, with the free strands on the shelf (3 queries for all of them)."""
    draughtsman = Draughtsman(designs)
    ready = ready_strands(designs)
    return [
        DrawnDesign(
            design,
            draughtsman.strand(design.pk),
            ready.get(design.item_id or 0, 0),
            draughtsman.length(design.pk),
        )
        for design in designs
    ]


def beads_on(designs: Sequence[StrandDesign]) -> dict[int, list[tuple[int, str]]]:
    """The beads of each design by key and name, in their order (1 query)."""
    rows = DesignPart.objects.filter(design__in=designs, bead__isnull=False)
    found: dict[int, list[tuple[int, str]]] = {}
    for design, bead, name in rows.values_list("design", "bead", "bead__name"):
        own = found.setdefault(design, [])
        if (bead, name) not in own:
            own.append((bead, name))
    return found


def ready_strands(designs: Sequence[StrandDesign]) -> dict[int, int]:
    """Free strands on the shelf by item (1 query)."""
    items = [design.item_id for design in designs if design.item_id]
    rows = (
        Balance.objects.at(LocationKind.STRAND_SHELF)
        .filter(item__in=items)
        .order_by()
        .values("item")
        .annotate(free=Sum(F("quantity") - F("reserved")))
    )
    return {row["item"]: row["free"] for row in rows}
