"""Payments on account: the invoice for each, and how a final invoice takes them off."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import CustomerGroup, Document, DocumentLine, Order, Payment
from orders.money.queries import snapshot
from orders.money.queries.charging import (
    ToCharge,
    rated,
    remember_rates,
    strands_to_charge,
    sums_of,
    taxed,
)
from orders.money.queries.to_pay import to_pay
from orders.money.services.paper_numbers import Amounts, write_paper
from orders.money.services.payment_allocations import exact, lay
from orders.money.totals import OnAccount, on_account, on_account_totals
from workshop.formats import date_long
from workshop.letterhead import read_in
from workshop.models import Business, Person, TaxRate
from workshop.money import ZERO, round_half_up, split_by_largest_remainder
from workshop.services.acts import record_act

ACCOUNT, OFF = DocumentLine.Role.ACCOUNT, DocumentLine.Role.OFF
MOST_WORDS = 200


def invoice_on_account(
    payment: Payment, *, person: Person | None, rate: TaxRate | None
) -> Document | None:
    """The invoice for money that came in for an order before its goods are charged.

    None where no VAT falls due on it: the business is not registered, the money is more than the
    goods named, or the owner gives the customer a receipt instead. The money is laid on it.

    Source: Directive 2006/112/EC, articles 65 and 220(1)(4); UNTDID 1001, code 386.
    """
    business, order = Business.current(), payment.order
    if order is None or not _wants_one(order, business):
        return None
    left, asked = strands_to_charge(order), to_pay(order, business)
    waits = max(ZERO, asked.to_charge - asked.held + payment.unused)
    amount = min(payment.unused, waits)
    if amount <= 0 or not left:
        return None
    to_charge, ordinary = rated(left, business, on=payment.on, rate=rate)
    whole = sums_of(to_charge, business, with_tax=order.prices_with_tax, ordinary=ordinary)
    parts = on_account(amount, whole.breakdown, business.currency)
    paper = _write(order, payment, parts, to_charge, business, person)
    remember_rates(to_charge)
    lay(payment, paper, amount, paper.issued_on)
    payment.refresh_from_db()
    paper.refresh_from_db()
    record_act(person, "issue invoice on account", paper, after={"total": str(paper.total)})
    return paper


def _wants_one(order: Order, business: Business) -> bool:
    if not business.tax_registered or order.state == Order.State.CANCELLED:
        return False
    everybody = business.account_invoices == Business.OnAccount.EVERYBODY
    return everybody or order.customer.group != CustomerGroup.WALK_IN


def _write(
    order: Order,
    payment: Payment,
    parts: Sequence[OnAccount],
    to_charge: Sequence[ToCharge],
    business: Business,
    person: Person | None,
) -> Document:
    totals = on_account_totals(parts, business.currency)
    # Money typed in later keeps its own day as the day its tax fell due; the paper is of today.
    on = max(timezone.localdate(), payment.on)
    with read_in(business, order.customer):
        words = [_words(order, part, to_charge, len(parts) > 1) for part in parts]
    content = snapshot.opening(
        Document.Kind.INVOICE, business, order.customer, on=on, order=order
    ) | {
        "on_account": True,
        "received_on": payment.on.isoformat(),
        "due_on": on.isoformat(),
        "prices_include_tax": order.prices_with_tax,
        "lines": [
            _account_words(said, part, sign=1) for said, part in zip(words, parts, strict=True)
        ],
        "charges": [],
        "taxes": snapshot.taxes(totals, [each.rate for each in to_charge if each.rate]),
        "sums": snapshot.sums(totals)
        | {"prepaid": snapshot.text(totals.due), "due": snapshot.text(ZERO)},
        "prepaid": [snapshot.payment_words(payment, totals.due)],
        "drawings": {},
    }
    if _is_short(order, totals.due, business):
        content |= {"short": True, "e_invoice": False}
    paper = write_paper(
        Document.Kind.INVOICE,
        content,
        Amounts(totals.without_tax, totals.tax, totals.rounding),
        customer=order.customer,
        person=person,
        on=on,
        order=order,
        due_on=on,
        on_account=True,
    )
    DocumentLine.objects.bulk_create(
        DocumentLine(
            paper=paper,
            position=position,
            role=ACCOUNT,
            words=said,
            price=part.base,
            net=part.base,
            gross=part.amount,
            tax_category=part.category,
            tax_rate=part.rate,
        )
        for position, (said, part) in enumerate(zip(words, parts, strict=True), start=1)
    )
    return paper


def _is_short(order: Order, amount: Decimal, business: Business) -> bool:
    most = business.short_form_up_to
    return most is not None and amount <= most and order.customer.group == CustomerGroup.WALK_IN


def _words(order: Order, part: OnAccount, to_charge: Sequence[ToCharge], several: bool) -> str:
    """What the money is for; an invoice on account names its goods."""
    own = [
        each
        for each in to_charge
        if not several or (taxed(each.rate)["category"], taxed(each.rate)["rate"]) == part.group
    ]
    goods = ", ".join(f"{each.quantity} × {each.line.design.name_for_reader}" for each in own)
    said = _("Payment on account for order %(order)s: %(goods)s") % {
        "order": order.number,
        "goods": goods,
    }
    return said if len(said) <= MOST_WORDS else said[: MOST_WORDS - 1] + "…"


def _account_words(words: str, part: OnAccount, *, sign: int) -> dict[str, Any]:
    return {
        "design": None,
        "words": words,
        "detail": "",
        "quantity": sign,
        "price": snapshot.text(part.base),
        "net": snapshot.text(sign * part.base),
        "amount": snapshot.text(sign * part.amount),
        "category": part.category,
        "rate": snapshot.text(part.rate),
    }


# --- taken off by the final invoice --------------------------------------------------------------


@dataclass(frozen=True)
class TakenOff:
    """So much of one line of an invoice on account that a final invoice takes off."""

    line: DocumentLine
    part: OnAccount

    @property
    def words(self) -> str:
        paper = self.line.paper
        return _("Payment on account, invoice %(number)s of %(day)s") % {
            "number": paper.number,
            "day": date_long(paper.issued_on),
        }

    @property
    def line_words(self) -> dict[str, Any]:
        """The line as it stands on the final invoice, below 0."""
        return _account_words(self.words, self.part, sign=-1)


def deposits_of(order: Order, most: Decimal) -> list[TakenOff]:
    """Payments on account of an order, oldest first, as far as `most` takes them (1 query)."""
    found: list[TakenOff] = []
    by_paper: dict[int, list[DocumentLine]] = {}
    for line in account_lines(order):
        by_paper.setdefault(line.paper_id, []).append(line)
    for lines in by_paper.values():
        there = sum((line.left_gross for line in lines), ZERO)
        amount = min(most, there)
        if amount <= 0:
            continue
        most -= amount
        currency = lines[0].paper.currency
        parts = split_by_largest_remainder(amount, [line.left_gross for line in lines], currency)
        found += [
            TakenOff(line, _part(line, part, currency))
            for line, part in zip(lines, parts, strict=True)
            if part
        ]
    return found


def account_lines(order: Order) -> list[DocumentLine]:
    """Lines of an order's invoices on account of which something is left (1 query).

    Whoever uses them holds the customer's account.
    """
    lines = DocumentLine.objects.filter(
        role=ACCOUNT,
        paper__order=order,
        paper__kind=Document.Kind.INVOICE,
        credited_gross__lt=F("gross"),
    )
    return list(lines.select_related("paper").order_by("paper_id", "position"))


def _part(line: DocumentLine, amount: Decimal, currency: str) -> OnAccount:
    reason = next(
        (
            tax["reason"]
            for tax in line.paper.content["taxes"]
            if tax["category"] == line.tax_category and Decimal(tax["rate"]) == line.tax_rate
        ),
        "",
    )
    return OnAccount(
        part_net(line, amount, currency),
        amount,
        line.tax_category,
        Decimal(line.tax_rate).normalize() + ZERO,
        reason,
    )


def part_net(line: DocumentLine, amount: Decimal, currency: str) -> Decimal:
    """The base of a part of what was received; the last part takes what is left to the cent."""
    if amount == line.left_gross:
        return line.left_net
    base = round_half_up(amount * 100 / (100 + line.tax_rate), currency)
    return min(base, line.left_net)


def write_taken_off(paper: Document, taken_off: Sequence[TakenOff], position: int) -> None:
    """The lines below 0 of a final invoice, and on the invoices on account that they are used."""
    for place, each in enumerate(taken_off, start=position):
        part = each.part
        DocumentLine.objects.create(
            paper=paper,
            position=place,
            role=OFF,
            names=each.line,
            words=each.words,
            price=part.base,
            net=part.base,
            gross=part.amount,
            tax_category=part.category,
            tax_rate=part.rate,
        )
        use(each.line, part.base, part.amount)


def use(line: DocumentLine, net: Decimal, gross: Decimal) -> None:
    """So much of a payment on account is used up; below 0, it waits again."""
    DocumentLine.objects.filter(pk=line.pk).update(
        credited_net=F("credited_net") + exact(net),
        credited_gross=F("credited_gross") + exact(gross),
    )


def preceding(taken_off: Sequence[TakenOff]) -> list[dict[str, str]]:
    """The invoices on account that a final invoice names (BG-3), each once."""
    papers = {each.line.paper_id: each.line.paper for each in taken_off}
    return [
        {"number": paper.number, "issued_on": paper.issued_on.isoformat()}
        for paper in papers.values()
    ]
