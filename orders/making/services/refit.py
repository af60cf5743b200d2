"""The beads an order has made, fitted anew to what it holds.

When holds are changed by hand, what the order lacks is made and what it has too much of is not:
beads not moulded yet become more or fewer, beads under way stay, and beads that it holds and no
strand of it takes go back to everybody.
"""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.floor.glass_shelf import shares_by_bead, wanted_mg
from orders.making.queries.holds import NOT_MOULDED, beads_to_string
from orders.making.services.holds import free_spare_glass, held_beads, release
from orders.making.services.kiln_room import fit_room, free_planned
from orders.making.services.progress import (
    Step,
    bring_up,
    fit_to_start,
    glass_came_in,
    move_job,
    start_again,
)
from orders.models import GlassNeed, Order, WorkOrder
from stock.models import Bead
from workshop.models import Person


@transaction.atomic
def refit(order: Order, *, person: Person) -> dict[str, int]:
    """Fit an open order's beads to make to what it holds.

    Gives how many good beads more (or fewer) are to be made, by bead. Raises ValidationError where
    beads are under way and too few of them were started for what is wanted now.
    """
    lines = list(order.lines.with_designs())
    wanted = beads_to_string(lines)
    jobs = {job.bead_id: job for job in _jobs(order)}
    changed: dict[str, int] = {}
    for bead in sorted({*wanted, *jobs}):
        job = jobs.get(bead)
        gap = wanted.get(bead, 0) - _held(order, bead) - _coming(job)
        if gap > 0:
            job = _make_more(order, bead, job, gap, person)
        elif gap < 0:
            gap = -_make_fewer(order, bead, job, -gap, person)
        if gap and job is not None:
            changed[job.bead.name] = gap
    fit_glass_needs(order)
    free_spare_glass(order)
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


def _coming(job: WorkOrder | None) -> int:
    return max(0, job.needed - job.good) if job is not None else 0


def _make_more(
    order: Order, bead: int, job: WorkOrder | None, more: int, person: Person
) -> WorkOrder:
    if job is None:
        job = WorkOrder(
            order=order, bead=Bead.objects.select_related("mould").get(pk=bead), needed=more,
            step=Step.GLASS, step_since=timezone.now(),
        )  # fmt: skip
        fit_to_start(job)
        job.save()
        return job
    job.needed += more
    if job.step == Step.DONE:
        job.save(update_fields=["needed"])
        return start_again(job, person)
    if job.step in NOT_MOULDED:
        fit_to_start(job)
    elif job.needed - job.good > job.to_start:
        raise ValidationError(
            _(
                "%(bead)s for order %(order)s: %(started)s are under way and %(needed)s would be "
                "needed. Hold others for it first, or wait until these are finished."
            )
            % {
                "bead": job.bead,
                "order": order.number,
                "started": job.to_start,
                "needed": job.needed - job.good,
            }
        )
    job.save(update_fields=["needed", "to_start", "moulds"])
    return job


def _make_fewer(order: Order, bead: int, job: WorkOrder | None, spare: int, person: Person) -> int:
    """Beads not to be made after all; what is still too much is let go, the youngest first."""
    fewer = min(spare, _coming(job))
    if job is not None and fewer:
        job.needed -= fewer
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
