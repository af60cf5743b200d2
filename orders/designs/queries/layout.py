"""A design laid out, as a person reads it."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.strand import StrandLayout
from orders.models import DesignPart


@dataclass(frozen=True, kw_only=True)
class Lengths:
    """The length asked for, the one reached, and the nearest that come out whole."""

    asked_mm: Decimal
    finished_mm: Decimal
    shorter_mm: Decimal | None
    longer_mm: Decimal | None
    tolerance: Decimal = Decimal("0.03")

    @property
    def is_off(self) -> bool:
        """Further from the length asked for than the design's tolerance."""
        return abs(self.finished_mm - self.asked_mm) > self.tolerance * self.asked_mm

    @property
    def is_exact(self) -> bool:
        return abs(self.finished_mm - self.asked_mm) < Decimal("0.05")


@dataclass(frozen=True, kw_only=True)
class LaidOut(Lengths):
    """Beads on one strand by name, and how long it becomes."""

    beads: tuple[tuple[str, int], ...]
    spacers: tuple[tuple[str, int], ...]
    bead_count: int
    cord_mm: Decimal


def length_off(layout: StrandLayout, tolerance: Decimal) -> Lengths | None:
    """The lengths of a strand that is further off than its design's tolerance; else None."""
    found = Lengths(
        asked_mm=layout.asked_mm,
        finished_mm=layout.finished_mm,
        shorter_mm=layout.shorter_mm,
        longer_mm=layout.longer_mm,
        tolerance=Decimal(tolerance),
    )
    return found if found.is_off else None


def laid_out(
    layout: StrandLayout, parts: Sequence[DesignPart], tolerance: Decimal = Decimal("0.03")
) -> LaidOut:
    """Names in place of keys; `bead` and `spacer` must come with the parts."""
    beads = {part.bead_id: part.bead.name for part in parts if part.bead is not None}
    spacers = {part.spacer_id: part.spacer.name for part in parts if part.spacer is not None}
    return LaidOut(
        beads=tuple((beads[key], count) for key, count in layout.beads),
        spacers=tuple((spacers[key], count) for key, count in layout.spacers),
        bead_count=layout.bead_count,
        asked_mm=layout.asked_mm,
        finished_mm=layout.finished_mm,
        shorter_mm=layout.shorter_mm,
        longer_mm=layout.longer_mm,
        cord_mm=layout.cord_mm,
        tolerance=Decimal(tolerance),
    )
