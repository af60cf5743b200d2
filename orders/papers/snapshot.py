"""What stands on a paper, frozen as plain JSON at the moment it is issued.

A paper is printed from this and nothing else, so it reads the same for ever. Amounts are text, as
JSON numbers would lose digits; every design is drawn once, however often it is listed.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import get_language

from orders.drawing_adapter import Draughtsman
from orders.models import Customer, Order, Paper, Payment, StrandDesign
from orders.papers.totals import Totals
from workshop.drawing import strand_svg
from workshop.models import Business, TaxRate

VERSION = 1
DRAWN_PX = 260


def party_of(business: Business) -> dict[str, Any]:
    """The workshop as it is written on papers today."""
    registered = business.tax_registered
    return {
        "name": business.name,
        "address": business.address,
        "email": business.email,
        "phone": business.phone,
        "country": business.country,
        "registered": registered,
        "tax_number": business.tax_number if registered else "",
        "company_number": business.company_number,
        "iban": business.iban,
        "bic": business.bic,
        "invented": business.invented,
    }


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
        "currency": business.currency,
        "language": get_language() or "en",
        "country": business.country,
        "paper_size": business.paper_size,
        "units": [business.length_unit, business.mass_unit],
        "seller": party_of(business),
        "buyer": buyer_of(customer),
        "order": order.number if order else None,
        "words": business.paper_words,
        "e_invoice": business.e_invoice,
    }


def drawings(designs: Iterable[StrandDesign]) -> dict[str, str]:
    """Each design drawn to scale, by its primary key as text (3 queries)."""
    wanted = {design.pk for design in designs}
    found = list(StrandDesign.objects.filter(pk__in=wanted).select_related("clasp"))
    draughtsman = Draughtsman(found)
    return {
        str(design.pk): strand_svg(
            draughtsman.strand(design.pk), width=DRAWN_PX, prefix=f"s{design.pk}", paper=True
        )
        for design in found
        if draughtsman.strand(design.pk).beads
    }


def sums(totals: Totals) -> dict[str, str]:
    """The totals by name, as text."""
    names = (
        "lines",
        "allowances",
        "charges",
        "net",
        "tax",
        "gross",
        "rounding",
        "total",
    )
    return {name: text(getattr(totals, name)) for name in names}


def taxes(totals: Totals, rates: Sequence[TaxRate]) -> list[dict[str, str]]:
    """The tax breakdown, with the reason where no tax is charged."""
    by_kind = {(rate.category, rate.rate): rate for rate in rates}
    shown = []
    for group in totals.groups:
        rate = by_kind.get((group.kind.category, group.kind.rate))
        shown.append(
            {
                "category": group.kind.category,
                "rate": text(group.kind.rate),
                "name": rate.name if rate else "",
                "reason": rate.reason if rate else "",
                "base": text(group.base),
                "tax": text(group.tax),
            }
        )
    return shown


def payment_words(payment: Payment, amount: Decimal) -> dict[str, str]:
    """A payment as other papers mention it."""
    return {
        "on": payment.on.isoformat(),
        "method": payment.method,
        "reference": payment.reference,
        "amount": text(amount),
    }


def paper_words(paper: Paper, amount: Decimal) -> dict[str, str]:
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
