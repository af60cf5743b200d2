"""The rows behind the kiln floor, each kind read once and put together here.

Joined reads would make the same bead, mould and customer anew for every tray; with hundreds of
open orders that costs more than everything else on the page.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Prefetch, QuerySet, prefetch_related_objects

from orders.floor.facts import ACTIVE, loads_with_kilns
from orders.models import Customer, LoadShare, Order, WorkOrder
from stock.models import Balance, Bead, BeadBatch, KilnLoad, LoadTray
from workshop.days import soonest
from workshop.models import Kiln, Person

JobStep = WorkOrder.Step
BEFORE_FIRE = (
    JobStep.GLASS, JobStep.MOULDING, JobStep.FIRING, JobStep.PAINTING, JobStep.SECOND,
)  # fmt: skip
OVER = (KilnLoad.State.COOLED, KilnLoad.State.SPOILED)
# Over, said the other way round, or SQLite begins with every load there ever was.
NOT_OVER = [state for state in KilnLoad.State if state not in OVER]


@dataclass(frozen=True)
class FiredShare:
    """What of a job's present batch has been through one firing of one load."""

    job: int
    firing: int
    beads: int
    good: int


@dataclass
class FloorRows:
    """jobs     beads of open orders up to their last firing, order, customer and bead with them
    fired    what of the jobs' batches has cooled or was spoiled
    whole    beads of each job's batch started and rejected, by batch
    """

    jobs: list[WorkOrder]
    fired: list[FiredShare]
    whole: dict[int, tuple[int, int]]


def floor_rows(loads: Sequence[KilnLoad]) -> FloorRows:
    """Everything that waits, and trays and shares into the loads (8 queries)."""
    jobs = list(
        WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step__in=BEFORE_FIRE).order_by(
            soonest("order__due_on"), "order__number", "pk"
        )
    )
    known = {job.pk: job for job in jobs}
    _give_shares(loads, known)
    _dress(known.values(), loads)
    return FloorRows(jobs, _fired(jobs), _whole(jobs))


def active_loads() -> list[KilnLoad]:
    """Planned and burning loads with kiln, trays, shares and their orders, earliest first
    (8 queries)."""
    loads = list(KilnLoad.objects.filter(state__in=ACTIVE).order_by("starts_at", "pk"))
    loads_with_kilns(loads, Kiln.objects.in_bulk({load.kiln_id for load in loads}))
    known: dict[int, WorkOrder] = {}
    _give_shares(loads, known)
    _dress(known.values(), loads)
    return loads


def _give_shares(loads: Sequence[KilnLoad], jobs: dict[int, WorkOrder]) -> None:
    """Trays to their loads and shares to their trays; jobs not known yet are read and added."""
    trays_of: dict[int, list[LoadTray]] = {load.pk: [] for load in loads}
    by_load = {load.pk: load for load in loads}
    trays = list(LoadTray.objects.filter(load__in=list(by_load)).order_by("load_id", "pk"))
    for tray in trays:
        tray.load = by_load[tray.load_id]
        trays_of[tray.load_id].append(tray)
    for load in loads:
        _keep(load, "trays", trays_of[load.pk])
    shares_of: dict[int, list[LoadShare]] = {tray.pk: [] for tray in trays}
    by_tray = {tray.pk: tray for tray in trays}
    shares = list(LoadShare.objects.filter(tray__load__in=list(by_load)).order_by("pk"))
    missing = {share.job_id for share in shares} - jobs.keys()
    jobs |= WorkOrder.objects.in_bulk(missing)
    for share in shares:
        share.tray, share.job = by_tray[share.tray_id], jobs[share.job_id]
        shares_of[share.tray_id].append(share)
    for tray in trays:
        _keep(tray, "shares", shares_of[tray.pk])


def _keep(row: KilnLoad | LoadTray, name: str, related: list) -> None:
    """As a prefetch would: `row.<name>.all()` gives these rows without asking.

    The relation's own filter is written only when somebody asks for more, as Django's does.
    """
    model, key = (LoadTray, "load") if name == "trays" else (LoadShare, "tray")
    found: Any = QuerySet(model)
    found._deferred_filter = (False, (), {key: row})
    found._result_cache = related
    found._prefetch_done = True
    row.__dict__.setdefault("_prefetched_objects_cache", {})[name] = found


def _dress(jobs: Iterable[WorkOrder], loads: Iterable[KilnLoad]) -> None:
    """Beads, orders, customers, keepers and the batches of beads for no order."""
    jobs = list(jobs)
    trays = [tray for load in loads for tray in load.trays.all()]
    beads = dress_jobs(jobs, {tray.bead_id for tray in trays})
    keepers = Person.objects.in_bulk({load.keeper_id for load in loads if load.keeper_id})
    for load in loads:
        load.keeper = keepers.get(load.keeper_id)
    for tray in trays:
        tray.bead = beads[tray.bead_id]
    loose = [tray for tray in trays if tray.batch_id]
    batches = BeadBatch.objects.in_bulk({tray.batch_id for tray in loose})
    for batch in batches.values():
        batch.bead = beads.get(batch.bead_id) or batch.bead
    for tray in loose:
        tray.batch = batches[tray.batch_id]
    see_where_painted_lie(loose)


def see_where_painted_lie(trays: Iterable[LoadTray]) -> None:
    """Read where the beads of second firings for no order lie (2 queries, none without any)."""
    batches = {
        tray.batch_id: tray.batch
        for tray in trays
        if tray.batch is not None and tray.is_second_firing and not tray.shares.all()
    }
    lying = Balance.objects.filter(quantity__gt=0).select_related("place")
    prefetch_related_objects(list(batches.values()), Prefetch("item__balances", lying))


def dress_jobs(jobs: Sequence[WorkOrder], more_beads: Iterable[int] = ()) -> dict[int, Bead]:
    """Order, customer and bead of each job, each of them read once (3 queries); gives the beads,
    with others that are wanted."""
    orders = Order.objects.in_bulk({job.order_id for job in jobs})
    customers = Customer.objects.in_bulk({order.customer_id for order in orders.values()})
    for order in orders.values():
        order.customer = customers[order.customer_id]
    rows = Bead.objects.select_related("mould", "programme", "second_programme")
    beads = rows.in_bulk({job.bead_id for job in jobs}.union(more_beads))
    for job in jobs:
        job.order, job.bead = orders[job.order_id], beads[job.bead_id]
    return beads


def _fired(jobs: Sequence[WorkOrder]) -> list[FiredShare]:
    rows = LoadShare.objects.filter(
        job__in=[job.pk for job in jobs if job.batch_id], tray__batch=F("job__batch")
    )
    rows = rows.exclude(tray__load__state__in=NOT_OVER)
    told = rows.values_list("job_id", "tray__firing", "beads", "tray__beads", "tray__good")
    return [
        FiredShare(job, firing, beads, (all_beads if good is None else good) * beads // all_beads)
        for job, firing, beads, all_beads, good in told
    ]


def _whole(jobs: Sequence[WorkOrder]) -> dict[int, tuple[int, int]]:
    rows = BeadBatch.objects.filter(pk__in=[job.batch_id for job in jobs if job.batch_id])
    return {pk: (started, rejected) for pk, started, rejected in rows.values_list(
        "pk", "started", "rejected"
    )}  # fmt: skip


__all__ = ["BEFORE_FIRE", "FiredShare", "FloorRows", "active_loads", "floor_rows"]
