"""What pays: what the goods that left brought, beside their full cost, and what lies too long.

What a strand cost is what it stood at in the book when it left, and the order's own steps, with
office and selling on top: the full cost that floors are made of, as it came to be. Prices are
without VAT. A fixed number of queries, whatever the days.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import IntegerField, Q, Sum
from django.db.models.functions import Cast

from orders.models import Customer, OrderLine, StrandDesign
from stock.models import (
    INSIDE,
    Balance,
    ItemKind,
    LocationKind,
    Movement,
    Posting,
    StockLocation,
)
from stock.services.standards import Standards, StandardsOfDays
from workshop.costs.amounts import ONE, ZERO
from workshop.models import Business, LabourRate, TaxRate

OF_ORDERS = ("order", "sale")


@dataclass(frozen=True)
class Sold:
    """Strands of one line that left on one day; those that came back count below nothing."""

    design: StrandDesign
    customer: Customer
    on: date
    strands: int
    brought: Decimal
    cost: Decimal


@dataclass(frozen=True)
class Paying:
    """What one design, customer or month brought beside its full cost."""

    key: object
    name: str
    strands: int
    brought: Decimal
    cost: Decimal

    @property
    def left(self) -> Decimal:
        return self.brought - self.cost

    @property
    def margin(self) -> Decimal | None:
        """Share of the price above full cost; None where nothing was charged."""
        return self.left / self.brought if self.brought > 0 else None


@dataclass(frozen=True)
class Seller:
    """A design by how many strands of it left in the days, and how many lie ready."""

    design: StrandDesign
    strands: int
    ready: int


@dataclass(frozen=True)
class Lying:
    """Goods of one kind that have lain longer than so many days: how many pieces or milligrams."""

    name: str
    kind: str
    quantity: int
    value: Decimal


@dataclass(frozen=True)
class WhatPays:
    """All of it for some days."""

    by_design: list[Paying]
    by_customer: list[Paying]
    by_month: list[Paying]
    whole: Paying
    sellers: list[Seller]
    lying: list[Lying]


def what_pays(first_day: date, last_day: date, *, longer: int, today: date) -> WhatPays:
    """What paid from the first day to the last, and what lies longer (13 queries)."""
    sold = list(_sold(first_day, last_day))
    return WhatPays(
        by_design=_summed(sold, lambda one: (one.design.pk, one.design.name)),
        by_customer=_summed(sold, lambda one: (one.customer.pk, str(one.customer))),
        by_month=sorted(
            _summed(sold, lambda one: (one.on.replace(day=1), "")), key=lambda row: str(row.key)
        ),
        whole=next(iter(_summed(sold, lambda _one: ("", ""))), Paying("", "", 0, ZERO, ZERO)),
        sellers=_sellers(sold),
        lying=_lying(today - timedelta(days=longer)),
    )


def _summed(sold: Iterable[Sold], of: Callable[[Sold], tuple[object, str]]) -> list[Paying]:
    """Sums by what is asked for; what left most over comes first."""
    sums: dict[tuple[object, str], list[Decimal]] = defaultdict(lambda: [ZERO, ZERO, ZERO])
    for one in sold:
        row = sums[of(one)]
        row[0] += one.strands
        row[1] += one.brought
        row[2] += one.cost
    found = [
        Paying(key, name, int(strands), brought, cost)
        for (key, name), (strands, brought, cost) in sums.items()
    ]
    return sorted(found, key=lambda row: (-row.left, row.name))


# --- what left ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Left:
    """Strands of one item that left for one order on one day, and what they stood at."""

    order: int
    item: int
    on: date
    strands: int
    value: Decimal


def _sold(first_day: date, last_day: date) -> Iterable[Sold]:
    """Every line that left in the days (8 queries)."""
    business = Business.in_force()
    left = _left(first_day, last_day)
    rates = _rates_of_tax()
    lines = {(line.order.number, line.design.item_id): line for line in _lines(first_day, last_day)}
    steps = _order_steps(left)
    for row in left:
        line = lines.get((row.order, row.item))
        if line is None:
            continue  # handed over for an order that no longer names it
        cost = (row.value + steps.get((row.order, row.item, row.on), ZERO)) * (
            ONE + business.overhead
        )
        brought = net_price(line, _rate_on(rates, row.on)) * row.strands
        yield Sold(line.design, line.order.customer, row.on, row.strands, brought, cost)


def _left(first_day: date, last_day: date) -> list[_Left]:
    """What was handed over, less what came back, by order, item and day (1 query)."""
    rows = (
        Movement.objects.filter(
            Q(to_place__kind=LocationKind.SOLD) | Q(from_place__kind=LocationKind.SOLD),
            item__kind=ItemKind.STRANDS,
            posting__on__range=(first_day, last_day),
            posting__belongs_kind__in=OF_ORDERS,
        )
        .order_by()
        .values_list("posting__belongs_ref", "item", "posting__on", "to_place__kind")
        .annotate(Sum("quantity"), Sum("value"))
    )
    sums: dict[tuple[int, int, date], list[Decimal]] = defaultdict(lambda: [ZERO, ZERO])
    for ref, item, on, to_kind, quantity, value in rows:
        sign = 1 if to_kind == LocationKind.SOLD else -1
        row = sums[int(ref), item, on]
        row[0] += sign * quantity
        row[1] += sign * value
    return [
        _Left(order, item, on, int(strands), value)
        for (order, item, on), (strands, value) in sums.items()
    ]


def _lines(first_day: date, last_day: date) -> Iterable[OrderLine]:
    """The lines of the orders that anything was handed over for in the days (1 query)."""
    numbers = (
        Posting.objects.filter(on__range=(first_day, last_day), belongs_kind__in=OF_ORDERS)
        .order_by()
        .values_list(Cast("belongs_ref", IntegerField()))
    )
    return OrderLine.objects.filter(order__number__in=numbers).select_related(
        "order__customer", "design"
    )


def net_price(line: OrderLine, tax: Decimal) -> Decimal:
    """The price of one strand without VAT.

    tax  the share of VAT in prices that are told with it
    """
    return line.price / (ONE + tax) if line.order.prices_with_tax else line.price


def _rates_of_tax() -> list[tuple[date, Decimal]]:
    """The standard rate of VAT as a share, by the day it holds from, newest first (1 query)."""
    rows = TaxRate.objects.filter(standard=True).order_by("-valid_from", "-pk")
    return [(day, rate / 100) for day, rate in rows.values_list("valid_from", "rate")]


def _rate_on(rates: Sequence[tuple[date, Decimal]], on: date) -> Decimal:
    """The rate of the day of supply."""
    return next((rate for day, rate in rates if day <= on), ZERO)


def _order_steps(left: Sequence[_Left]) -> dict[tuple[int, int, date], Decimal]:
    """Steps once an order, such as packing, shared by what its lines stood at (5 queries)."""
    standards = StandardsOfDays()
    known: dict[date, Decimal] = {}
    whole: dict[tuple[int, date], list[_Left]] = defaultdict(list)
    for row in left:
        if row.strands > 0:
            whole[row.order, row.on].append(row)
    found = {}
    for (order, on), rows in whole.items():
        if on not in known:
            known[on] = _steps_of(standards.on(on))
        value = sum((row.value for row in rows), ZERO)
        for row in rows:
            part = row.value / value if value else ONE / len(rows)
            found[order, row.item, on] = known[on] * part
    return found


def _steps_of(day: Standards) -> Decimal:
    """What the steps once an order cost at the standards of a day."""
    cost = ZERO
    for rate in day.rates.rates:
        if rate.basis == LabourRate.Basis.ORDER:
            pay = day.minute_pay(rate)
            cost += rate.setup_min * pay
            cost += day.minutes_each(rate) * pay if rate.piece is None else day.piece_each(rate)
    return cost


# --- sellers -----------------------------------------------------------------------------------


def _sellers(sold: Iterable[Sold]) -> list[Seller]:
    """Every design in use by how many of it left, most first, with what lies ready (2 queries)."""
    strands: dict[int, int] = defaultdict(int)
    for one in sold:
        strands[one.design.pk] += one.strands
    rows = Balance.objects.filter(
        place__kind__in=[LocationKind.STRAND_SHELF, LocationKind.STALL, LocationKind.SHOP],
        item__kind=ItemKind.STRANDS,
        quantity__gt=0,
    )
    ready = dict(rows.order_by().values_list("item").annotate(Sum("quantity")))
    designs = StrandDesign.objects.filter(
        Q(in_use=True, sort=StrandDesign.Sort.DESIGN) | Q(pk__in=list(strands))
    )
    found = [Seller(design, strands[design.pk], ready.get(design.item_id, 0)) for design in designs]
    return sorted(found, key=lambda each: (-each.strands, each.ready, each.design.name))


# --- what lies too long ------------------------------------------------------------------------


def _lying(since: date) -> list[Lying]:
    """Goods that lay here before a day and lie here still, dearest first (3 queries).

    Beads are as old as their batch. Of strands and glass the oldest leaves first, so what lies
    longer is what lies there less all that has come since.
    """
    wanted = Q(item__kind=ItemKind.BEADS, item__batch__made_on__lt=since) | Q(
        item__kind__in=[ItemKind.STRANDS, ItemKind.GLASS]
    )
    heaps: dict[int, list[Balance]] = defaultdict(list)
    rows = Balance.objects.inside().filter(wanted, quantity__gt=0).order_by()
    for row in rows.select_related("item__batch__bead", "item__colour", "place"):
        heaps[row.item_id].append(row)
    inside = StockLocation.keys_of(*INSIDE)
    came = dict(
        Movement.objects.since(since)
        .filter(reaches__in=inside)
        .exclude(leaves__in=inside)
        .order_by()
        .values_list("thing")
        .annotate(Sum("quantity"))
    )
    found = []
    for item, parts in heaps.items():
        quantity = sum(part.quantity for part in parts)
        value = sum((part.value for part in parts), ZERO)
        kind = parts[0].item.kind
        since_then = 0 if kind == ItemKind.BEADS else came.get(item, 0)
        old = max(0, quantity - since_then)
        if old:
            found.append(Lying(str(parts[0].item), kind, old, value * old / quantity))
    return sorted(found, key=lambda each: (-each.value, each.name))


__all__ = ["Lying", "Paying", "Seller", "Sold", "WhatPays", "net_price", "what_pays"]
