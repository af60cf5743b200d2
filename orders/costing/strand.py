"""A design laid out on its cord, as plain frozen results: lengths in mm, counts of pieces."""

from dataclasses import dataclass
from decimal import Decimal

from orders.costing.facts import Key
from orders.costing.numbers import MM_PER_M


@dataclass(frozen=True, slots=True)
class Laid:
    """One piece on the cord, in order from one end: a bead or a spacer and its length.

    place  which piece of the design's parts it is, counted along them from 0; a repeated pattern
           and a mirrored half lay the same piece more than once
    """

    item: Key
    spacer: bool
    length_mm: Decimal
    centre: bool = False
    place: int = 0


@dataclass(frozen=True, slots=True)
class RowLayout:
    """One row: what lies on it from end to end and the length it was meant to fill."""

    laid: tuple[Laid, ...]
    available_mm: Decimal
    repeats: int
    beads_mm: Decimal  # of beads, spacers and the gaps between them
    more_mm: Decimal  # what one more repeat (or pair of a graduated strand) adds; 0 without one
    less_mm: Decimal  # what the last one added
    singles: int = 0  # pieces of a broken repeat that finish the row, on each half
    near_mm: tuple[Decimal | None, Decimal | None] | None = None  # next below and above the cord


@dataclass(frozen=True, slots=True)
class StrandLayout:
    """A design laid out on its cord.

    beads, spacers   how many of each on one piece (all rows)
    finished_mm      the length actually reached, findings included (the longest row)
    shorter_mm       } nearest lengths that come out whole, below and above the one asked for
    longer_mm        }
    """

    design: Key
    name: str
    asked_mm: Decimal
    findings_mm: Decimal
    rows: tuple[RowLayout, ...]
    beads: tuple[tuple[Key, int], ...]
    spacers: tuple[tuple[Key, int], ...]
    finished_mm: Decimal
    shorter_mm: Decimal | None
    longer_mm: Decimal | None
    cord_mm: Decimal

    @property
    def bead_count(self) -> int:
        return sum(count for _key, count in self.beads)

    @property
    def cord_m(self) -> Decimal:
        """Cord for one piece in metres."""
        return self.cord_mm / MM_PER_M
