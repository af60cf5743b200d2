"""What needs doing today, each room's part of it."""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.db.models import Count, F, Min, Q, Sum
from django.db.models.functions import Coalesce, Greatest
from django.utils import timezone

from orders.models import Document, Order, Stage
from orders.money.queries.charging import Rates
from stock.models import (
    Balance,
    Collector,
    GlassColour,
    GlassForm,
    ItemKind,
    KilnLoad,
    LocationKind,
    Sack,
)
from workshop.days import soonest

SOON = timedelta(days=3)
MOST_ROWS = 8


@dataclass(frozen=True)
class Owed:
    """A customer or collector and a sum."""

    who: object
    amount: Decimal
    since: object = None


@dataclass(frozen=True)
class ShortColour:
    """A colour of which less lies in the yard than the owner wants; milligrams."""

    colour: GlassColour
    raw_mg: int
    wanted_mg: int


def orders_due() -> list[Order]:
    """Open orders that are late, or due within three days and not strung yet (1 query)."""
    until = timezone.localdate() + SOON
    return list(
        Order.objects.open()
        .filter(due_on__lte=until, stage__lt=Stage.STRUNG)
        .select_related("customer")
        .order_by(soonest(), "number")[:MOST_ROWS]
    )


def orders_to_collect() -> list[Order]:
    """Orders that lie ready for their customer (1 query)."""
    return list(
        Order.objects.open()
        .filter(stage=Stage.STRUNG)
        .select_related("customer")
        .order_by(soonest(), "number")[:MOST_ROWS]
    )


def orders_unconfirmed() -> list[Order]:
    """Orders written down or quoted and not promised yet (1 query)."""
    return list(
        Order.objects.filter(state__in=[Order.State.DRAFT, Order.State.QUOTED])
        .select_related("customer")
        .order_by("-number")[:MOST_ROWS]
    )


@dataclass(frozen=True)
class Below:
    """An order whose price, without VAT, lies below a floor.

    short     what it lacks to its full cost, or to what it takes out of the drawer if that is more
    loses     less comes in than leaves the drawer for it
    """

    order: Order
    price: Decimal
    short: Decimal
    loses: bool


def orders_below_a_floor() -> list[Below]:
    """Open and unconfirmed orders that sell below a floor, the largest gap first (2 to 4 queries).

    Against the floors as they were reckoned when the order was last written.
    """
    floor = Greatest(F("cost"), Coalesce(F("pocket"), F("cost")))
    rows = (
        Order.objects.filter(state__in=NOT_HANDED_OVER, cost__gt=0)
        .annotate(floor=floor)
        .filter(Q(prices_with_tax=True) | Q(total__lt=F("floor")))
        .select_related("customer", "below_cost_by")
        .prefetch_related("lines")
    )
    found, rates = [], None
    for order in rows:
        price = order.total
        if order.prices_with_tax:
            rates = rates or Rates()
            price = _without_tax(order, rates)
        pocket = order.pocket if order.pocket is not None else Decimal(0)
        short = max(order.cost, pocket) - price
        if round(short, 2) > 0:
            found.append(Below(order, price, short, loses=price < pocket))
    return sorted(found, key=lambda row: -row.short)[:MOST_ROWS]


NOT_HANDED_OVER = (Order.State.DRAFT, Order.State.QUOTED, Order.State.CONFIRMED)


def _without_tax(order: Order, rates: Rates) -> Decimal:
    """The price without the VAT that stands in it, each line by its own rate."""
    day = order.taken_on
    taken_out = Decimal(0)
    for line in order.lines.all():
        rate = rates.of(line, day)
        if rate is not None and rate.rate:
            gross = line.price * line.strands
            taken_out += gross - gross / (1 + rate.rate)
    return order.total - taken_out


def who_owes() -> list[Owed]:
    """Customers with invoices past their day, the largest sum first (1 query)."""
    rows = (
        Document.objects.open()
        .filter(due_on__lt=timezone.localdate())
        .order_by()
        .values("customer", "customer__name")
        .annotate(open=Sum(F("total") - F("settled")), since=Min("due_on"))
        .order_by("-open")[:MOST_ROWS]
    )
    return [
        Owed({"pk": row["customer"], "name": row["customer__name"]}, row["open"], row["since"])
        for row in rows
    ]


def sacks_to_pay() -> list[Owed]:
    """Collectors whose sacks are not paid yet, the largest sum first (2 queries)."""
    rows = list(
        Sack.objects.filter(paid_on__isnull=True, amount__gt=0)
        .order_by()
        .values("collector")
        .annotate(owed=Sum("amount"), since=Min("received_on"), sacks=Count("pk"))
        .order_by("-owed")[:MOST_ROWS]
    )
    collectors = Collector.objects.in_bulk([row["collector"] for row in rows])
    return [Owed(collectors[row["collector"]], row["owed"], row["since"]) for row in rows]


def short_colours() -> list[ShortColour]:
    """Colours to be collected: less raw glass than the owner's mark (2 queries)."""
    raw = {
        row["item__colour"]: row["mg"]
        for row in Balance.objects.at(LocationKind.YARD)
        .filter(item__kind=ItemKind.GLASS, item__form=GlassForm.RAW)
        .order_by()
        .values("item__colour")
        .annotate(mg=Sum(F("quantity") - F("reserved")))
    }
    found = [
        ShortColour(colour, raw.get(colour.pk, 0), colour.reorder_g * 1000)
        for colour in GlassColour.objects.filter(in_use=True, reorder_g__gt=0)
    ]
    return sorted(
        (row for row in found if row.raw_mg < row.wanted_mg),
        key=lambda row: row.raw_mg / row.wanted_mg,
    )


def loads_today() -> list[KilnLoad]:
    """Loads planned for today and tomorrow, and those of earlier days not lit yet (1 query)."""
    start = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    return list(
        KilnLoad.objects.filter(
            state=KilnLoad.State.PLANNED, starts_at__lt=start + timedelta(days=2)
        )
        .select_related("kiln")
        .order_by("starts_at")
    )
