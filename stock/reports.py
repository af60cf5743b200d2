"""Readings of the book: what stock is worth, what to count next, when to collect more."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from math import sqrt

from django.db.models import Sum

from stock.measures import SMALLEST_IN, say_in, unit_of_use
from stock.models import (
    INSIDE,
    Balance,
    GlassColour,
    GlassForm,
    Item,
    ItemKind,
    LocationKind,
    Movement,
    StockCount,
    StockLocation,
)
from stock.trail import standing

PRICED_BY = {ItemKind.GLASS: 1_000_000, ItemKind.BEADS: 100, ItemKind.STRANDS: 1}
# Supplies are priced in their own unit: a clasp, a metre of cord, a kilogram of paint.


@dataclass(frozen=True)
class Worth:
    """What some stock is worth: total value kept, the unit cost derived (IAS 2)."""

    group: str
    name: str
    item_kind: str
    quantity: int
    glass_mg: int
    value: Decimal
    use: str = ""

    @property
    def said(self) -> str:
        """How much of a supply there is, in words."""
        return say_in(unit_of_use(self.use), self.quantity)

    @property
    def each(self) -> Decimal:
        """Per kilogram of glass, per hundred beads, per strand, or per unit of a supply."""
        if not self.quantity:
            return Decimal(0)
        by = SMALLEST_IN[unit_of_use(self.use)] if self.use else PRICED_BY[self.item_kind]
        return self.value * by / self.quantity


def stock_value() -> list[Worth]:
    """Everything within the walls with its value, glass by colour and form, beads by kind (1)."""
    rows = (
        Balance.objects.inside()
        .filter(quantity__gt=0)
        .values_list(
            "item__kind", "item__form", "item__name", "item__batch__bead__name", "item__use"
        )
        .annotate(quantity=Sum("quantity"), glass_mg=Sum("glass_mg"), value=Sum("value"))
        .order_by("item__kind", "item__form", "item__name")
    )
    sums: dict[tuple[str, str, str], list] = {}
    for kind, form, item, bead, use, quantity, glass_mg, value in rows:
        key = (kind, bead or item, use)
        found = sums.setdefault(key, [form, 0, 0, Decimal(0)])
        found[1] += quantity
        found[2] += glass_mg
        found[3] += value
    return [
        Worth(form or kind, name, kind, quantity, glass_mg, value, use)
        for (kind, name, use), (form, quantity, glass_mg, value) in sums.items()
    ]


# What makes up the first 80 % of the usage value is counted four times a year, the next 15 % twice.
OFTEN_UP_TO, TWICE_UP_TO = Decimal("0.80"), Decimal("0.95")
OFTEN, TWICE, ONCE = 4, 2, 1
LONG_AGO = timedelta(days=730)
# Source of both: inventory practice as published by inventoryturns.com and CIPS (2020).


@dataclass(frozen=True)
class ToCount:
    """One item on the cycle-count list."""

    item: Item
    place_id: int
    place: str
    quantity: int
    usage: Decimal
    counts_a_year: int
    last_on: date | None
    due_on: date

    def is_due(self, today: date) -> bool:
        return self.due_on <= today


def counts_a_year(usage: dict[int, Decimal]) -> dict[int, int]:
    """How often each thing is counted in a year, by cumulative usage value, the largest first.

    >>> counts_a_year({1: Decimal(70), 2: Decimal(20), 3: Decimal(7), 4: Decimal(3)})
    {1: 4, 2: 4, 3: 2, 4: 1}
    """
    whole = sum(usage.values(), Decimal(0))
    often, reached = {}, Decimal(0)
    for key, value in sorted(usage.items(), key=lambda pair: (-pair[1], pair[0])):
        share = reached / whole if whole else Decimal(1)
        often[key] = OFTEN if share < OFTEN_UP_TO else TWICE if share < TWICE_UP_TO else ONCE
        reached += value
    return often


def cycle_counts(today: date) -> list[ToCount]:
    """What to count, the longest overdue first (5 queries).

    What was counted longer ago than twice the longest wait is told as never counted.

    Usage value is what left the shelves into work or to customers in the last year; where nothing
    was paid for, its glass in kilograms stands in for the money.
    """
    shelves = list(
        Balance.objects.inside()
        .filter(quantity__gt=0)
        .select_related("item__batch__bead", "item__colour", "place")
        .order_by()  # by its index of what lies there; the list is sorted below
    )
    shelves.sort(key=lambda row: (row.item_id, row.place_id))
    used_up = StockLocation.keys_of(LocationKind.IN_WORK, LocationKind.SOLD, LocationKind.USED)
    left = (
        Movement.objects.since(today - timedelta(days=364))
        .filter(leaves__in=StockLocation.keys_of(*INSIDE), reaches__in=used_up)
        .order_by()
        .values_list("thing")
        .annotate(value=Sum("value"), mg=Sum("glass_mg"))
    )
    used = {key: value or Decimal(mg) / 1_000_000 for key, value, mg in left}
    often = counts_a_year({row.item_id: used.get(row.item_id, Decimal(0)) for row in shelves})
    counted = {
        (item, place): on
        for item, place, on in StockCount.objects.filter(on__gt=today - LONG_AGO)
        .order_by("on")
        .values_list("item_id", "place_id", "on")
    }
    found = []
    for row in shelves:
        times = often[row.item_id]
        last = counted.get((row.item_id, row.place_id))
        every = timedelta(days=365 // times)
        due = last + every if last else today
        usage = used.get(row.item_id, Decimal(0))
        found.append(
            ToCount(row.item, row.place_id, row.place.name, row.quantity, usage, times, last, due)
        )
    return sorted(found, key=lambda each: (each.due_on, -each.counts_a_year, -each.usage))


@dataclass(frozen=True)
class ReorderPoint:
    """When to collect more of a colour: what is used while waiting, and some to be safe."""

    colour: GlassColour
    daily_g: float
    spread_g: float
    days: int

    @property
    def suggested_g(self) -> int:
        """Mean usage over the wait + 1.645 × its spread: enough 95 times in 100."""
        wait = self.colour.lead_days
        return round(self.daily_g * wait + SAFETY * self.spread_g * sqrt(wait))


DAYS_USED = 90
SAFETY = 1.645  # one-sided 95 % quantile of the normal distribution


def reorder_points(colours: Iterable[GlassColour], today: date):
    """Raw glass used each day of the last `DAYS_USED`, by colour (3 queries).

    Source: reorder point = demand over the lead time + z · σ · √(lead time), the textbook rule for
    independent days.
    """
    since = today - timedelta(days=DAYS_USED)
    raw = Item.objects.filter(kind=ItemKind.GLASS, form=GlassForm.RAW, colour__isnull=False)
    colour_of = dict(raw.values_list("pk", "colour_id"))
    rows = (
        standing(Movement.objects.since(since + timedelta(days=1)))
        .filter(reaches__in=StockLocation.keys_of(LocationKind.IN_WORK), thing__in=list(colour_of))
        .order_by()
        .values_list("thing", "posting__on")
        .annotate(mg=Sum("quantity"))
    )
    used_g: dict[tuple[int, date], float] = defaultdict(float)
    for item, on, mg in rows:
        used_g[colour_of[item], on] += mg / 1000
    by_day: dict[int, list[float]] = defaultdict(list)
    for (colour_id, _on), grams in used_g.items():
        by_day[colour_id].append(grams)
    points = []
    for colour in colours:
        used = by_day.get(colour.pk, [])
        mean = sum(used) / DAYS_USED
        squares = sum((g - mean) ** 2 for g in used) + (DAYS_USED - len(used)) * mean**2
        points.append(ReorderPoint(colour, mean, sqrt(squares / (DAYS_USED - 1)), DAYS_USED))
    return points
