"""The beads an order has made, fitted anew to what it holds.

When holds are changed by hand, what the order lacks is made and what it has too much of is not:
beads not moulded yet become more or fewer, beads under way stay, and beads that it holds and no
strand of it takes go back to everybody.
"""

from collections.abc import Sequence

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from orders.floor.glass_shelf import shares_by_bead, wanted_mg
from orders.floor.kiln_room import fit_room, free_planned
from orders.making.queries.holds import NOT_MOULDED, beads_to_string
from orders.making.services.findings import fit_findings
from orders.making.services.holds import free_spare_glass, held_beads, release
from orders.making.services.progress import (
    Step,
    bring_up,
    coming_of,
    fit_to_start,
    glass_came_in,
    move_job,
)
from orders.models import GlassNeed, Order, WorkOrder
from stock.models import Bead
from workshop.models import Person


@transaction.atomic
def refit(order: Order, *, person: Person) -> dict[str, int]:
    """Fit an open order's beads to make to what it holds.

    Gives how many good beads more (or fewer) are to be made, by bead.
    """
    lines = list(order.lines.with_designs())
    wanted = beads_to_string(lines)
    jobs: dict[int, list[WorkOrder]] = {}
    for job in _jobs(order):
        jobs.setdefault(job.bead_id, []).append(job)
    names = dict(Bead.objects.filter(pk__in={*wanted, *jobs}).values_list("pk", "name"))
    changed: dict[str, int] = {}
    for bead in sorted({*wanted, *jobs}):
        own = jobs.get(bead, [])
        gap = wanted.get(bead, 0) - _held(order, bead) - sum(_coming(job) for job in own)
        if gap > 0:
            _make_more(order, bead, own, gap)
        elif gap < 0:
            gap = -_make_fewer(order, bead, own, -gap, person)
        if gap:
            changed[names[bead]] = gap
    fit_glass_needs(order)
    free_spare_glass(order)
    fit_findings(order)
    glass_came_in(person=person)
    order.refresh_from_db(fields=["stage", "stage_since"])
    bring_up(order)
    return changed


def _jobs(order: Order) -> QuerySet[WorkOrder]:
    return (
        WorkOrder.objects.select_for_update(of=("self",))
        .filter(order=order)
        .select_related("order", "bead__mould", "batch")
    )


def _held(order: Order, bead: int) -> int:
    return sum(hold.quantity for hold in held_beads(order, [bead]))


def _coming(job: WorkOrder) -> int:
    return max(0, job.needed - job.good)


def _make_more(order: Order, bead: int, jobs: Sequence[WorkOrder], more: int) -> None:
    """More of those under way, as far as they surely bring them; then of what is not moulded yet,
    and others are begun where there is none of that."""
    for under_way in jobs:
        if piece := min(more, coming_of(under_way) - _coming(under_way)):
            more -= piece
            under_way.needed += piece
            under_way.save(update_fields=["needed"])
    if not more:
        return
    job = next((job for job in jobs if job.step in NOT_MOULDED), None)
    if job is None:
        row = Bead.objects.select_related("mould").get(pk=bead)
        job = WorkOrder(order=order, bead=row, needed=0, step=Step.GLASS, step_since=timezone.now())
    job.needed += more
    fit_to_start(job)
    job.save()


def _make_fewer(
    order: Order, bead: int, jobs: Sequence[WorkOrder], spare: int, person: Person
) -> int:
    """Beads not to be made after all, those not moulded first; what is still too much is let go,
    the youngest first."""
    fewer = 0
    for job in sorted(jobs, key=lambda job: job.step not in NOT_MOULDED):
        if piece := min(spare - fewer, _coming(job)):
            fewer += piece
            job.needed -= piece
            if job.step in NOT_MOULDED:
                _shrink(job, person)
            else:
                job.save(update_fields=["needed"])
    spare -= fewer
    for hold in list(held_beads(order, [bead]))[::-1]:
        piece = min(spare, hold.quantity)
        if piece:
            release(hold, piece)
            spare -= piece
    return fewer


def _shrink(job: WorkOrder, person: Person) -> None:
    """A job of which fewer are needed; one of which none are is taken out of the plan."""
    if job.needed > job.good:
        fit_to_start(job)
        job.save(update_fields=["needed", "to_start", "moulds"])
        fit_room(job, person=person)
        return
    free_planned(job, person=person)
    if job.good:
        job.save(update_fields=["needed"])
        move_job(job, Step.DONE, person=person)
    else:
        job.delete()


def fit_glass_needs(order: Order) -> None:
    """What prepared glass an order will still take: that of the beads it has yet to mould."""
    jobs = list(order.jobs.filter(step__in=NOT_MOULDED).select_related("bead"))
    shares = shares_by_bead(job.bead_id for job in jobs)
    coming: dict[tuple[int, str], int] = {}
    for job in jobs:
        for colour, mg in wanted_mg(job, shares.get(job.bead_id, ())).items():
            pair = (colour, job.bead.moulded_from)
            coming[pair] = coming.get(pair, 0) + mg
    for need in order.glass_needs.all():
        mg = need.used_mg + coming.pop((need.colour_id, need.form), 0)
        if mg != need.needed_mg:
            GlassNeed.objects.filter(pk=need.pk).update(needed_mg=mg)
    GlassNeed.objects.bulk_create(
        GlassNeed(order=order, colour_id=colour, form=form, needed_mg=mg)
        for (colour, form), mg in coming.items()
    )
