"""What a strand weighs, and how much of it was a bottle before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Sum

from orders.costing.errors import CostingError
from orders.costing.strand import StrandLayout
from orders.drawn.strands import Draughtsman, Pieces
from orders.models import DesignPart, Finding, StrandDesign
from stock.masses import finished_mg, goes_by_scale
from stock.models import Bead, BeadColour, Sack
from workshop.money import ZERO
from workshop.physics.shapes import ShapeError

MG_PER_G = MM_PER_M = Decimal(1000)


@dataclass(frozen=True)
class StrandMass:
    """One strand, in grams: its glass, its findings, and the glass that came from used things."""

    glass_g: Decimal
    findings_g: Decimal
    recycled_g: Decimal

    @property
    def total_g(self) -> Decimal:
        return self.glass_g + self.findings_g


@dataclass(frozen=True)
class ColourMass:
    """Glass of one colour in a strand."""

    name: str
    swatch: str
    glass_g: Decimal


def strand_masses(designs: Sequence[StrandDesign]) -> dict[int, StrandMass]:
    """Mass of one strand of each design that can be laid out (8 queries at most).

    `clasp` and `cord` should come with the designs. A weighed bead counts by its scale, the
    others by volume and density.
    """
    draughtsman = Draughtsman(designs)
    drafts = draughtsman.drafts
    beads = {part.bead_id for one in drafts.values() for part in one.parts if part.bead_id}
    masses = bead_masses_g(beads)
    found = {}
    for design in designs:
        try:
            layout = draughtsman.layout(design.pk)
        except CostingError:
            continue
        found[design.pk] = _strand_mass(design, layout, drafts[design.pk].pieces.spacers, masses)
    return found


def mass_as_laid(
    design: StrandDesign, layout: StrandLayout, pieces: Pieces
) -> tuple[StrandMass, list[ColourMass]]:
    """One strand as it is laid, also of a design that is only typed: its mass, and its glass by
    colour, the most first (3 queries)."""
    masses = bead_masses_g({int(key) for key, _count in layout.beads})
    glass: dict[int, ColourMass] = {}
    for key, count in layout.beads:
        for share in pieces.shares.get(int(key), ()):
            more_g = masses[int(key)][0] * count * share.share
            before = glass.get(share.colour_id)
            sum_g = more_g + (before.glass_g if before else ZERO)
            glass[share.colour_id] = ColourMass(share.colour.name, share.colour.swatch, sum_g)
    by_mass = sorted(glass.values(), key=lambda each: (-each.glass_g, each.name))
    return _strand_mass(design, layout, pieces.spacers, masses), by_mass


def _strand_mass(
    design: StrandDesign,
    layout: StrandLayout,
    spacers: Mapping[int, Finding],
    masses: Mapping[int, tuple[Decimal, Decimal]],
) -> StrandMass:
    glass = sum((masses.get(int(key), (ZERO, ZERO))[0] * n for key, n in layout.beads), ZERO)
    used = sum((masses.get(int(key), (ZERO, ZERO))[1] * n for key, n in layout.beads), ZERO)
    findings = sum((spacers[int(key)].mass_mg * n for key, n in layout.spacers), 0)
    findings += design.clasp.mass_mg if design.clasp else 0
    cord = Decimal(design.cord.mass_mg) if design.cord else ZERO
    cord_g = cord * design.finished_mm * design.cord_ratio / MM_PER_M / MG_PER_G
    return StrandMass(glass, Decimal(findings) / MG_PER_G + cord_g, used)


def loose_masses_g(designs: Sequence[StrandDesign]) -> dict[int, Decimal]:
    """What one loose bead weighs, by design (4 queries where there are any)."""
    loose = [design.pk for design in designs if design.is_loose]
    if not loose:
        return {}
    rows = DesignPart.objects.filter(design__in=loose).values_list("design", "bead")
    own = {design: bead for design, bead in rows if bead}
    masses = bead_masses_g(set(own.values()))
    return {design: masses[bead][0] for design, bead in own.items() if bead in masses}


def bead_masses_g(beads: set[int]) -> dict[int, tuple[Decimal, Decimal]]:
    """Mass of one bead and the part of it that is recycled glass, by primary key (3 queries)."""
    bought = _bought_shares()
    shares: dict[int, list[BeadColour]] = {}
    for share in BeadColour.objects.filter(bead__in=beads).select_related("colour"):
        shares.setdefault(share.bead_id, []).append(share)
    found = {}
    for bead in Bead.objects.filter(pk__in=beads):
        own = shares.get(bead.pk, [])
        mass = _mass_g(bead, own)
        fresh = sum((share.share * bought.get(share.colour_id, ZERO) for share in own), ZERO)
        found[bead.pk] = (mass, mass * (1 - fresh))
    return found


def _mass_g(bead: Bead, shares: Sequence[BeadColour]) -> Decimal:
    if not shares and not goes_by_scale(bead):
        return ZERO
    try:
        return finished_mg(bead, shares) / MG_PER_G
    except ShapeError:
        return ZERO


def _bought_shares() -> dict[int, Decimal]:
    """Of each colour, the share by mass that came in as bought new glass (1 query, or 2)."""
    sacks = Sack.objects.order_by().values_list("colour")
    grams = Sum(F("gross_g") - F("tare_g"))
    bought_g = dict(sacks.filter(origin=Sack.Origin.BOUGHT).exclude(colour=None).annotate(g=grams))
    # Only where glass was bought at all is the rest of its colour added up.
    all_g = dict(sacks.filter(colour__in=list(bought_g)).annotate(g=grams)) if bought_g else {}
    return {colour: Decimal(g) / all_g[colour] for colour, g in bought_g.items() if all_g[colour]}
