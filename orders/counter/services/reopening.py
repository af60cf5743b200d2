"""A promise taken back while nothing is made yet, so that the order can be changed."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils.translation import gettext as _

from orders.counter.services.ordering import changed_meanwhile
from orders.floor.kiln_room import free_room, hold_the_kilns
from orders.making.services.findings import share_out_findings
from orders.making.services.holds import let_all_go
from orders.models import KeptWorking, Order, Stage, WorkOrder, keep_accounts
from stock.models import Posting, PostingKind
from workshop.models import Person
from workshop.services.acts import record_act


def can_reopen(order: Order) -> bool:
    """Whether a confirmed order can still be changed: nothing is moulded, strung or invoiced."""
    return order.state == Order.State.CONFIRMED and not _why_not_reopened(order)


def _why_not_reopened(order: Order) -> str:
    untouched = (WorkOrder.Step.GLASS, WorkOrder.Step.MOULDING)
    if order.jobs.exclude(step__in=untouched).exists() or order.jobs.filter(good__gt=0).exists():
        return _("Beads for order %(number)s are moulded already, so it cannot be changed.")
    strung = sum(order.lines.values_list("strung", flat=True))
    ready = order.allocations.filter(line__isnull=False).aggregate(n=Sum("quantity"))["n"] or 0
    if (
        strung > ready
        or Posting.objects.filter(
            kind=PostingKind.STRINGING, belongs_kind="order", belongs_ref=str(order.number)
        ).exists()
    ):
        return _("Strands for order %(number)s are strung already, so it cannot be changed.")
    # A payment on account stays: the final invoice takes it off whatever the order becomes.
    if order.papers.filter(kind="invoice", on_account=False).exists():
        return _(
            "Order %(number)s is invoiced, so it cannot be changed; write a credit note instead."
        )
    return ""


@transaction.atomic
def reopen_order(order: Order, *, person: Person) -> Order:
    """Take a promise back so that the order can be changed; what it held is free until then.

    Refused once beads are moulded, strands strung or an invoice issued.
    """
    hold_the_kilns()
    if sentence := _why_not_reopened(order):
        raise ValidationError(sentence % {"number": order.number})
    changed = Order.objects.filter(
        pk=order.pk, state=Order.State.CONFIRMED, version=order.version
    ).update(
        state=Order.State.DRAFT,
        stage=Stage.TAKEN,
        confirmed_at=None,
        likely_on=None,
        p90_on=None,
        bench_min=0,
        below_cost_by=None,
        below_cost_why="",
        version=F("version") + 1,
    )
    if not changed:
        raise ValidationError(changed_meanwhile(order))
    let_all_go(order)
    share_out_findings()
    free_room(order, person=person)
    order.glass_needs.all().delete()
    order.jobs.all().delete()
    order.lines.update(strung=0)
    KeptWorking.objects.filter(order=order).delete()
    order.refresh_from_db()
    keep_accounts({order.customer_id})
    record_act(person, "reopen order", order)
    return order
