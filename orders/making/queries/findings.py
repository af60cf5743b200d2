"""What open orders take of the findings in stock, and what of it they hold."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Min, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.drawn.strands import Draughtsman
from orders.models import (
    ON_STRANDS,
    Finding,
    FindingNeed,
    Order,
    OrderLine,
    Purchase,
    StockReservation,
)
from stock.models import Balance, LocationKind
from workshop import formats
from workshop.money import ZERO

Wants = dict[int, dict[int, int]]
"""By order: so much of each finding in its smallest unit, by key."""


def findings_wanted(orders: Iterable[Order]) -> Wants:
    """What the strands still to string of some orders take of the findings in stock (4 queries)."""
    kept = set(_kept_on_strands().values_list("pk", flat=True))
    found: Wants = {}
    lines = list(OrderLine.objects.filter(order__in=orders).with_designs()) if kept else []
    draughtsman = Draughtsman(list({line.design_id: line.design for line in lines}.values()))
    for line in lines:
        left = line.strands - line.strung
        if not left:
            continue
        own = found.setdefault(line.order_id, {})
        for key, each in draughtsman.findings(line.design_id).items():
            if key in kept:
                own[key] = own.get(key, 0) + each * left
    return found


def _kept_on_strands():
    return Finding.objects.filter(kept=True, kind__in=ON_STRANDS)


@dataclass(frozen=True)
class Lacking:
    """What an open order takes of a finding and does not hold yet."""

    order: Order
    finding: Finding
    needed: int
    held: int

    @property
    def short(self) -> int:
        return self.needed - self.held

    @property
    def said(self) -> str:
        """How much is missing."""
        return _("%(n)s missing") % {"n": self.finding.said(self.short)}

    @property
    def until(self) -> str:
        """How long it takes to come, as far as anybody knows."""
        days = self.finding.delivery_days
        if days is None:
            return _("ask when it comes")
        return _("comes in %(days)s once ordered") % {"days": formats.days(days)}


def findings_lacking(*orders: Order) -> list[Lacking]:
    """What open orders, or these, lack of the findings in stock; the first due in front (3)."""
    needs = FindingNeed.objects.all()
    holds = StockReservation.objects.filter(balance__item__finding__isnull=False)
    if orders:
        needs, holds = needs.filter(order__in=orders), holds.filter(order__in=orders)
    held = {
        (order, item): n
        for order, item, n in holds.order_by()
        .values_list("order", "balance__item")
        .annotate(Sum("quantity"))
    }
    wanted = needs.values_list("pk", "order", "finding__item", "quantity")
    # Mostly everything is held, and what is held is not read whole.
    short = {
        pk: held.get((order, item), 0)
        for pk, order, item, n in wanted
        if n > held.get((order, item), 0)
    }
    rows = FindingNeed.objects.select_related("order", "finding").filter(pk__in=short)
    return sorted(
        (Lacking(need.order, need.finding, need.quantity, short[need.pk]) for need in rows),
        key=lambda row: (row.order.due_on or date.max, row.order.number, row.finding.pk),
    )


@dataclass(frozen=True)
class FindingStock:
    """A finding as it stands: in its smallest unit, and what it is worth.

    there   on the shelf, `held` of it for orders
    needed  what open orders take of it, held or not
    coming  ordered and not here yet, the first of it expected on `comes_on`
    due_on  when the first order that lacks some is due
    """

    finding: Finding
    there: int = 0
    held: int = 0
    value: object = ZERO
    needed: int = 0
    coming: int = 0
    comes_on: date | None = None
    due_on: date | None = None

    @property
    def free(self) -> int:
        return self.there - self.held

    @property
    def short(self) -> int:
        """What orders lack of it, whether some is on its way or not."""
        return max(0, self.needed - self.there)

    @property
    def left(self) -> int:
        """What will be left once the open orders are served and what is on its way is here."""
        return self.there + self.coming - self.needed

    @property
    def to_buy(self) -> int:
        """What serves the orders and brings the shelf back to where more is bought."""
        if not self.finding.kept:
            return 0
        return max(0, self.finding.reorder_at - self.left)

    @property
    def order_by(self) -> date | None:
        """The last day to order it, so that it comes before the first order it goes to is due."""
        if self.due_on is None or self.needed <= self.there + self.coming:
            return None
        return self.due_on - timedelta(days=1 + (self.finding.delivery_days or 0))

    @property
    def is_late(self) -> bool:
        return self.order_by is not None and self.order_by < timezone.localdate()

    def said(self, quantity: int) -> str:
        return self.finding.said(quantity)


def findings_in_stock() -> list[FindingStock]:
    """Every finding with what there is of it, is wanted and is on its way (6 queries)."""
    there = {
        item: (quantity, held, value)
        for item, quantity, held, value in Balance.objects.at(LocationKind.SUPPLIES)
        .order_by()
        .values_list("item")
        .annotate(Sum("quantity"), Sum("reserved"), Sum("value"))
    }
    needs = dict(FindingNeed.objects.order_by().values_list("finding").annotate(Sum("quantity")))
    due: dict[int, date | None] = {}
    for lacking in findings_lacking():  # the first due in front
        due.setdefault(lacking.finding.pk, lacking.order.due_on)
    coming = {
        finding: rest
        for finding, *rest in Purchase.objects.filter(arrived_on__isnull=True, called_off=False)
        .order_by()
        .values_list("finding")
        .annotate(Sum("quantity"), Min("expected_on"))
    }
    found = []
    for row in Finding.objects.all():
        quantity, held, value = there.get(row.item_id, (0, 0, ZERO))
        bought, comes_on = coming.get(row.pk, (0, None))
        found.append(
            FindingStock(
                row, quantity, held, value, needs.get(row.pk, 0), bought, comes_on, due.get(row.pk)
            )
        )
    return found


def purchases_due() -> list[Purchase]:
    """What was ordered and should have come by today, the longest awaited first (1 query)."""
    due = Purchase.objects.on_their_way().filter(expected_on__lte=timezone.localdate())
    return list(due.order_by("expected_on", "pk"))


def findings_to_buy() -> list[FindingStock]:
    """What is short or below its mark, by the day it must be ordered (6 queries)."""
    rows = [row for row in findings_in_stock() if row.to_buy]
    return sorted(rows, key=lambda row: (row.order_by or date.max, row.finding.name))
