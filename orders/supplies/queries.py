"""One finding in stock: who takes it, what was bought, what moved."""

from dataclasses import dataclass

from django.db.models import Sum

from orders.making.queries.findings import FindingStock, findings_in_stock
from orders.models import Finding, FindingNeed, Order, Purchase, StockReservation
from stock.models import Movement, Posting

MOST_ROWS = 12


@dataclass(frozen=True)
class Taker:
    """An open order that takes a finding; `held` of it is held for the order."""

    order: Order
    needed: str
    short: str


@dataclass(frozen=True)
class Moved:
    """So much of a finding came onto its shelves or left them; `came`: it came."""

    posting: Posting
    said: str
    came: bool


def stock_of(finding: Finding) -> FindingStock:
    """A finding as it stands (6 queries)."""
    return next(row for row in findings_in_stock() if row.finding.pk == finding.pk)


def takers_of(finding: Finding) -> list[Taker]:
    """The open orders that take a finding, the first due in front (2 queries)."""
    held = dict(
        StockReservation.objects.filter(balance__item=finding.item_id)
        .order_by()
        .values_list("order")
        .annotate(Sum("quantity"))
    )
    needs = FindingNeed.objects.filter(finding=finding).select_related("order__customer")
    found = []
    for need in needs.order_by("order__due_on", "order__number"):
        short = need.quantity - held.get(need.order_id, 0)
        missing = finding.said(short) if short else ""
        found.append(Taker(need.order, finding.said(need.quantity), missing))
    return found


def purchases_of(finding: Finding) -> list[Purchase]:
    """What was bought of a finding lately (1 query)."""
    rows = Purchase.objects.filter(finding=finding).select_related("finding", "posting", "person")
    return list(rows[:MOST_ROWS])


def moved_lately(finding: Finding) -> list[Moved]:
    """What came and went of a finding, the latest first (1 query)."""
    rows = Movement.objects.filter(item=finding.item_id).select_related(
        "posting__person", "from_place", "to_place"
    )
    return [
        Moved(row.posting, finding.said(row.quantity), row.to_place.inside)
        for row in rows.order_by("-pk")[:MOST_ROWS]
        if row.from_place.inside != row.to_place.inside
    ]
