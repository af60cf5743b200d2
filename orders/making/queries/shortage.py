"""What glass is short across every confirmed order, colour by colour and form by form."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal

from django.db.models import Count, F, Min, Sum

from orders.models import GlassNeed, Order
from stock.models import Balance, GlassColour, GlassForm, LocationKind
from stock.queries import bottles_for
from stock.services.sacks import general_prices


@dataclass(frozen=True)
class FormNeed:
    """Glass of one colour in one form, milligrams: wanted by open orders, and on the shelf."""

    form: str
    needed_mg: int
    ready_mg: int
    raw_for_it_mg: int
    """Raw glass that must be prepared for what is lacking."""

    @property
    def lacking_mg(self) -> int:
        return max(0, self.needed_mg - self.ready_mg)

    @property
    def form_word(self) -> str:
        return str(GlassForm(self.form).label)


@dataclass(frozen=True)
class ColourShortage:
    """One colour over all open orders; `short_mg` is raw glass that is not in the yard."""

    colour: GlassColour
    forms: tuple[FormNeed, ...]
    raw_mg: int
    orders: int
    first_due: date | None
    price_per_kg: Decimal

    @property
    def raw_needed_mg(self) -> int:
        return sum(form.raw_for_it_mg for form in self.forms)

    @property
    def short_mg(self) -> int:
        return max(0, self.raw_needed_mg - self.raw_mg)

    @property
    def bottles(self) -> int:
        return bottles_for(self.colour, self.short_mg)

    @property
    def to_mark_mg(self) -> int:
        """What more would bring the yard back to its mark once the orders are served."""
        left = max(0, self.raw_mg - self.raw_needed_mg)
        return max(0, self.colour.reorder_g * 1000 - left)

    @property
    def collect_mg(self) -> int:
        return self.short_mg + self.to_mark_mg

    @property
    def collect_bottles(self) -> int:
        return bottles_for(self.colour, self.collect_mg)

    @property
    def price_offered(self) -> Decimal:
        """What collectors are paid for all of it."""
        return self.price_per_kg * self.collect_mg / 1_000_000


def glass_short_by_colour(today: date) -> list[ColourShortage]:
    """Every colour in use or wanted, the shortest first (6 queries, whatever the orders).

    Glass that is held for an order counts as ready, for the order's own need stands against it.
    Lacking glass ÷ the colour's yield for the form is the raw glass it takes.
    """
    needs = _needs()
    there = _on_hand()
    about = _orders_by_colour()
    prices = general_prices(today)
    rows = []
    for colour in GlassColour.objects.all():
        wanted = needs.get(colour.pk, {})
        if not colour.in_use and not wanted:
            continue
        forms = tuple(
            _form(colour, form, mg, there.get((colour.pk, form), 0))
            for form, mg in sorted(wanted.items())
        )
        orders, first_due = about.get(colour.pk, (0, None))
        raw = there.get((colour.pk, GlassForm.RAW), 0)
        rows.append(ColourShortage(colour, forms, raw, orders, first_due, prices[colour.pk]))
    return sorted(rows, key=lambda row: (-row.short_mg, -row.raw_needed_mg, row.colour.name))


def _form(colour: GlassColour, form: str, needed: int, ready: int) -> FormNeed:
    lacking = max(0, needed - ready)
    if form in (GlassForm.REJECTS, GlassForm.RAW):
        return FormNeed(form, needed, ready, lacking)
    raw = Decimal(lacking) / colour.yield_for(form)
    return FormNeed(form, needed, ready, int(raw.to_integral_value(ROUND_CEILING)))


def _open_needs():
    return GlassNeed.objects.filter(
        order__state=Order.State.CONFIRMED, needed_mg__gt=F("used_mg")
    ).order_by()


def _needs() -> dict[int, dict[str, int]]:
    found: dict[int, dict[str, int]] = defaultdict(dict)
    rows = _open_needs().values_list("colour_id", "form")
    for colour, form, mg in rows.annotate(mg=Sum(F("needed_mg") - F("used_mg"))):
        found[colour][form] = int(mg)
    return found


def _orders_by_colour() -> dict[int, tuple[int, date | None]]:
    rows = _open_needs().values_list("colour_id")
    return {
        colour: (orders, due)
        for colour, orders, due in rows.annotate(
            orders=Count("order", distinct=True), due=Min("order__due_on")
        )
    }


def _on_hand() -> dict[tuple[int, str], int]:
    rows = (
        Balance.objects.at(LocationKind.YARD, LocationKind.GLASS_SHELF)
        .of_glass()
        .filter(quantity__gt=0, item__colour__isnull=False)
        .order_by()
        .values_list("item__colour_id", "item__form")
        .annotate(mg=Sum("quantity"))
    )
    return {(colour, form): int(mg) for colour, form, mg in rows}
