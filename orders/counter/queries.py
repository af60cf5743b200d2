"""What the counter meets: customers, what they owe and took last, and what lies ready to sell."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.facts.order import facts_for
from orders.floor.glass_shelf import shares_by_bead
from orders.models import (
    NEVER_COUNTED,
    Consignment,
    Customer,
    CustomerGroup,
    DesignPart,
    Document,
    Order,
    StallDay,
    StrandDesign,
    WantedLine,
    WorkOrder,
    sees_tax,
)
from stock.agreement import clashes
from stock.models import Balance, ItemKind, LocationKind
from workshop.models import Business
from workshop.search import holding


def find_customers(words: str, most: int = 8) -> list[Customer]:
    """Customers in whose name, telephone or e-mail every word stands; the latest buyers first."""
    found = Customer.objects.filter(in_use=True, nameless=False)
    return list(holding(found, words).order_by(F("last_on").desc(nulls_last=True), "name")[:most])


@dataclass(frozen=True)
class Standing:
    """A customer at the counter."""

    customer: Customer
    owes: Decimal
    last_order: Order | None
    open_orders: int
    late: bool = False  # something of it should have been paid before today

    @property
    def over_limit(self) -> bool:
        limit = self.customer.credit_limit
        return limit is not None and self.owes > limit

    @property
    def last_on(self) -> date | None:
        return self.last_order.taken_on if self.last_order else None


def standing_of(customer: Customer) -> Standing:
    """What the counter should know of a customer before taking an order (4 queries)."""
    customer = Customer.objects.get(pk=customer.pk)  # with what is kept of them now
    orders = Order.objects.filter(customer=customer)
    last = orders.exclude(state__in=NEVER_COUNTED).order_by("-taken_on", "-number").first()
    late = Document.objects.open().filter(customer=customer, due_on__lt=timezone.localdate())
    return Standing(customer, customer.owes, last, orders.open().count(), late.exists())


def free_loose_beads() -> list[Balance]:
    """Beads on the shelf of kinds that were sold loose before, the oldest batch first (1 query).

    Held ones are among them.
    """
    sold_loose = DesignPart.objects.filter(design__sort=StrandDesign.Sort.LOOSE).values("bead")
    return list(
        Balance.objects.at(LocationKind.BEAD_SHELF)
        .filter(item__batch__bead__in=sold_loose, quantity__gt=0)
        .select_related("item__batch", "place")
        .order_by("item__batch__made_on", "item__batch__number", "place_id")
    )


def beads_to_sell() -> list[str]:
    """Names of the beads in use that lie free on the shelf (1 query)."""
    # From the balances to their beads: asked the other way round, PostgreSQL walks every batch once
    # for each bead until it has gathered statistics.
    free = Balance.objects.at(LocationKind.BEAD_SHELF).free().filter(item__batch__bead__in_use=True)
    names = free.values_list("item__batch__bead__name", flat=True)
    names = names.order_by("item__batch__bead__sorts_as")
    return list(names.distinct())


def loose_kinds(designs: Iterable[StrandDesign]) -> dict[int, int]:
    """The bead of each design of loose beads, by primary keys (1 query where there are any)."""
    loose = [design.pk for design in designs if design.is_loose]
    if not loose:
        return {}
    rows = DesignPart.objects.filter(design__in=loose, bead__isnull=False)
    return dict(rows.values_list("design", "bead"))


def free_strands(
    items: Iterable[int | None] | None = None, *, at: StallDay | Consignment | None = None
) -> list[Balance]:
    """Ready strands on the shelf, out at a stall or with a shop, of some items or of all (1 query).

    Held ones are among them; at a stall or shop nothing is held.
    """
    rows = Balance.objects.at(LocationKind.STRAND_SHELF)
    if at is not None:
        rows = Balance.objects.filter(place=at.place_id)
    rows = rows.filter(item__kind=ItemKind.STRANDS, quantity__gt=0)
    if items is not None:
        rows = rows.filter(item__in=[item for item in items if item])
    return list(rows.select_related("item", "place").order_by("pk"))


@dataclass(frozen=True)
class WithShop:
    """What is lent to a shop, and how many strands of it lie there."""

    goods: Consignment
    there: int


def goods_with(customer: Customer) -> WithShop | None:
    """What a customer has of ours, to sell for us; None where nothing was ever lent (2 queries)."""
    goods = Consignment.objects.filter(shop=customer).first()
    if goods is None:
        return None
    there = Balance.objects.filter(place=goods.place_id).aggregate(n=Sum("quantity"))["n"]
    return WithShop(goods, there or 0)


@dataclass(frozen=True)
class Lying:
    """Strands of one design with a shop: how many, and the price to buyers, as the shop sees it.

    each  none where it has no price and none can be worked out
    """

    design: StrandDesign
    there: int
    each: Decimal | None
    share: Decimal

    @property
    def sum(self) -> Decimal | None:
        return None if self.each is None else self.each * self.there

    @property
    def ours(self) -> Decimal | None:
        """What of all of it is ours once it is sold."""
        return None if self.sum is None else self.sum * (1 - self.share)


def lying_at(goods: Consignment) -> list[Lying]:
    """What lies with a shop now, by design, at the prices in force (a fixed number of queries)."""
    there: dict[int | None, int] = {}
    for row in free_strands(at=goods):
        there[row.item_id] = there.get(row.item_id, 0) + row.quantity
    designs = list(StrandDesign.objects.filter(item__in=list(there)).order_by("sorts_as"))
    business = Business.in_force()
    facts = facts_for(
        [WantedLine(design.pk, there[design.item_id]) for design in designs],
        group=CustomerGroup.WALK_IN,
        business=business,
        with_tax=sees_tax(goods.shop, business),
    )
    try:
        prices = {line.design: line.price_each for line in cost_order(facts).lines}
    except CostingError:
        prices = {}
    return [
        Lying(design, there[design.item_id], prices.get(design.pk), goods.share)
        for design in designs
    ]


def designs_lying(rows: Iterable[Balance]) -> list[StrandDesign]:
    """The designs of strands that lie free in these rows, by name (1 query)."""
    items = [row.item_id for row in rows if row.free_quantity]
    found = StrandDesign.objects.filter(item__in=items).select_related("clasp", "cord")
    return list(found.order_by("sorts_as"))


def free_by_item(rows: Iterable[Balance]) -> dict[int, int]:
    """How many pieces lie free in these rows, by item."""
    found: dict[int, int] = {}
    for row in rows:
        found[row.item_id] = found.get(row.item_id, 0) + row.free_quantity
    return found


UNMOULDED = (WorkOrder.Step.GLASS, WorkOrder.Step.MOULDING)


def clashes_of(order: Order) -> list[str]:
    """Sentences about beads of an order that are not moulded yet (3 queries at most)."""
    if order.is_over:
        return []
    if order.is_open:
        waits = order.jobs.filter(step__in=UNMOULDED)
        beads = set(waits.values_list("bead", flat=True))
    else:
        parts = DesignPart.objects.filter(design__in=order.lines.values("design"))
        beads = set(parts.exclude(bead=None).values_list("bead", flat=True))
    colours = {
        bead: [share.colour for share in shares] for bead, shares in shares_by_bead(beads).items()
    }
    return sorted({advice.said(_) for advice in clashes(colours).values()})
