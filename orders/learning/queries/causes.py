"""Rejects by what was wrong with them, with the likely reason."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum

from orders.learning.queries.reject_records import RejectRecord
from stock.models import RejectCause, RejectTally
from workshop.physics.reject_causes import HINTS, Hint


@dataclass(frozen=True)
class CauseRow:
    """A cause, the beads sorted out for it, its part of all that were told, and the hint."""

    cause: str
    label: str
    beads: int
    share: float
    hint: Hint


def causes_since(
    since: date | None, *, bead: int | None, kiln: int | None = None
) -> list[CauseRow]:
    """The commonest first (1 query)."""
    rows = RejectTally.objects.filter(posting__reversed_by__isnull=True)
    if since is not None:
        rows = rows.filter(on__gte=since)
    if bead is not None:
        rows = rows.filter(batch__bead=bead)
    if kiln is not None:
        rows = rows.filter(load__kiln=kiln)
    sums = dict(rows.order_by().values_list("cause").annotate(n=Sum("beads")))
    whole = sum(sums.values())
    found = [
        CauseRow(cause, str(RejectCause(cause).label), n, n / whole, HINTS[cause])
        for cause, n in sums.items()
    ]
    return sorted(found, key=lambda row: -row.beads)


def of_cause(
    loads: Sequence[tuple[RejectRecord, int, int]], cause: str, bead: int | None
) -> list[tuple[RejectRecord, int, int]]:
    """The same loads with the rejects of one cause alone (1 query)."""
    rows = RejectTally.objects.filter(
        cause=cause, load__isnull=False, posting__reversed_by__isnull=True
    )
    if bead is not None:
        rows = rows.filter(batch__bead=bead)
    sums = dict(rows.order_by().values_list("load__number").annotate(n=Sum("beads")))
    return [
        (first, min(beads, sums.get(first.load, 0)), beads) for first, _rejected, beads in loads
    ]
