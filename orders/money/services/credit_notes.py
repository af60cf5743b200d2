"""Credit notes: taking back an invoice or part of it by a further paper that names it."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Document, DocumentLine
from orders.money.queries import snapshot
from orders.money.services.credit_sums import (
    Credited,
    CreditSums,
    credit_sums,
    left_to_credit,
)
from orders.money.services.deposits import part_net, use
from orders.money.services.paper_numbers import write_paper
from orders.money.services.payment_allocations import hold_account, lay
from workshop.models import Business, Person
from workshop.money import ZERO, round_half_up
from workshop.services.acts import record_act

GOODS, DISCOUNT = DocumentLine.Role.GOODS, DocumentLine.Role.DISCOUNT
ACCOUNT, OFF = DocumentLine.Role.ACCOUNT, DocumentLine.Role.OFF
# What stands among the lines of a note; discount and carriage stand below them.
LISTED = (GOODS, ACCOUNT, OFF)


@transaction.atomic
def issue_credit_note(
    invoice: Document,
    *,
    person: Person | None,
    reason: str,
    quantities: Mapping[int, int] | None = None,
    carriage: bool = False,
    on: date | None = None,
    most: Decimal | None = None,
) -> Document:
    """Give back an invoice: all that is left of it, or so many of each of its lines.

    `most`: of an invoice on account, so much and no more, VAT included.

    `quantities` is by primary key of the invoice's lines; a discount comes back in proportion.
    First it lowers what is open on the invoice; what is left over is the customer's credit. Of an
    invoice on account, what no final invoice has taken off is given back. Goods worth more than a
    final invoice asked for were paid on account: that part waits again as the order's deposit.
    """
    hold_account(invoice.customer)
    invoice = (
        Document.objects.select_for_update(of=("self",))
        .select_related("customer", "order")
        .get(pk=invoice.pk)
    )
    if invoice.kind != Document.Kind.INVOICE:
        raise ValidationError(_("Only an invoice can be credited. Choose the invoice it is about."))
    if not reason.strip():
        raise ValidationError({"reason": _("Write why it is credited; the paper must say so.")})
    on = on or timezone.localdate()
    credited = _credited(invoice, quantities, carriage, most)
    sums = credit_sums(invoice, credited)
    paper = write_paper(
        Document.Kind.CREDIT,
        _content(invoice, credited, sums, on=on, reason=reason.strip()),
        sums.amounts,
        customer=invoice.customer,
        person=person,
        on=on,
        order=invoice.order,
        names=invoice,
    )
    _write_lines(paper, credited)
    invoice.refresh_from_db()
    if amount := min(paper.total, invoice.open_amount):
        lay(paper, invoice, amount, on)
    record_act(
        person, "issue credit note", paper, after={"names": invoice.number, "reason": reason}
    )
    paper.refresh_from_db()
    return paper


def _credited(
    invoice: Document,
    quantities: Mapping[int, int] | None,
    carriage: bool,
    most: Decimal | None = None,
) -> list[Credited]:
    lines = list(invoice.lines.select_for_update(of=("self",)).select_related("order_line__design"))
    goods = [line for line in lines if line.role == GOODS]
    wanted = _wanted(goods, quantities)
    credited = [
        Credited(
            line,
            wanted[line.pk],
            _share(line.net, line.left_net, line, wanted[line.pk], invoice),
            _share(line.gross, line.left_gross, line, wanted[line.pk], invoice),
        )
        for line in goods
        if wanted[line.pk]
    ]
    completes = all(line.left_quantity == wanted[line.pk] for line in goods)
    for line in lines:
        whole = Credited(line, 1, line.left_net, line.left_gross)
        if line.role == ACCOUNT and most is not None and most < line.left_gross:
            credited.append(Credited(line, 0, part_net(line, most, invoice.currency), most))
            most = ZERO
        elif line.role == ACCOUNT or (line.role == OFF and completes):
            credited.append(Credited(line, 0, line.left_net, line.left_gross))
            most = None if most is None else most - line.left_gross
        elif line.role in LISTED or not line.left_quantity:
            continue
        elif completes and (line.role == DISCOUNT or carriage or quantities is None):
            credited.append(whole)
        elif line.role == DISCOUNT and credited:
            credited.append(_discount_share(line, goods, credited, invoice))
        elif carriage and line.role != DISCOUNT:
            credited.append(whole)
    credited = [each for each in credited if each.quantity or each.net or each.gross]
    if not credited:
        raise ValidationError(
            _(
                "Nothing is left to credit on %(number)s, or no quantity was written. "
                "Write how many strands come back."
            )
            % {"number": invoice.number}
        )
    return credited if completes else credited + _back_on_account(invoice, lines, credited)


def _back_on_account(
    invoice: Document, lines: Sequence[DocumentLine], credited: Sequence[Credited]
) -> list[Credited]:
    """What of the payments taken off comes back, so that no more is credited than was asked."""
    over = credit_sums(invoice, credited, capped=False).amounts.total - left_to_credit(invoice)
    found = []
    for line in lines:
        part = min(over, line.left_gross)
        if line.role == OFF and part > 0:
            found.append(Credited(line, 0, part_net(line, part, invoice.currency), part))
            over -= part
    return found


def _wanted(goods: Sequence[DocumentLine], quantities: Mapping[int, int] | None) -> dict[int, int]:
    if quantities is None:
        return {line.pk: line.left_quantity for line in goods}
    unknown = set(quantities) - {line.pk for line in goods}
    if unknown:
        raise ValidationError(_("One of these lines is not on the invoice. Open the page again."))
    wanted = {line.pk: quantities.get(line.pk) or 0 for line in goods}
    for line in goods:
        if not 0 <= wanted[line.pk] <= line.left_quantity:
            raise ValidationError(
                _(
                    "%(what)s: at most %(left)s can still be credited, and %(asked)s were "
                    "written. Write %(left)s or fewer."
                )
                % {"what": line.words, "left": line.left_quantity, "asked": wanted[line.pk]}
            )
    return wanted


def _share(
    whole: Decimal, left: Decimal, line: DocumentLine, quantity: int, invoice: Document
) -> Decimal:
    """The share of the line's amount; the last strand credited takes what is left to the cent."""
    if quantity == line.left_quantity:
        return left
    return min(round_half_up(whole * quantity / line.quantity, invoice.currency), left)


def _discount_share(
    line: DocumentLine,
    goods: Sequence[DocumentLine],
    credited: Sequence[Credited],
    invoice: Document,
) -> Credited:
    """The discount that goes back with some of the goods, by their net; with VAT likewise."""
    whole = sum((each.net for each in goods), ZERO)
    back = sum((each.net for each in credited if each.line.role == GOODS), ZERO)
    if not whole:
        return Credited(line, 0, ZERO)
    net, gross = (
        min(round_half_up(amount * back / whole, invoice.currency), left)
        for amount, left in ((line.net, line.left_net), (line.gross, line.left_gross))
    )
    return Credited(line, 0, net, gross)


def _write_lines(paper: Document, credited: Sequence[Credited]) -> None:
    for position, each in enumerate(credited, start=1):
        line = each.line
        DocumentLine.objects.create(
            paper=paper,
            position=position,
            role=line.role,
            order_line=line.order_line,
            names=line,
            words=line.words,
            quantity=max(1, each.quantity),
            price=line.price,
            net=each.net,
            gross=each.gross,
            tax_category=line.tax_category,
            tax_rate=line.tax_rate,
        )
        DocumentLine.objects.filter(pk=line.pk).update(
            credited_quantity=F("credited_quantity") + each.quantity
        )
        use(line, each.net, each.gross)
        if line.role == OFF and line.names is not None:
            use(line.names, -each.net, -each.gross)


def _content(
    invoice: Document, credited: Sequence[Credited], sums: CreditSums, *, on: date, reason: str
) -> dict[str, Any]:
    """What stands on the note; it speaks of parties, taxes and day as the invoice did."""
    before = invoice.content
    content = snapshot.opening(
        Document.Kind.CREDIT, Business.current(), invoice.customer, on=on, order=invoice.order
    )
    # A note to an older paper is laid out as that one was.
    content["version"] = before.get("version", content["version"])
    goods = [each for each in credited if each.line.role in LISTED]
    details = {line["design"]: line["detail"] for line in before["lines"]}
    return content | {
        "currency": invoice.currency,
        "seller": before["seller"],
        "buyer": before["buyer"],
        "names": snapshot.paper_words(invoice, invoice.total),
        "reason": reason,
        "supplied_on": before.get("supplied_on"),
        "prices_include_tax": before.get("prices_include_tax", False),
        "lines": [_line_words(each, details) for each in goods],
        "charges": [
            {
                "role": each.line.role,
                "net": snapshot.text(each.net),
                "amount": snapshot.text(each.gross or each.net),
                **_kind_words(each.line),
            }
            for each in credited
            if each.line.role not in LISTED
        ],
        "taxes": _tax_words(before, sums),
        "sums": _sum_words(credited, sums),
        "prepaid": [],
        "drawings": _drawings(before, goods),
    }


def _sum_words(credited: Sequence[Credited], sums: CreditSums) -> dict[str, str]:
    lines = sum((each.signed for each in credited if each.line.role in LISTED), ZERO)
    allowances = sum((each.net for each in credited if each.line.role == DISCOUNT), ZERO)
    total = sums.amounts.total
    named = {
        "lines": lines,
        "allowances": allowances,
        "charges": sums.net - lines + allowances,
        "net": sums.net,
        "tax": sums.tax,
        "gross": sums.net + sums.tax,
        "rounding": sums.rounding,
        "total": total,
        "prepaid": ZERO,
        "due": total,
    }
    return {name: snapshot.text(amount) for name, amount in named.items()}


def _tax_words(before: Mapping[str, Any], sums: CreditSums) -> list[dict[str, str]]:
    known = {(tax["category"], Decimal(tax["rate"])): tax for tax in before["taxes"]}
    return [
        {
            "name": known[category, rate]["name"],
            "reason": known[category, rate]["reason"],
            "category": category,
            "rate": snapshot.text(rate),
            "base": snapshot.text(base),
            "tax": snapshot.text(tax),
        }
        for (category, rate), (base, tax) in sums.groups.items()
    ]


def _drawings(before: Mapping[str, Any], goods: Sequence[Credited]) -> dict[str, str]:
    wanted = {str(each.line.order_line.design_id) for each in goods if each.line.order_line}
    drawings = before.get("drawings", {})
    return {design: svg for design, svg in drawings.items() if design in wanted}


def _line_words(each: Credited, details: Mapping[int | None, str]) -> dict[str, Any]:
    line = each.line
    design = line.order_line.design_id if line.order_line else None
    return {
        "design": design,
        "words": line.words,
        "detail": details.get(design, ""),
        "quantity": each.quantity if line.role == GOODS else line.sign,
        "price": snapshot.text(line.price if line.role == GOODS else each.net),
        "net": snapshot.text(each.signed),
        "amount": snapshot.text(each.signed_gross or each.signed),
        **_kind_words(line),
    }


def _kind_words(line: DocumentLine) -> dict[str, str]:
    return {"category": line.tax_category, "rate": snapshot.text(Decimal(line.tax_rate))}
