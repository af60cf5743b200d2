"""Which of the lengths that a design can have is strung: whole repeats, or some and a few singles.

A pattern may finish with its first single pieces; mirrored, the broken repeat lies at the clasp,
the same on both sides. A broken repeat never ends on a spacer.

Sources: counts of one bead agree with the published charts that orders.costing.layout names;
finishing with single beads is how the bench comes nearer to a length (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.cord import SLACK_MM
from orders.costing.numbers import ZERO, whole_down

FITS, NEAREST, REACHES = "fits", "nearest", "reaches"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One length a row can have: so many whole repeats, and so many single pieces of one more."""

    times: int
    singles: int
    length_mm: Decimal


@dataclass(frozen=True, slots=True)
class Row:
    """What is to be laid on a row.

    once_mm, once_count  what stands once, without gaps
    pieces               lengths of one repeat in its order; `spacers` says which are spacers
    sides                2 for a mirrored design, else 1
    """

    once_mm: Decimal
    once_count: int
    pieces: tuple[Decimal, ...]
    spacers: tuple[bool, ...]
    sides: int
    gap_mm: Decimal

    def length(self, times: int, singles: int) -> Decimal:
        """Length of so many repeats and singles, gaps included; below 0 of nothing at all."""
        count = self.once_count + self.sides * (times * len(self.pieces) + singles)
        laid = self.once_mm + self.sides * (times * sum(self.pieces, ZERO) + self.run_mm(singles))
        return laid + self.gap_mm * (count - 1)

    def run_mm(self, singles: int) -> Decimal:
        """A broken repeat: the first pieces, or the last of a mirrored half."""
        run = (
            self.pieces[:singles] if self.sides == 1 else self.pieces[len(self.pieces) - singles :]
        )
        return sum(run, ZERO)

    def may_end(self, singles: int) -> bool:
        """Whether a broken repeat of so many pieces does not end on a spacer."""
        if not singles:
            return True
        last = singles - 1 if self.sides == 1 else len(self.pieces) - singles
        return not self.spacers[last]


def candidates(row: Row, cord_mm: Decimal, *, whole: bool) -> list[Candidate]:
    """Of each number of singles the lengths next to the cord, the shortest first.

    >>> row = Row(ZERO, 0, (Decimal(8), Decimal(10), Decimal(10)), (False,) * 3, 1, ZERO)
    >>> [(c.times, c.singles, int(c.length_mm)) for c in candidates(row, Decimal(97), whole=True)]
    [(3, 0, 84), (4, 0, 112)]
    """
    found = []
    repeat = row.length(1, 0) - row.length(0, 0)
    for singles in range(1 if whole else len(row.pieces)):
        if not row.may_end(singles):
            continue
        fits = whole_down((cord_mm - row.length(0, singles) + SLACK_MM) / repeat)
        for times in (fits, fits + 1):
            if times >= 0 and (row.once_count or times or singles):
                found.append(Candidate(times, singles, row.length(times, singles)))
        if fits < -1 and (row.once_count or singles):
            found.append(Candidate(0, singles, row.length(0, singles)))
    return sorted(found, key=lambda each: (each.length_mm, each.singles))


def chosen(found: Sequence[Candidate], cord_mm: Decimal, fit: str) -> Candidate | None:
    """The candidate that is strung; None where none keeps within the cord.

    nearest  least away; of two equally near the whole repeats, then the shorter
    fits     the longest that is not longer; reaches: the shortest that is not shorter

    >>> row = Row(ZERO, 0, (Decimal(8), Decimal(10), Decimal(10)), (False,) * 3, 1, ZERO)
    >>> for cord in (Decimal(97), Decimal(107)):
    ...     int(chosen(candidates(row, cord, whole=False), cord, NEAREST).length_mm)
    92
    112
    """
    if fit == NEAREST:
        if not found:
            return None
        least = min(abs(each.length_mm - cord_mm) for each in found)
        near = [each for each in found if abs(each.length_mm - cord_mm) <= least + SLACK_MM]
        return min(near, key=lambda each: (each.singles > 0, each.length_mm))
    if fit == FITS:
        inside = [each for each in found if each.length_mm <= cord_mm + SLACK_MM]
        longest = max((each.length_mm for each in inside), default=ZERO)
        best = [each for each in inside if each.length_mm >= longest - SLACK_MM]
    else:
        outside = [each for each in found if each.length_mm >= cord_mm - SLACK_MM]
        shortest = min((each.length_mm for each in outside), default=ZERO)
        best = [each for each in outside if each.length_mm <= shortest + SLACK_MM]
    return min(best, key=lambda each: each.singles, default=None)


def about(found: Sequence[Candidate], cord_mm: Decimal) -> tuple[Decimal | None, Decimal | None]:
    """The longest length that is not longer than the cord, and the shortest not shorter."""
    shorter = [each.length_mm for each in found if each.length_mm <= cord_mm + SLACK_MM]
    longer = [each.length_mm for each in found if each.length_mm >= cord_mm - SLACK_MM]
    return max(shorter, default=None), min(longer, default=None)
