"""Work done at the bench: moulded, painted, finished, strung, packed; each with a ticket.

Two hands at once: the second is told what has become of the work meanwhile, and nothing changes.
"""

from collections.abc import Mapping
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.bench.queries.packing import may_be_packed, ref_of, steps_to_pack
from orders.firing.services.log import beads_by_place
from orders.making.services.holds import free_spare_glass, glass_holds, use_glass
from orders.making.services.progress import job_finished, job_moulded, job_painted, string_for
from orders.models import Order, OrderLine, WorkOrder
from stock.models import BeadBatch, WorkTicket
from stock.services.beads import TO_REMAKE, glass_to_weigh, log_good_beads, mould_beads
from stock.services.places import COOLED
from stock.services.rejects import tally_rejects, told_at_the_kiln
from stock.services.tickets import Done, write_ticket
from workshop.models import Person, Skill
from workshop.money import split_by_largest_remainder
from workshop.rates import Rates

Step = WorkOrder.Step


@transaction.atomic
def mould_job(
    job: WorkOrder,
    count: int,
    *,
    person: Person,
    minutes: int = 0,
    marks: Mapping[int, str] | None = None,
) -> BeadBatch:
    """The moulds of a job are filled with `count` beads: glass becomes a batch on the bench.

    marks  which heap of a colour was taken from, by colour key; else one that has enough
    """
    job = _at(job, Step.GLASS, Step.MOULDING)
    missing = job.needed - job.good
    if count < missing:
        raise ValidationError(
            {
                "count": _(
                    "Order %(order)s needs %(missing)s good beads, so %(count)s cannot be enough. "
                    "Mould at least %(missing)s; %(start)s leaves room for rejects."
                )
                % {
                    "order": job.order.number,
                    "missing": missing,
                    "count": count,
                    "start": job.to_start,
                }
            }
        )
    held = glass_holds(job.order)
    glass = glass_to_weigh(job.bead, count, marks=marks, held=held)
    batch = mould_beads(
        job.bead, count, person=person, glass=glass, from_holds=held,
        belongs=("order", str(job.order.number)), minutes=minutes,
    )  # fmt: skip
    use_glass(
        job.order, {t.item.pk: min(t.quantity, held[t.item.pk]) for t in glass if t.item.pk in held}
    )
    job.moulds = -(-count // job.bead.mould.cavities)
    job.to_start = count
    job.save(update_fields=["moulds", "to_start"])
    job_moulded(job, batch, person=person)
    free_spare_glass(job.order)
    return batch


@transaction.atomic
def paint_job(job: WorkOrder, *, person: Person, minutes: int = 0) -> WorkOrder:
    """The beads of a job are painted and dry, ready for their second firing."""
    job = _at(job, Step.PAINTING)
    return job_painted(job, person=person, minutes=minutes)


@transaction.atomic
def finish_job(
    job: WorkOrder,
    *,
    good: int,
    rejected: int,
    gone: int = 0,
    person: Person,
    minutes: int = 0,
    rejects_to: str = TO_REMAKE,
    causes: Mapping[str, int] | None = None,
) -> WorkOrder:
    """Polished and sorted: good beads come to the shelf and are held for their order at once."""
    job = _at(job, Step.FINISHING)
    assert job.batch is not None, "beads to be finished have their batch"
    there = beads_by_place(job.batch).get(COOLED, 0)
    found = good + rejected + gone
    if min(good, rejected, gone) < 0 or found != there:
        raise ValidationError({"good": finish_problem(there, found)})
    posting = log_good_beads(
        job.batch, good=good, rejected=rejected, broken=gone, firing=job.bead.firings,
        rejects_to=rejects_to, person=person, belongs=("order", str(job.order.number)),
        minutes=minutes,
    )  # fmt: skip
    told = sum(told_at_the_kiln(job.batch).values())
    tally_rejects(job.batch, causes or {}, posting=posting, rejected=max(0, rejected + gone - told))
    return job_finished(job, good=good, person=person)


def finish_problem(there: int, found: int) -> str:
    """Why the count of sorted beads cannot be right."""
    words = {"there": there, "found": found, "left": abs(there - found)}
    if found > there:
        return _("%(found)s were sorted and only %(there)s came out. Count again.") % words
    return (
        _(
            "%(there)s came out and %(found)s are accounted for. Say what became of the other "
            "%(left)s: rejects, or gone altogether."
        )
        % words
    )


@transaction.atomic
def string_line(line: OrderLine, strands: int, *, person: Person, minutes: int = 0) -> OrderLine:
    """Strands of a line are strung and held for their order."""
    if line.order.state != Order.State.CONFIRMED:
        raise ValidationError(
            _("Order %(number)s is %(state)s; there is nothing to string.")
            % {"number": line.order.number, "state": line.order.get_state_display()}
        )
    posting = string_for(line, strands, person=person)
    belongs = ref_of(line.order)
    for skill, done in _work_of(line, strands, minutes):
        if done.strands or done.minutes:
            write_ticket(skill, done, person, posting=posting, belongs=belongs)
    return line


def _work_of(line: OrderLine, strands: int, minutes: int) -> list[tuple[str, Done]]:
    """What was done by which skill: work on a piece takes those that its design names.

    Loose beads are counted out, and work on a piece is no strand: nobody is paid by the strand
    for them, and what such a piece takes teaches nothing about strands.
    """
    if not line.design.is_work:
        pieces = 0 if line.design.is_loose else strands
        return [(Skill.STRINGING, Done(strands=pieces, minutes=minutes))]
    work = list(line.design.work.order_by("pk"))
    parts = split_by_largest_remainder(Decimal(minutes), [row.minutes for row in work], 0)
    return [(row.skill, Done(minutes=int(part))) for row, part in zip(work, parts, strict=True)]


@transaction.atomic
def pack_order(order: Order, minutes: Mapping[str, int], *, person: Person) -> list[WorkTicket]:
    """What is done once for a whole order, such as packing it: a ticket a step, each once.

    minutes  by step
    """
    order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
    to_tell = {rate.step_id for rate in steps_to_pack(order)}
    if not minutes or not minutes.keys() <= to_tell:
        raise ValidationError(packing_problem(order))
    return [
        WorkTicket.objects.create(
            on=timezone.localdate(), hand=person, step_id=step, belongs_ref=ref_of(order),
            pieces=1, minutes=spent,
        )
        for step, spent in minutes.items()
    ]  # fmt: skip


def packing_problem(order: Order) -> str:
    """Why nothing of an order is to be packed now."""
    words: dict[str, object] = {"number": order.number}
    if not may_be_packed(order):
        return _("Order %(number)s is not ready to be packed.") % words
    told = WorkTicket.objects.filter(
        on__gte=order.taken_on, belongs_ref=ref_of(order), bead=None,
        step__in=[rate.step_id for rate in Rates.in_force().once_an_order()],
    )  # fmt: skip
    ticket = told.select_related("hand").first()
    if ticket is None:
        return _("No step is paid once an order. Write its rate under Steps and pay first.")
    words["who"] = ticket.hand
    return _("%(who)s has packed order %(number)s already. Nothing was changed.") % words


def _at(job: WorkOrder, *steps: str) -> WorkOrder:
    """The job as it is now, if it still stands where the hand saw it."""
    now = (
        WorkOrder.objects.select_for_update(of=("self",))
        .select_related("order", "bead__mould", "batch__bead")
        .get(pk=job.pk)
    )
    if now.order.state != Order.State.CONFIRMED or now.step not in steps:
        raise ValidationError(moved_on(now))
    return now


def moved_on(job: WorkOrder) -> str:
    """Who moved a job on meanwhile, and where its beads are now."""
    from workshop.models import AuditEntry

    words = {
        "bead": job.bead,
        "order": job.order.number,
        "step": job.get_step_display()
        if job.order.state == Order.State.CONFIRMED
        else job.order.get_state_display(),
    }
    latest = (
        AuditEntry.objects.filter(subject_kind="workorder", subject_ref=str(job.pk), refused=False)
        .select_related("person")
        .order_by("-pk")
        .first()
    )
    if latest is None or latest.person is None:
        return _("%(bead)s for order %(order)s: %(step)s by now. Nothing was changed.") % words
    words["who"] = latest.person
    return (
        _(
            "%(who)s has moved %(bead)s for order %(order)s on meanwhile: %(step)s. "
            "Nothing was changed."
        )
        % words
    )
