"""What every load did to the beads in it: started, rejected, by bead, kiln, mould and keeper.

A bead counts as rejected whenever it fell out, at the kiln or when it was sorted. What is sorted
out of a batch that was in several loads is shared out by the beads that each load left.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import F

from stock.models import BeadBatch, LoadTray
from workshop.days import day_begins


@dataclass(frozen=True)
class RejectRecord:
    """One bead in one load, all of it sorted; `load` is None for beads without a logged load."""

    bead: int
    firing: int
    beads: int
    rejected: int
    load: int | None
    on: date
    kiln: str = ""
    kiln_id: int = 0
    mould: str = ""
    keeper: str = ""


def reject_records(since: date | None = None, *, bead: int | None = None) -> list[RejectRecord]:
    """Every finished batch in its loads, oldest first (2 queries).

    Batches that are still on their way say nothing yet about their last firing.
    """
    trays = LoadTray.objects.filter(good__isnull=False, batch__isnull=False).select_related(
        "load__kiln", "load__keeper", "batch", "bead__mould"
    )
    batches = (
        BeadBatch.objects.filter(
            trays__isnull=True, started__gt=0, started__lte=F("good") + F("rejected")
        )
        .select_related("bead__mould")
        .order_by("made_on", "pk")
    )
    if bead is not None:
        trays, batches = trays.filter(bead=bead), batches.filter(bead=bead)
    if since is not None:
        trays, batches = (
            trays.filter(load__starts_at__gte=day_begins(since)),
            batches.filter(made_on__gte=since),
        )
    by_batch: dict[int, list[LoadTray]] = defaultdict(list)
    for tray in trays.order_by("load__starts_at", "pk"):
        by_batch[tray.batch_id].append(tray)
    found = [record for rows in by_batch.values() for record in _of_batch(rows)]
    found += [
        RejectRecord(
            batch.bead_id,
            1,
            batch.started,
            batch.started - batch.good,
            None,
            batch.made_on,
            mould=batch.bead.mould.name,
        )
        for batch in batches
        if batch.bead.firings == 1 and batch.good <= batch.started
    ]
    return sorted(found, key=lambda record: (record.on, record.load or 0))


def _of_batch(trays: list[LoadTray]) -> Iterable[RejectRecord]:
    batch, bead = trays[0].batch, trays[0].bead
    first = [tray for tray in trays if tray.firing == 1]
    if bead.firings == 2:
        yield from (_record(tray, tray.rejected or 0) for tray in first)
    last = [tray for tray in trays if tray.firing == bead.firings]
    into_it = sum(tray.beads for tray in last)
    finished = batch is not None and batch.started <= batch.good + batch.rejected
    if not last or not finished or into_it < batch.good:
        return
    fell_out = into_it - batch.good - sum(tray.rejected or 0 for tray in last)
    for tray, more in zip(last, _shared(fell_out, [t.good or 0 for t in last]), strict=True):
        yield _record(tray, min(tray.beads, max(0, (tray.rejected or 0) + more)))


def _shared(whole: int, weights: list[int]) -> list[int]:
    """So many beads by weight, without losing one to rounding."""
    total, given, parts = sum(weights), 0, []
    for place, _weight in enumerate(weights, 1):
        reached = round(whole * sum(weights[:place]) / total) if total else 0
        parts.append(reached - given)
        given = reached
    return parts


def _record(tray: LoadTray, rejected: int) -> RejectRecord:
    load = tray.load
    return RejectRecord(
        tray.bead_id,
        tray.firing,
        tray.beads,
        rejected,
        load.number,
        load.starts_at.date(),
        load.kiln.name,
        load.kiln_id,
        tray.bead.mould.name,
        str(load.keeper or ""),
    )


def by_load(records: Iterable[RejectRecord]) -> list[tuple[RejectRecord, int, int]]:
    """Rejects and beads of each load, oldest first; beads without a load are left out."""
    sums: dict[int, list[int]] = {}
    shown: dict[int, RejectRecord] = {}
    for record in records:
        if record.load is None:
            continue
        shown.setdefault(record.load, record)
        rejected_and_beads = sums.setdefault(record.load, [0, 0])
        rejected_and_beads[0] += record.rejected
        rejected_and_beads[1] += record.beads
    return [(shown[load], rejected, beads) for load, (rejected, beads) in sums.items()]
