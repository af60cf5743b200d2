"""What stands on a paper, frozen as plain JSON at the moment it is issued.

A paper is printed from this and nothing else, so it reads the same for ever. Amounts are text, as
JSON numbers would lose digits; every design is drawn once, however often it is listed.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from orders.drawn.strands import Draughtsman
from orders.models import Customer, Document, Order, Payment, StrandDesign
from orders.money.totals import InvoiceTotals
from workshop.drawing import strand_svg
from workshop.letterhead import head_of
from workshop.models import Business, TaxRate

# 2: lines and charges say their amount as it is told; what was told with VAT is printed so.
VERSION = 2
DRAWN_PX = 260
MOST_DRAWN = 40


def buyer_of(customer: Customer) -> dict[str, Any]:
    """The customer as written on papers today."""
    return {
        "name": customer.name,
        "address": customer.address,
        "country": customer.country,
        "tax_number": customer.tax_number,
        "email": customer.email,
        "phone": customer.phone,
    }


def opening(
    kind: str, business: Business, customer: Customer, *, on: date, order: Order | None
) -> dict[str, Any]:
    """What every paper begins with."""
    return {
        "version": VERSION,
        "kind": kind,
        "issued_on": on.isoformat(),
        **head_of(business, customer),
        "buyer": buyer_of(customer),
        "order": order.number if order else None,
        "words": business.paper_words,
        "e_invoice": business.e_invoice,
    }


def drawings(designs: Iterable[StrandDesign]) -> dict[str, str]:
    """Each design drawn to scale, by its primary key as text (3 queries).

    A long list is read by its names: pictures would spread it over twice the pages.
    """
    wanted = {design.pk for design in designs}
    if len(wanted) > MOST_DRAWN:
        return {}
    found = list(StrandDesign.objects.filter(pk__in=wanted).with_findings())
    draughtsman = Draughtsman(found)
    return {
        str(design.pk): strand_svg(
            draughtsman.strand(design.pk), width=DRAWN_PX, prefix=f"s{design.pk}", paper=True
        )
        for design in found
        if draughtsman.strand(design.pk).beads
    }


def sums(totals: InvoiceTotals) -> dict[str, str]:
    """The totals by name, as text."""
    named = {
        "lines": totals.lines_total,
        "allowances": totals.allowances,
        "charges": totals.charges,
        "net": totals.without_tax,
        "tax": totals.tax,
        "gross": totals.with_tax,
        "rounding": totals.rounding,
        "total": totals.due,
    }
    return {name: text(amount) for name, amount in named.items()}


def taxes(totals: InvoiceTotals, rates: Sequence[TaxRate]) -> list[dict[str, str]]:
    """The tax breakdown, with the reason where no tax is charged."""
    names = {(rate.category, rate.rate): rate.name for rate in rates}
    return [
        {
            "category": share.category,
            "rate": text(share.rate),
            "name": names.get((share.category, share.rate), ""),
            "reason": share.reason,
            "base": text(share.base),
            "tax": text(share.tax),
        }
        for share in totals.breakdown
    ]


def payment_words(payment: Payment, amount: Decimal) -> dict[str, str]:
    """A payment as other papers mention it."""
    return {
        "on": payment.on.isoformat(),
        "method": payment.method,
        "reference": payment.reference,
        "amount": text(amount),
    }


def paper_words(paper: Document, amount: Decimal) -> dict[str, str]:
    """A paper as other papers mention it."""
    return {
        "kind": paper.kind,
        "number": paper.number,
        "issued_on": paper.issued_on.isoformat(),
        "amount": text(amount),
    }


def text(amount: Decimal) -> str:
    """An exact amount as text, without an exponent."""
    return f"{amount.normalize():f}"
