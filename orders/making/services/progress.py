"""An order moving along: glass, moulds, fire, finishing, cord. Each act is one transaction."""

from bisect import bisect_right
from collections.abc import Iterable
from datetime import date
from decimal import ROUND_CEILING, Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, QuerySet
from django.db.models.functions import Least
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.beads_to_start import beads_to_start
from orders.costing.errors import CostingError
from orders.drawn.strands import Draughtsman, findings_each
from orders.facts.wording import refusal
from orders.floor.glass_shelf import GlassShelf, shares_by_bead, wanted_mg
from orders.making.services.findings import findings_for, findings_used
from orders.making.services.holds import held_beads, hold_for, strand_item, use_up
from orders.models import GlassNeed, Order, OrderLine, Stage, StockReservation, WorkOrder
from stock.models import Balance, Bead, BeadBatch, Posting
from stock.models import LocationKind as Places
from stock.services.beads import paint_beads
from stock.services.convert import Taken
from stock.services.stringing import string_strands
from workshop.days import soonest
from workshop.models import Business, Person
from workshop.services.acts import record_act

Step = WorkOrder.Step

# The stage an order has reached while its slowest beads stand at a step.
REACHED = {
    Step.GLASS: Stage.TAKEN,
    Step.MOULDING: Stage.GLASS,
    Step.FIRING: Stage.MOULDED,
    Step.PAINTING: Stage.MOULDED,
    Step.SECOND: Stage.MOULDED,
    Step.FINISHING: Stage.FIRED,
    Step.DONE: Stage.FINISHED,
}


def stage_of(order: Order) -> Stage:
    """How far the order has come, by its slowest beads and the strands strung (2 queries)."""
    if order.state == Order.State.COLLECTED:
        return Stage.COLLECTED
    if not order.lines.filter(strung__lt=F("strands")).exists():
        return Stage.STRUNG
    steps = order.jobs.values_list("step", flat=True)
    return min((REACHED[Step(step)] for step in steps), default=Stage.FINISHED)


@transaction.atomic
def bring_up(order: Order) -> Order:
    """Write down the stage an order has reached by now."""
    stage = stage_of(order)
    if stage != order.stage:
        order.stage, order.stage_since = stage, timezone.now()
        order.save(update_fields=["stage", "stage_since"])
    return order


@transaction.atomic
def move_job(
    job: WorkOrder, step: str, *, person: Person, batch: BeadBatch | None = None
) -> WorkOrder:
    """The beads of a job have come to the next step."""
    before = job.step
    job.step, job.step_since = step, timezone.now()
    if batch is not None:
        job.batch = batch
    job.save(update_fields=["step", "step_since", "batch"])
    record_act(person, "move beads", job, before={"step": before}, after={"step": str(step)})
    bring_up(job.order)
    return job


@transaction.atomic
def glass_came_in(*, person: Person) -> list[WorkOrder]:
    """Beads that waited for glass and have all of it now may be moulded; the earliest due first.

    Prepared glass is promised in that order, so what one order will take is not shown to the
    next. Returns the jobs that moved on.
    """
    shelf = GlassShelf.of_today()
    waiting = list(_not_moulded())
    shares = shares_by_bead(job.bead_id for job in waiting)
    moved = []
    for job in waiting:
        missing = shelf.take_for(job, shares.get(job.bead_id, ()))
        if job.step == Step.GLASS and not missing:
            moved.append(move_job(job, Step.MOULDING, person=person))
    return moved


@transaction.atomic
def glass_went_away(colours: Iterable[int], *, person: Person) -> list[WorkOrder]:
    """Beads to be moulded of some colours whose glass is gone wait for it again."""
    shelf = GlassShelf.of_today()
    waiting = list(_not_moulded())
    shares = shares_by_bead(job.bead_id for job in waiting)
    gone, moved = set(colours), []
    for job in waiting:
        own = shares.get(job.bead_id, ())
        missing = {lack.colour.pk for lack in shelf.take_for(job, own)}
        if job.step == Step.MOULDING and missing & gone:
            moved.append(move_job(job, Step.GLASS, person=person))
    return moved


def _not_moulded() -> QuerySet[WorkOrder]:
    """Beads that wait for glass or for their moulds, those of the order due first in front."""
    return (
        WorkOrder.objects.filter(
            order__state=Order.State.CONFIRMED, step__in=[Step.GLASS, Step.MOULDING]
        )
        .select_related("order", "bead")
        .order_by(soonest("order__due_on"), "order__number", "pk")
    )


@transaction.atomic
def job_moulded(job: WorkOrder, batch: BeadBatch, *, person: Person) -> WorkOrder:
    """The moulds are filled: the glass is taken and no longer claimed, the beads wait for fire."""
    claim = wanted_mg(job, shares_by_bead([job.bead_id]).get(job.bead_id, ()))
    needs = GlassNeed.objects.filter(order=job.order)
    for colour, mg in claim.items():
        needs.filter(colour=colour, form=job.bead.moulded_from).update(
            used_mg=Least(F("needed_mg"), F("used_mg") + mg)
        )
    job = move_job(job, Step.FIRING, person=person, batch=batch)
    if not job.order.jobs.filter(step__in=[Step.GLASS, Step.MOULDING]).exists():
        needs.update(used_mg=F("needed_mg"))
    return job


@transaction.atomic
def job_fired(job: WorkOrder, *, firing: int, person: Person) -> WorkOrder:
    """A firing has cooled: painted beads go on to the paint, the others to be finished."""
    more = firing == 1 and job.bead.firings == 2
    return move_job(job, Step.PAINTING if more else Step.FINISHING, person=person)


@transaction.atomic
def job_painted(job: WorkOrder, *, person: Person, minutes: int | None = None) -> WorkOrder:
    """Painted beads bear the paint and the hands, and wait for their second firing.

    minutes  that it took; None where the work is told otherwise, so that no ticket is written
    """
    if job.batch is not None:
        belongs = ("order", str(job.order.number))
        paint_beads(job.batch, person=person, belongs=belongs, minutes=minutes)
    return move_job(job, Step.SECOND, person=person)


@transaction.atomic
def job_finished(job: WorkOrder, *, good: int, person: Person) -> WorkOrder:
    """Good beads have come to the shelf: what the order needs of them is held for it.

    When fewer came good than are needed, the rest is to be moulded again, with as many started
    as the workshop's assurance asks for.
    """
    if good < 0:
        raise ValidationError({"good": _("Good beads cannot be below 0; count them again.")})
    missing = job.needed - job.good
    if job.batch is not None:
        _hold_good(job, max(0, min(good, missing)))
    job.good += good
    job.save(update_fields=["good"])
    if job.good >= job.needed:
        return move_job(job, Step.DONE, person=person)
    return start_again(job, person)


@transaction.atomic
def part_finished(job: WorkOrder, *, good: int, person: Person) -> WorkOrder:
    """Some of a job's beads have come to the shelf while others of it are still to be fired.

    What the order needs of them is held at once, so that nobody else takes them meanwhile.
    """
    if job.batch is not None:
        _hold_good(job, max(0, min(good, job.needed - job.good)))
    WorkOrder.objects.filter(pk=job.pk).update(good=F("good") + good)
    job.refresh_from_db(fields=["good"])
    record_act(person, "finish part", job, after={"good": good})
    return job


def _hold_good(job: WorkOrder, wanted: int) -> None:
    rows = (
        Balance.objects.at(Places.BEAD_SHELF)
        .free()
        .filter(item__batch=job.batch)
        .select_related("item", "place")
        .order_by("pk")
    )
    for row in rows:
        piece = min(wanted, row.free_quantity)
        if piece > 0:
            hold_for(job.order, row, piece)
            wanted -= piece


@transaction.atomic
def start_again(job: WorkOrder, person: Person) -> WorkOrder:
    """What of a job did not come good is moulded once more, as many as assurance asks for."""
    fit_to_start(job)
    job.batch = None
    job.save(update_fields=["to_start", "moulds", "batch"])
    return move_job(job, Step.MOULDING, person=person)


def fit_to_start(job: WorkOrder) -> None:
    """Set how many beads are started, and in how many moulds, for those still needed."""
    bead = job.bead
    try:
        start = beads_to_start(
            job.needed - job.good, _reject_rate(bead), Business.current().assurance
        )
    except CostingError as error:
        raise ValidationError(refusal(error)) from error
    job.to_start = start
    job.moulds = int((Decimal(start) / bead.mould.cavities).to_integral_value(ROUND_CEILING))


def coming_of(job: WorkOrder) -> int:
    """Good beads that a job still brings: what is needed of it, and once it is moulded as many as
    the workshop's assurance gives for those started."""
    needed = max(0, job.needed - job.good)
    if job.step in {Step.GLASS, Step.MOULDING, Step.DONE}:
        return needed
    rate, assurance = _reject_rate(job.bead), Business.current().assurance
    numbers = range(job.to_start + 1)
    sure = bisect_right(numbers, job.to_start, key=lambda n: beads_to_start(n, rate, assurance)) - 1
    return max(needed, sure - job.good)


def _reject_rate(bead: Bead) -> Decimal:
    """The share of beads started that is rejected, over all their firings."""
    good_share = 1 - Decimal(bead.reject_rate)
    if bead.firings == 2:
        good_share *= 1 - Decimal(bead.second_reject_rate)
    return 1 - good_share


@transaction.atomic
def string_for(
    line: OrderLine, strands: int, *, person: Person, on: date | None = None
) -> Posting | None:
    """String strands of one line from the beads held for its order, and hold the strands.

    Loose beads are counted out. Work on a piece is done: nothing of it is in the book.
    """
    left = line.strands - line.strung
    if not 1 <= strands <= left:
        raise ValidationError(
            {
                "strands": _("%(left)s of %(design)s are still to be strung; write 1 to %(left)s.")
                % {"left": left, "design": line.design}
                if left
                else _("All of %(design)s are strung.") % {"design": line.design}
            }
        )
    if line.design.is_work:
        _strung(line, strands)
        record_act(person, "do work", line.order, after={line.design.name: strands})
        return None
    item = strand_item(line.design)
    taken = _beads_for(line, strands)
    supplies, used = findings_for(line.design, strands, line.order)
    posting = string_strands(
        item,
        strands,
        [part for part, _held in taken],
        person=person,
        on=on,
        belongs=("order", str(line.order.number)),
        findings=findings_each(line.design, in_stock_too=False),
        supplies=supplies,
        counted=line.design.is_loose,
    )
    for part, allocation in taken:
        use_up(allocation, part.quantity)
    findings_used(line.order, used, supplies)
    shelf = Balance.objects.at(Places.STRAND_SHELF).free().filter(item=item).order_by("-pk").first()
    assert shelf is not None, "strands were just put there"
    hold_for(line.order, shelf, strands, line=line)
    _strung(line, strands)
    return posting


def _strung(line: OrderLine, strands: int) -> None:
    OrderLine.objects.filter(pk=line.pk).update(strung=F("strung") + strands)
    line.refresh_from_db(fields=["strung"])
    bring_up(line.order)


def _beads_for(line: OrderLine, strands: int) -> list[tuple[Taken, StockReservation]]:
    """The held beads that go onto these strands, oldest batch first."""
    layout = Draughtsman([line.design]).layout(line.design_id)
    parts = []
    for bead, each in layout.beads:
        wanted = each * strands
        for allocation in held_beads(line.order, [int(bead)]):
            piece = min(wanted, allocation.quantity)
            if piece > 0:
                balance = allocation.balance
                parts.append((Taken(balance.item, balance.place, piece, piece), allocation))
                wanted -= piece
        if wanted > 0:
            raise ValidationError(
                _(
                    "%(design)s needs %(wanted)s more beads that are not on the shelf yet. "
                    "String fewer, or wait until they are finished."
                )
                % {"design": line.design, "wanted": wanted}
            )
    return parts
