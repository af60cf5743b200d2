"""What an order is charged: its strands, the rate of VAT of each, and what they add up to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.models import Document, DocumentLine, Order, OrderLine
from orders.money.totals import (
    DocumentAdjustment,
    InvoiceLine,
    InvoiceTotals,
    invoice_totals,
)
from workshop.models import Business, TaxRate
from workshop.money import ZERO

OUTSIDE = "O"  # not registered: nothing here is within the scope of VAT

# An invoice, said the other way round, or SQLite begins with every one there ever was.
NO_INVOICE = [kind for kind, _name in Document.KINDS if kind != Document.Kind.INVOICE]


class Rates:
    """The workshop's rates of VAT, and which of them holds on a day (1 query)."""

    def __init__(self) -> None:
        self.rows = list(TaxRate.objects.order_by("valid_from", "pk"))

    def on(self, day: date) -> dict[str, TaxRate]:
        """Of each named rate the one that holds, the standard one first."""
        held = {rate.name: rate for rate in self.rows if rate.valid_from <= day}
        ordered = sorted(held.values(), key=lambda rate: (not rate.standard, rate.name))
        return {rate.name: rate for rate in ordered}

    def standard(self, day: date) -> TaxRate | None:
        """The rate used unless another is chosen."""
        held = [rate for rate in self.rows if rate.standard and rate.valid_from <= day]
        return held[-1] if held else None

    def of(self, line: OrderLine, day: date) -> TaxRate | None:
        """The rate once chosen for a line, as it stands on a day; else the standard one."""
        return self.on(day).get(line.tax_name) or self.standard(day)


@dataclass(frozen=True)
class ToCharge:
    """So many strands of an order line, and the VAT rate that holds for them."""

    line: OrderLine
    quantity: int
    rate: TaxRate | None


def standard_rate(business: Business, on: date) -> TaxRate | None:
    """The rate used unless another is chosen; none when the business is not registered."""
    if not business.tax_registered:
        return None
    rate = TaxRate.standard_on(on)
    if rate is None:
        raise ValidationError(
            _(
                "The business is registered for VAT, but no standard rate holds on this day. "
                "Write the rate under Workshop, then issue the paper."
            )
        )
    return rate


def supply_day(order: Order, on: date | None = None) -> date:
    """The day whose rate of VAT holds unless another is typed: when the goods were handed over.

    Source: Directive 2006/112/EC, articles 63 and 93.
    """
    return order.collected_on or on or timezone.localdate()


def rates_on(on: date) -> list[TaxRate]:
    """Of each named rate the one that holds on a day, the standard one first."""
    return list(Rates().on(on).values())


def rated(
    lines: Sequence[tuple[OrderLine, int]],
    business: Business,
    *,
    on: date,
    rate: TaxRate | None = None,
    rates: Mapping[int, TaxRate] | None = None,
) -> tuple[list[ToCharge], TaxRate | None]:
    """Lines with their rates, and the rate of whatever is none of them.

    `rate` holds for all, `rates` by line; without either, what was chosen for a line before, else
    the standard rate of the day.
    """
    if not business.tax_registered:
        return [ToCharge(line, n, None) for line, n in lines], None
    standard = standard_rate(business, on)
    ordinary, chosen, known = rate or standard, rates or {}, Rates()
    return [
        ToCharge(line, n, chosen.get(line.pk) or rate or known.of(line, on)) for line, n in lines
    ], ordinary


def remember_rates(to_charge: Sequence[ToCharge]) -> None:
    """Keep which rate was chosen for a line, so that the next paper of the order offers it."""
    for each in to_charge:
        name = each.rate.name if each.rate and not each.rate.standard else ""
        if name != each.line.tax_name:
            OrderLine.objects.filter(pk=each.line.pk).update(tax_name=name)


def taxed(rate: TaxRate | None) -> dict[str, Any]:
    """Category, rate and reason as the rules of EN 16931 group them."""
    if rate is None:
        return {"category": OUTSIDE, "rate": ZERO, "reason": ""}
    # A rate read as 6.00 and one read as 6 are one group.
    return {
        "category": rate.category,
        "rate": Decimal(rate.rate).normalize() + ZERO,
        "reason": rate.reason,
    }


def sums_of(
    to_charge: Sequence[ToCharge],
    business: Business,
    *,
    with_tax: bool,
    ordinary: TaxRate | None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
) -> InvoiceTotals:
    """The sums of a paper; discount and carriage are taxed at the ordinary rate.

    with_tax  whether prices, discount and carriage are told with VAT
    """
    if discount < 0 or carriage < 0:
        raise ValidationError(_("Write discount and carriage as amounts of at least 0."))
    kind = taxed(ordinary)
    adjustments = []
    if discount:
        adjustments.append(DocumentAdjustment(discount, charge=False, **kind))
    if carriage:
        adjustments.append(DocumentAdjustment(carriage, charge=True, **kind))
    try:
        totals = invoice_totals(
            business.currency,
            [
                InvoiceLine(Decimal(each.quantity), each.line.price, **taxed(each.rate))
                for each in to_charge
            ],
            adjustments,
            prices_include_tax=business.tax_registered and with_tax,
        )
    except CostingError as error:
        raise ValidationError(_(error.template) % error.params) from error
    if totals.due < 0 or any(share.base < 0 for share in totals.breakdown):
        raise ValidationError(
            {
                "discount": _(
                    "The discount is more than the goods it is taken from. Write a smaller one."
                )
            }
        )
    return totals


def strands_to_charge(order: Order) -> list[tuple[OrderLine, int]]:
    """Lines with the strands not on an invoice yet (2 queries)."""
    lines = OrderLine.objects.filter(order=order).with_designs()
    return left_to_charge(list(lines))


def left_to_charge(lines: Sequence[OrderLine]) -> list[tuple[OrderLine, int]]:
    """Of some order lines, those with strands that are on no invoice, and how many (1 query).

    Credited ones are to be charged again, unless they came back.
    """
    charged = _charged(lines)
    left = [
        (line, line.strands - line.came_back - charged.get(line.pk, (0, 0))[0]) for line in lines
    ]
    return [(line, quantity) for line, quantity in left if quantity > 0]


def charged_strands(lines: Sequence[OrderLine]) -> dict[int, int]:
    """Strands of each line that stand on an invoice and were not credited (1 query)."""
    return {pk: standing for pk, (standing, _ever) in _charged(lines).items() if standing}


def handed_to_charge(order: Order) -> dict[int, int]:
    """Strands by line that were handed over, stayed there and are on no invoice (2 queries)."""
    return {
        line.pk: line.handed - (line.strands - left)
        for line, left in strands_to_charge(order)
        if line.handed > line.strands - left
    }


def still_to_charge(lines: Sequence[OrderLine]) -> list[tuple[OrderLine, int]]:
    """The same, of lines with their order, as far as it will be asked for (1 query).

    What is credited after the goods were handed over came back, so that nobody is told to pay it
    again; it can still be invoiced anew by hand.
    """
    charged = _charged(lines)
    left = []
    for line in lines:
        standing, ever = charged.get(line.pk, (0, 0))
        collected = line.order.state == Order.State.COLLECTED
        left.append((line, line.strands - line.came_back - (ever if collected else standing)))
    return [(line, quantity) for line, quantity in left if quantity > 0]


def _charged(lines: Sequence[OrderLine]) -> dict[int, tuple[int, int]]:
    """Strands of each line on invoices: less what was credited, and all that ever were."""
    rows = (
        DocumentLine.objects.filter(order_line__in=lines)
        .exclude(paper__kind__in=NO_INVOICE)
        .order_by()
        .values_list("order_line")
        .annotate(Sum("quantity"), Sum("credited_quantity"))
    )
    return {pk: (ever - credited, ever) for pk, ever, credited in rows}
