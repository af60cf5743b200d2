"""What a paper adds up to: order lines and VAT rates into the sums of EN 16931."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.costing.invoice_totals import (
    DocumentAdjustment,
    InvoiceLine,
    InvoiceTotals,
    invoice_totals,
)
from orders.drawn.strands import printed_lengths
from orders.models import DocumentLine, Order, OrderLine
from orders.money.services.paper_numbers import Amounts
from orders.papers import snapshot
from workshop.models import Business, TaxRate
from workshop.money import ZERO

OUTSIDE = "O"  # not registered: nothing here is within the scope of VAT


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
    held = TaxRate.objects.filter(standard=True, valid_from__lte=on).order_by("-valid_from", "-pk")
    rate = held.first()
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
    held: dict[str, TaxRate] = {}
    for rate in TaxRate.objects.filter(valid_from__lte=on).order_by("valid_from", "pk"):
        held[rate.name] = rate
    return sorted(held.values(), key=lambda rate: (not rate.standard, rate.name))


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
    ordinary: TaxRate | None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
) -> InvoiceTotals:
    """The sums of a paper; discount and carriage are taxed at the ordinary rate."""
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
            prices_include_tax=business.tax_registered and business.prices_include_tax,
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


def adjustments_of(totals: InvoiceTotals) -> list[tuple[str, Decimal]]:
    """Discount and carriage without tax, by their role on the paper."""
    found = []
    if totals.allowances:
        found.append((str(DocumentLine.Role.DISCOUNT), totals.allowances))
    if totals.charges:
        found.append((str(DocumentLine.Role.CARRIAGE), totals.charges))
    return found


def amounts_of(totals: InvoiceTotals) -> Amounts:
    """What a paper of these totals asks for, before anything paid in advance."""
    return Amounts(totals.without_tax, totals.tax, totals.rounding)


def goods_content(
    to_charge: Sequence[ToCharge],
    totals: InvoiceTotals,
    business: Business,
    ordinary: TaxRate | None,
    *,
    drawn: bool = True,
) -> dict[str, Any]:
    """Lines, charges, taxes, sums and drawings of a quote or an invoice, frozen."""
    lengths = printed_lengths(each.line.design for each in to_charge)
    used = [each.rate for each in to_charge if each.rate] + ([ordinary] if ordinary else [])
    return {
        "prices_include_tax": business.tax_registered and business.prices_include_tax,
        "lines": [
            _line_words(each, net, lengths[each.line.design_id])
            for each, net in zip(to_charge, totals.line_nets, strict=True)
        ],
        "charges": [
            {"role": role, "net": snapshot.text(amount), **_kind_words(ordinary)}
            for role, amount in adjustments_of(totals)
        ],
        "taxes": snapshot.taxes(totals, used),
        "sums": snapshot.sums(totals),
        "drawings": snapshot.drawings(each.line.design for each in to_charge) if drawn else {},
    }


def _line_words(each: ToCharge, net: Decimal, length: str) -> dict[str, Any]:
    line = each.line
    return {
        "design": line.design_id,
        "words": line.design.name,
        "code": line.design.code,
        "detail": length,
        "quantity": each.quantity,
        "price": snapshot.text(line.price),
        "net": snapshot.text(net),
        **_kind_words(each.rate),
    }


def _kind_words(rate: TaxRate | None) -> dict[str, str]:
    kind = taxed(rate)
    return {"category": kind["category"], "rate": snapshot.text(kind["rate"])}
