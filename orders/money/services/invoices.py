"""Invoices: what an order still has to be charged for, at the tax that holds on the day."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Document, DocumentLine, Order, Payment
from orders.money.queries import snapshot
from orders.money.queries.charging import (
    ToCharge,
    rated,
    remember_rates,
    strands_to_charge,
    sums_of,
    supply_day,
    taxed,
)
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.deposits import (
    account_lines,
    deposits_of,
    preceding,
    write_taken_off,
)
from orders.money.services.paper_numbers import write_paper
from orders.money.services.paper_sums import adjustments_of, amounts_of, goods_content
from orders.money.services.payment_allocations import hold_account, lay, spendable
from orders.money.totals import InvoiceTotals, less_on_account
from workshop.letterhead import read_in
from workshop.models import Business, Person, TaxRate
from workshop.money import ZERO
from workshop.services.acts import record_act


@transaction.atomic
def issue_invoice(
    order: Order,
    *,
    person: Person | None,
    on: date | None = None,
    supplied_on: date | None = None,
    rate: TaxRate | None = None,
    rates: Mapping[int, TaxRate] | None = None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
    paid_by: str = "",
    strands: Mapping[int, int] | None = None,
    discount_words: str = "",
) -> Document:
    """Charge what the order was not charged for yet; what was paid on account is taken off.

    `discount_words` says what the discount is, where it is one of a kind.
    `strands` charges a part: so many by order line, the rest later. What was paid on account is
    taken off as far as the part takes it, oldest first; what is left waits for the rest.

    `rate` holds for the whole paper, `rates` by order line; without either, the standard rate of
    the day of supply. The number is taken here, so it is kept only if the paper is. More on
    account than the order comes to is given back by a credit note, as the customer's credit.
    `paid_by` says how it is paid as it is issued; for a buyer without a name it is the short form
    then (Directive 2006/112/EC, articles 220a and 226b).

    Source: Directive 2006/112/EC, article 203: tax is shown once, so deposits are lines below 0.
    """
    business = Business.in_force()
    on = on or timezone.localdate()
    hold_account(order.customer)
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=order.pk)
    )
    supplied_on = supplied_on or supply_day(order, on)
    to_charge, ordinary = _lines_to_charge(
        order, business, on=supplied_on, rate=rate, rates=rates, strands=strands
    )
    with_tax = business.tax_registered and order.prices_with_tax
    goods = sums_of(
        to_charge,
        business,
        with_tax=with_tax,
        ordinary=ordinary,
        discount=discount,
        carriage=carriage,
    )
    taken_off = deposits_of(order, goods.due)
    totals = less_on_account(goods, [each.part for each in taken_off])
    due_on = on if paid_by else on + timedelta(days=business.payment_days)
    short = bool(paid_by) and order.customer.nameless
    credits = _deposits(order, totals.due)
    content = snapshot.opening(Document.Kind.INVOICE, business, order.customer, on=on, order=order)
    content |= {
        "due_on": due_on.isoformat(),
        "supplied_on": supplied_on.isoformat(),
        "prepaid": [snapshot.payment_words(credit, amount) for credit, amount in credits],
        "preceding": preceding(taken_off),
        **goods_content(
            to_charge,
            totals,
            business,
            ordinary,
            with_tax=with_tax,
            reader=order.customer,
            taken_off=taken_off,
            drawn=not short,
        ),
    }
    if paid_by:
        content["paid_by"] = paid_by
    for charge in content["charges"]:
        if charge["role"] == DocumentLine.Role.DISCOUNT and discount_words:
            charge["words"] = discount_words
    if short:
        content |= {"short": True, "e_invoice": False}
    prepaid = sum((amount for _credit, amount in credits), ZERO)
    content["sums"] |= {
        "prepaid": snapshot.text(prepaid),
        "due": snapshot.text(totals.due - prepaid),
    }
    paper = write_paper(
        Document.Kind.INVOICE,
        content,
        amounts_of(totals),
        customer=order.customer,
        person=person,
        on=on,
        order=order,
        due_on=due_on,
    )
    Order.objects.filter(pk=order.pk).update(charged=True)
    with read_in(business, order.customer):
        lines = _paper_lines(paper, to_charge, totals, ordinary, with_tax=with_tax)
    DocumentLine.objects.bulk_create(lines)
    write_taken_off(paper, taken_off, len(lines) + 1)
    remember_rates(to_charge)
    for credit, amount in credits:
        lay(credit, paper, amount, on)
    record_act(person, "issue invoice", paper, after={"total": str(paper.total)})
    # Only where money on account was there can some of it be left over.
    if (taken_off or not goods.due) and not strands_to_charge(order):
        give_back_the_rest(order, person, on)
    paper.refresh_from_db(fields=["settled"])
    return paper


def reckon_invoice(
    order: Order,
    *,
    supplied_on: date | None = None,
    rate: TaxRate | None = None,
    rates: Mapping[int, TaxRate] | None = None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
) -> tuple[list[ToCharge], InvoiceTotals]:
    """What an invoice issued now would charge; nothing is written."""
    business = Business.current()
    on = supplied_on or supply_day(order)
    to_charge, ordinary = _lines_to_charge(order, business, on=on, rate=rate, rates=rates)
    goods = sums_of(
        to_charge,
        business,
        with_tax=order.prices_with_tax,
        ordinary=ordinary,
        discount=discount,
        carriage=carriage,
    )
    taken_off = [each.part for each in deposits_of(order, goods.due)]
    return to_charge, less_on_account(goods, taken_off)


def give_back_the_rest(order: Order, person: Person | None, on: date) -> None:
    """Money on account above what the order came to: each paper of it credited in full."""
    papers = {line.paper_id: line.paper for line in account_lines(order)}
    with read_in(Business.current(), order.customer):
        reason = _("More was paid on account than the order came to.")
    for paper in papers.values():
        issue_credit_note(paper, person=person, reason=reason, on=on)


def _lines_to_charge(
    order: Order,
    business: Business,
    *,
    on: date,
    rate: TaxRate | None,
    rates: Mapping[int, TaxRate] | None,
    strands: Mapping[int, int] | None = None,
) -> tuple[list[ToCharge], TaxRate | None]:
    if not order.was_confirmed:
        raise ValidationError(
            _("Order %(number)s is %(state)s; confirm it first, then it can be invoiced.")
            % {"number": order.number, "state": order.get_state_display()}
        )
    left = strands_to_charge(order)
    if not left:
        last = order.papers.filter(kind=Document.Kind.INVOICE, on_account=False).first()
        if last is None:
            raise ValidationError(
                _("Order %(number)s has no lines, so there is nothing to charge. Add a line first.")
                % {"number": order.number}
            )
        raise ValidationError(
            _(
                "Every strand of order %(order)s is charged already on invoice %(invoice)s. "
                "To charge it anew, credit that invoice first."
            )
            % {"order": order.number, "invoice": last.number}
        )
    if strands is not None:
        left = [(line, min(n, strands.get(line.pk, 0))) for line, n in left]
        left = [(line, n) for line, n in left if n > 0]
    return rated(left, business, on=on, rate=rate, rates=rates)


def _deposits(order: Order, total: Decimal) -> list[tuple[Payment, Decimal]]:
    """The order's own deposits as far as the total takes them, to be laid on it."""
    found = []
    left = total
    for credit in order.payments.filter(unused__gt=0).order_by("on", "id"):
        amount = min(left, spendable(credit))
        if amount > 0:
            found.append((credit, amount))
            left -= amount
    return found


def _paper_lines(
    paper: Document,
    to_charge: Sequence[ToCharge],
    totals: InvoiceTotals,
    ordinary: TaxRate | None,
    *,
    with_tax: bool,
) -> list[DocumentLine]:
    lines = [
        DocumentLine(
            paper=paper,
            position=position,
            order_line=each.line,
            words=each.line.design.name_for_reader,
            quantity=each.quantity,
            price=each.line.price,
            net=net,
            gross=amount if with_tax else ZERO,
            tax_category=taxed(each.rate)["category"],
            tax_rate=taxed(each.rate)["rate"],
        )
        for position, (each, net, amount) in enumerate(
            zip(to_charge, totals.line_nets, totals.line_amounts, strict=True), start=1
        )
    ]
    kind = taxed(ordinary)
    for position, (role, amount, told) in enumerate(adjustments_of(totals), len(lines) + 1):
        lines.append(
            DocumentLine(
                paper=paper,
                position=position,
                role=role,
                words=str(DocumentLine.Role(role).label),
                price=amount,
                net=amount,
                gross=told if with_tax else ZERO,
                tax_category=kind["category"],
                tax_rate=kind["rate"],
            )
        )
    return lines
