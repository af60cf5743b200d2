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
from orders.money.services.credit_sums import Credited, CreditSums, credit_sums
from orders.money.services.paper_numbers import write_paper
from orders.money.services.payment_allocations import exact, hold_account, lay
from orders.papers import snapshot
from workshop.models import Business, Person
from workshop.money import ZERO, round_half_up
from workshop.services.acts import record_act

GOODS, DISCOUNT = DocumentLine.Role.GOODS, DocumentLine.Role.DISCOUNT


@transaction.atomic
def issue_credit_note(
    invoice: Document,
    *,
    person: Person | None,
    reason: str,
    quantities: Mapping[int, int] | None = None,
    carriage: bool = False,
    on: date | None = None,
) -> Document:
    """Give back an invoice: all that is left of it, or so many of each of its lines.

    `quantities` is by primary key of the invoice's lines; a discount comes back in proportion.
    First it lowers what is open on the invoice; what is left over is the customer's credit.
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
    credited = _credited(invoice, quantities, carriage)
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
    invoice: Document, quantities: Mapping[int, int] | None, carriage: bool
) -> list[Credited]:
    lines = list(invoice.lines.select_for_update(of=("self",)).select_related("order_line__design"))
    goods = [line for line in lines if line.role == GOODS]
    wanted = _wanted(goods, quantities)
    credited = [
        Credited(line, wanted[line.pk], _net_for(line, wanted[line.pk], invoice))
        for line in goods
        if wanted[line.pk]
    ]
    completes = all(line.left_quantity == wanted[line.pk] for line in goods)
    for line in lines:
        if line.role == GOODS or not line.left_quantity:
            continue
        if completes and (line.role == DISCOUNT or carriage or quantities is None):
            credited.append(Credited(line, 1, line.left_net))
        elif line.role == DISCOUNT and credited:
            credited.append(Credited(line, 0, _discount_share(line, goods, credited, invoice)))
        elif carriage and line.role != DISCOUNT:
            credited.append(Credited(line, 1, line.left_net))
    credited = [each for each in credited if each.quantity or each.net]
    if not credited:
        raise ValidationError(
            _(
                "Nothing is left to credit on %(number)s, or no quantity was written. "
                "Write how many strands come back."
            )
            % {"number": invoice.number}
        )
    return credited


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


def _net_for(line: DocumentLine, quantity: int, invoice: Document) -> Decimal:
    """The share of the line's net; the last strand credited takes what is left to the cent."""
    if quantity == line.left_quantity:
        return line.left_net
    share = round_half_up(line.net * quantity / line.quantity, invoice.currency)
    return min(share, line.left_net)


def _discount_share(
    line: DocumentLine,
    goods: Sequence[DocumentLine],
    credited: Sequence[Credited],
    invoice: Document,
) -> Decimal:
    whole = sum((each.net for each in goods), ZERO)
    back = sum((each.net for each in credited if each.line.role == GOODS), ZERO)
    if not whole:
        return ZERO
    return min(round_half_up(line.net * back / whole, invoice.currency), line.left_net)


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
            tax_category=line.tax_category,
            tax_rate=line.tax_rate,
        )
        DocumentLine.objects.filter(pk=line.pk).update(
            credited_quantity=F("credited_quantity") + each.quantity,
            credited_net=F("credited_net") + exact(each.net),
        )


def _content(
    invoice: Document, credited: Sequence[Credited], sums: CreditSums, *, on: date, reason: str
) -> dict[str, Any]:
    """What stands on the note; it speaks of parties, taxes and day as the invoice did."""
    before = invoice.content
    content = snapshot.opening(
        Document.Kind.CREDIT, Business.current(), invoice.customer, on=on, order=invoice.order
    )
    goods = [each for each in credited if each.line.role == GOODS]
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
            {"role": each.line.role, "net": snapshot.text(each.net), **_kind_words(each.line)}
            for each in credited
            if each.line.role != GOODS
        ],
        "taxes": _tax_words(before, sums),
        "sums": _sum_words(credited, sums),
        "prepaid": [],
        "drawings": _drawings(before, goods),
    }


def _sum_words(credited: Sequence[Credited], sums: CreditSums) -> dict[str, str]:
    lines = sum((each.net for each in credited if each.line.role == GOODS), ZERO)
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
        "quantity": each.quantity,
        "price": snapshot.text(line.price),
        "net": snapshot.text(each.net),
        **_kind_words(line),
    }


def _kind_words(line: DocumentLine) -> dict[str, str]:
    return {"category": line.tax_category, "rate": snapshot.text(Decimal(line.tax_rate))}
