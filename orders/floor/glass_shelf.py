"""Prepared glass on the shelf, shared out to the beads that wait for it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Decimal

from django.db.models import F, Sum

from orders.facts.held_glass import glass_held_by_order
from orders.facts.shelf import PREPARED
from orders.models import WorkOrder
from stock.masses import fill_mg
from stock.models import Balance, BeadColour, GlassColour, GlassForm, ItemKind, LocationKind


@dataclass(frozen=True)
class Missing:
    """Prepared glass of one colour that is not there yet, and the raw glass it takes.

    raw_mg    raw glass that must be prepared for it
    short_mg  of that, what even the yard does not cover
    """

    colour: GlassColour
    form: str
    raw_mg: int
    short_mg: int

    @property
    def to_prepare_mg(self) -> int:
        """Raw glass that lies in the yard for it."""
        return self.raw_mg - self.short_mg


@dataclass
class GlassShelf:
    """Free prepared and raw glass by colour, drawn down as it is promised. All in milligrams.

    own  prepared glass held for one order, by order, colour and form
    """

    prepared: dict[tuple[int, str], int]
    raw: dict[int, int]
    own: dict[tuple[int, int, str], int] = field(default_factory=dict)

    @classmethod
    def of_today(cls) -> "GlassShelf":
        """What lies there now (1 query; 2 while an order holds glass by hand)."""
        shelf = cls({}, {})
        rows = (
            Balance.objects.at(LocationKind.YARD, LocationKind.GLASS_SHELF)
            .filter(item__kind=ItemKind.GLASS, item__colour__isnull=False, quantity__gt=0)
            .order_by()
            .values("item__colour", "item__form")
            .annotate(mg=Sum(F("quantity") - F("reserved")), held_mg=Sum("reserved"))
        )
        if any(row["held_mg"] for row in rows):
            shelf.own = glass_held_by_order()
        for row in rows:
            colour, form = row["item__colour"], row["item__form"]
            if form == GlassForm.RAW:
                shelf.raw[colour] = row["mg"]
            elif form in PREPARED:
                shelf.prepared[colour, form] = row["mg"]
        return shelf

    def take_for(self, job: WorkOrder, shares: Iterable[BeadColour]) -> list[Missing]:
        """Promise the job its glass; what is missing of it, colour by colour."""
        shares = list(shares)
        form = job.bead.moulded_from
        wanted = wanted_mg(job, shares)
        found = []
        for share in shares:
            mg = self._from_own(job, share.colour_id, form, wanted[share.colour_id])
            there = max(0, self.prepared.get((share.colour_id, form), 0))
            self.prepared[share.colour_id, form] = max(0, there - mg)
            if mg > there:
                found.append(self._missing(share.colour, form, mg - there))
        return found

    def _from_own(self, job: WorkOrder, colour: int, form: str, mg: int) -> int:
        """What is still to be found after the order's own hold is used."""
        key = (job.order_id, colour, form)
        piece = min(mg, self.own.get(key, 0))
        if piece:
            self.own[key] -= piece
        return mg - piece

    def _missing(self, colour: GlassColour, form: str, lacking: int) -> Missing:
        if form == GlassForm.REJECTS:
            return Missing(colour, form, lacking, lacking)
        raw_mg = int((lacking / colour.yield_for(form)).to_integral_value(ROUND_CEILING))
        there = max(0, self.raw.get(colour.pk, 0))
        self.raw[colour.pk] = max(0, there - raw_mg)
        return Missing(colour, form, raw_mg, max(0, raw_mg - there))


def wanted_mg(job: WorkOrder, shares: Iterable[BeadColour]) -> dict[int, int]:
    """Prepared glass of each colour for all the beads a job starts."""
    shares = list(shares)
    if not shares:
        return {}
    each = fill_mg(job.bead, shares)
    return {
        share.colour_id: int((each * job.to_start * share.share).to_integral_value(ROUND_CEILING))
        for share in shares
    }


SharesByBead = Mapping[int, Sequence[BeadColour]]
"""Colour shares by the key of their bead."""


def shares_by_bead(beads: Iterable[int]) -> dict[int, list[BeadColour]]:
    """Colour shares of some beads, colours with them (1 query)."""
    found: dict[int, list[BeadColour]] = {}
    rows = BeadColour.objects.filter(bead__in=set(beads)).select_related("colour")
    for share in rows.order_by("bead_id", "layer", "id"):
        found.setdefault(share.bead_id, []).append(share)
    return found


def kilograms(milligrams: int) -> Decimal:
    return Decimal(milligrams) / 1_000_000
