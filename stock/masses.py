"""What one bead of the workshop weighs, from its shape and its colours."""

from collections.abc import Sequence
from decimal import Decimal

from stock.models import Bead, BeadColour
from workshop.costs.amounts import before_loss, without
from workshop.models import Business
from workshop.physics.density import DEFAULT_DENSITY_G_CM3, mixed_density_g_cm3

MG_PER_MM3_AT_1_G_CM3 = 1.0  # 1 g/cm³ is 1 mg/mm³


def _density_g_cm3(colours: Sequence[BeadColour]) -> float:
    """Density of a bead's glass; `colours` with their glass colour loaded."""
    if not colours:
        return DEFAULT_DENSITY_G_CM3
    whole = sum(float(part.share) for part in colours)
    return mixed_density_g_cm3(
        [(float(part.share) / whole, float(part.colour.density_g_cm3)) for part in colours]
    )


def goes_by_scale(bead: Bead) -> bool:
    """Whether a bead's mass is the weighed one: from so many weighed beads up as the owner says.

    The same rule as in costing; with fewer, or none, the mass is worked out from the size.
    """
    if not bead.weighed_mg:
        return False
    return bead.weighed_count >= Business.in_force().min_weighed


def finished_mg(bead: Bead, colours: Sequence[BeadColour] | None = None) -> Decimal:
    """Mass of one finished bead: as weighed if it was, else volume × density × (1 − porosity).

    Source: definition of density; the pores hold no glass.
    """
    if bead.weighed_mg and goes_by_scale(bead):
        return Decimal(bead.weighed_mg)
    parts = list(bead.colours.all()) if colours is None else list(colours)
    solid = bead.measure().volume_mm3() * _density_g_cm3(parts) * MG_PER_MM3_AT_1_G_CM3
    return without(Decimal(repr(solid)), Decimal(bead.porosity))


def fill_mg(bead: Bead, colours: Sequence[BeadColour] | None = None) -> Decimal:
    """Glass weighed out for one bead: what polishing and piercing take and the mould spills."""
    fill = finished_mg(bead, colours)
    for share in (bead.polishing_loss, bead.pierced_waste, bead.spill_share):
        fill = before_loss(fill, Decimal(share))
    return fill
