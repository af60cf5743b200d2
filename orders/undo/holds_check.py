"""Whether what the book holds is what the orders were promised."""

from collections.abc import Iterator

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from orders.making.queries.findings import findings_wanted
from orders.making.services.progress import stage_of
from orders.models import (
    Document,
    FindingNeed,
    Order,
    OrderLine,
    PaidWork,
    Purchase,
    Stage,
    StrandDesign,
    WorkOrder,
)
from orders.models.accounts import accounts_differ
from stock.models import Balance, LocationKind, WorkTicket
from stock.services.check import MORE_CHECKS, Check
from stock.services.moves import say_quantity
from stock.services.places import COOLED, MOULDED, PAINTED, TO_PAINT
from workshop.search import parts_differ


def holds_differ() -> Iterator[str]:
    """Every balance holds exactly what the orders' holds on it add up to (1 query)."""
    rows = (
        Balance.objects.select_related("item", "place")
        .annotate(promised=Coalesce(Sum("allocations__quantity"), 0))
        .exclude(reserved=F("promised"))
        .order_by("pk")
    )
    for row in rows.iterator(chunk_size=500):
        yield (
            f"{row.item} at {row.place} holds {say_quantity(row.item, row.reserved)}, and "
            f"the orders were promised {say_quantity(row.item, row.promised)}."
        )


def strands_differ() -> Iterator[str]:
    """What a line of an open order has strung is held for it or handed over (1 query)."""
    rows = (
        OrderLine.objects.filter(order__state=Order.State.CONFIRMED)
        .exclude(design__sort=StrandDesign.Sort.WORK)  # done, it lies on no shelf
        .select_related("order", "design")
        .annotate(kept=Coalesce(Sum("allocations__quantity"), 0))
        .exclude(strung=F("kept") + F("handed"))
        .order_by("order__number", "pk")
    )
    for row in rows.iterator(chunk_size=500):
        yield (
            f"Order {row.order.number}: {row.strung} of {row.design} are said to be strung, "
            f"{row.handed} of them handed over, and {row.kept} are held for it."
        )


def stages_differ() -> Iterator[str]:
    """An open order stands at the stage that its beads and strands have reached."""
    for order in (
        Order.objects.filter(state=Order.State.CONFIRMED)
        .order_by("number")
        .iterator(chunk_size=500)
    ):
        stage = stage_of(order)
        if stage != order.stage:
            yield (
                f"Order {order.number} is said to be {Stage(order.stage).label}, and its beads "
                f"and strands are {stage.label}."
            )


def charges_differ() -> Iterator[str]:
    """An order is said to be charged where a final invoice names it, and nowhere else (2)."""
    finals = Document.objects.filter(kind=Document.Kind.INVOICE, on_account=False)
    named = finals.filter(order__isnull=False).order_by().values("order")
    orders = Order.objects.order_by("number")
    for order in orders.filter(charged=True).exclude(pk__in=named).iterator(chunk_size=500):
        yield f"Order {order.number} is said to be charged, and no invoice names it."
    for order in orders.filter(charged=False, pk__in=named).iterator(chunk_size=500):
        yield f"Order {order.number} is said to be not charged, and an invoice names it."


def tickets_differ() -> Iterator[str]:
    """Work is said to be paid where a slip names it, and nowhere else (2 queries)."""
    paid = PaidWork.objects.order_by().values("ticket")
    tickets = WorkTicket.objects.order_by("pk")
    for ticket in tickets.filter(paid=True).exclude(pk__in=paid).iterator(chunk_size=500):
        yield f"Ticket {ticket.pk} ({ticket}) is said to be paid, and no slip names it."
    for ticket in tickets.filter(paid=False, pk__in=paid).iterator(chunk_size=500):
        yield f"Ticket {ticket.pk} ({ticket}) is said to be not paid, and a slip names it."


# Where beads of a job lie while it stands at a step: one of these spots holds some of them.
LIES_AT = {
    WorkOrder.Step.FIRING: {MOULDED, LocationKind.KILN},
    WorkOrder.Step.PAINTING: {TO_PAINT},
    WorkOrder.Step.SECOND: {PAINTED, TO_PAINT, LocationKind.KILN},
    WorkOrder.Step.FINISHING: {COOLED},
}


def jobs_differ() -> Iterator[str]:
    """Beads being made for an open order lie where their step says (1 query and 1 a job)."""
    jobs = WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step__in=LIES_AT)
    for job in jobs.select_related("order", "bead").order_by("pk").iterator(chunk_size=500):
        if job.batch_id is None or not LIES_AT[WorkOrder.Step(job.step)] & set(_spots(job)):
            yield (
                f"Order {job.order.number}: {job.bead} is said to be "
                f"{job.get_step_display()}, and none of its beads lies there."
            )


def _spots(job: WorkOrder) -> Iterator[str]:
    rows = Balance.objects.inside().filter(item__batch=job.batch_id, quantity__gt=0)
    for row in rows.select_related("place"):
        yield row.place.spot


def findings_differ() -> Iterator[str]:
    """Open orders take the findings in stock that their strands still want, and hold no more (7).

    Orders are read a few at a time.
    """
    for need in FindingNeed.objects.exclude(order__state=Order.State.CONFIRMED):
        yield f"{need} is taken by an order that is not open."
    orders = Order.objects.filter(state=Order.State.CONFIRMED).order_by("pk")
    keys = list(orders.values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        some = list(orders.filter(pk__in=keys[start : start + AT_ONCE]))
        wanted = findings_wanted(some)
        for order in some:
            yield from _findings_of(order, wanted.get(order.pk, {}))


def _findings_of(order: Order, wanted: dict[int, int]) -> Iterator[str]:
    kept = dict(order.finding_needs.values_list("finding", "quantity"))
    if kept != wanted:
        yield f"Order {order.number} is said to take {kept} of findings, and its strands {wanted}."
    held = order.allocations.filter(balance__item__finding__isnull=False).order_by()
    for key, quantity in held.values_list("balance__item__finding").annotate(Sum("quantity")):
        if quantity > kept.get(key, 0):
            yield f"Order {order.number} holds {quantity} of finding {key} and takes fewer."


def purchases_differ() -> Iterator[str]:
    """What came of a purchase stands in the book as it was bought (1 query)."""
    rows = Purchase.objects.filter(arrived_on__isnull=False).select_related("posting", "finding")
    for row in rows.prefetch_related("posting__movements").order_by("pk"):
        assert row.posting is not None
        moved = [(m.item_id, m.quantity, m.value) for m in row.posting.movements.all()]
        if moved != [(row.finding.item_id, row.quantity, row.net)]:
            yield f"Purchase {row.pk} of {row} does not stand in the book as it was bought."


AT_ONCE = 200

OF_ORDERS = (
    Check("what is held is what orders were promised", holds_differ),
    Check("what is strung is held for its order", strands_differ),
    Check("beads lie where their jobs stand", jobs_differ),
    Check("what customers owe is what their papers ask for", accounts_differ),
    Check("what is charged stands on an invoice", charges_differ),
    Check("work is paid where a slip says so", tickets_differ),
    Check("orders take the findings that their strands want", findings_differ),
    Check("what was bought stands in the book", purchases_differ),
    Check("everything is found by what is written in it", parts_differ),
    Check("orders stand where their beads and strands are", stages_differ),
)


def keep_in_step() -> None:
    """Let `check_book` look at the orders too; called once when the program starts."""
    known = {each.name for each in MORE_CHECKS}
    MORE_CHECKS.extend(check for check in OF_ORDERS if check.name not in known)
