"""Credit notes: taking back an invoice or part of it by a further paper that names it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Paper, PaperLine
from orders.papers import snapshot
from orders.services.paper_numbers import next_paper_number, refuse_backdating
from orders.services.shares import exact, hold_account, lay
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act

ZERO = Decimal(0)
GOODS, DISCOUNT = PaperLine.Role.GOODS, PaperLine.Role.DISCOUNT


@dataclass(frozen=True)
class Credited:
    """So much of one line of an invoice is given back."""

    line: PaperLine
    quantity: int
    net: Decimal

    @property
    def signed(self) -> Decimal:
        return -self.net if self.line.role == DISCOUNT else self.net


@dataclass(frozen=True)
class CreditSums:
    """What the credit note adds up to; groups hold base and tax by (category, rate)."""

    groups: dict[tuple[str, Decimal], tuple[Decimal, Decimal]]
    rounding: Decimal

    @property
    def net(self) -> Decimal:
        return sum((base for base, _tax in self.groups.values()), ZERO)

    @property
    def tax(self) -> Decimal:
        return sum((tax for _base, tax in self.groups.values()), ZERO)

    @property
    def total(self) -> Decimal:
        return self.net + self.tax + self.rounding


@transaction.atomic
def issue_credit_note(
    invoice: Paper,
    *,
    by: Person | None,
    reason: str,
    quantities: Mapping[int, int] | None = None,
    carriage: bool = False,
    on: date | None = None,
) -> Paper:
    """Give back an invoice: all that is left of it, or so many of each of its lines.

    `quantities` is by primary key of the invoice's lines; a discount comes back in proportion.
    First it lowers what is open on the invoice; what is left over is the customer's credit.
    """
    hold_account(invoice.customer)
    invoice = (
        Paper.objects.select_for_update(of=("self",))
        .select_related("customer", "order")
        .get(pk=invoice.pk)
    )
    if invoice.kind != Paper.Kind.INVOICE:
        raise ValidationError(_("Only an invoice can be credited. Choose the invoice it is about."))
    if not reason.strip():
        raise ValidationError({"reason": _("Write why it is credited; the paper must say so.")})
    on = on or timezone.localdate()
    credited = _credited(invoice, quantities, carriage)
    sums = _sums(invoice, credited)
    year, sequence, number = next_paper_number(Paper.Kind.CREDIT, on)
    refuse_backdating(Paper.Kind.CREDIT, on)
    paper = Paper.objects.create(
        kind=Paper.Kind.CREDIT,
        year=year,
        sequence=sequence,
        number=number,
        issued_on=on,
        issued_by=by,
        customer=invoice.customer,
        order=invoice.order,
        names=invoice,
        currency=invoice.currency,
        net=sums.net,
        tax=sums.tax,
        rounding=sums.rounding,
        total=sums.total,
        content=_content(invoice, credited, sums, number=number, on=on, reason=reason.strip()),
    )
    _write_lines(paper, credited)
    invoice.refresh_from_db()
    if amount := min(paper.total, invoice.open_amount):
        lay(paper, invoice, amount, on)
    record_act(by, "issue credit note", paper, after={"names": invoice.number, "reason": reason})
    paper.refresh_from_db()
    return paper


def _credited(
    invoice: Paper, quantities: Mapping[int, int] | None, carriage: bool
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


def _wanted(goods: Sequence[PaperLine], quantities: Mapping[int, int] | None) -> dict[int, int]:
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


def _net_for(line: PaperLine, quantity: int, invoice: Paper) -> Decimal:
    """The share of the line's net; the last strand credited takes what is left to the cent."""
    if quantity == line.left_quantity:
        return line.left_net
    share = round_half_up(line.net * quantity / line.quantity, invoice.currency)
    return min(share, line.left_net)


def _discount_share(
    line: PaperLine, goods: Sequence[PaperLine], credited: Sequence[Credited], invoice: Paper
) -> Decimal:
    whole = sum((each.net for each in goods), ZERO)
    back = sum((each.net for each in credited if each.line.role == GOODS), ZERO)
    if not whole:
        return ZERO
    return min(round_half_up(line.net * back / whole, invoice.currency), line.left_net)


def _sums(invoice: Paper, credited: Sequence[Credited]) -> CreditSums:
    """Tax by the category as on any paper, but all credit notes together never above the invoice.

    Rounding the tax of each part by itself could add up to a cent more or less than the invoice
    states, so the note that completes it takes exactly what is left.
    """
    bases: dict[tuple[str, Decimal], Decimal] = {}
    for each in credited:
        key = (each.line.tax_category, Decimal(each.line.tax_rate))
        bases[key] = bases.get(key, ZERO) + each.signed
    left = _left_by_group(invoice)
    groups = {}
    for key, base in bases.items():
        base_left, tax_left = left[key]
        tax = round_half_up(base * key[1] / 100, invoice.currency)
        groups[key] = (base, tax_left if base == base_left else min(tax, tax_left))
    sums = CreditSums(groups, ZERO)
    if not _all_of(bases, left):
        return sums
    return CreditSums(groups, max(_rounding_left(invoice), -(sums.net + sums.tax)))


def _left_by_group(invoice: Paper) -> dict[tuple[str, Decimal], tuple[Decimal, Decimal]]:
    def key(tax: dict[str, str]) -> tuple[str, Decimal]:
        return tax["category"], Decimal(tax["rate"])

    left = {
        key(tax): (Decimal(tax["base"]), Decimal(tax["tax"])) for tax in invoice.content["taxes"]
    }
    for note in invoice.named_by.filter(kind=Paper.Kind.CREDIT):
        for tax in note.content["taxes"]:
            base, amount = left[key(tax)]
            left[key(tax)] = (base - Decimal(tax["base"]), amount - Decimal(tax["tax"]))
    return left


def _all_of(bases: Mapping, left: Mapping) -> bool:
    return all(bases.get(key, ZERO) == base for key, (base, _tax) in left.items())


def _rounding_left(invoice: Paper) -> Decimal:
    given = sum((note.rounding for note in invoice.named_by.filter(kind=Paper.Kind.CREDIT)), ZERO)
    return invoice.rounding - given


def _write_lines(paper: Paper, credited: Sequence[Credited]) -> None:
    for position, each in enumerate(credited, start=1):
        line = each.line
        PaperLine.objects.create(
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
        PaperLine.objects.filter(pk=line.pk).update(
            credited_quantity=F("credited_quantity") + each.quantity,
            credited_net=F("credited_net") + exact(each.net),
        )


def _content(
    invoice: Paper,
    credited: Sequence[Credited],
    sums: CreditSums,
    *,
    number: str,
    on: date,
    reason: str,
) -> dict[str, Any]:
    before = invoice.content
    content = snapshot.opening(
        Paper.Kind.CREDIT, Business.current(), invoice.customer, on=on, order=invoice.order
    )
    names = {(tax["category"], tax["rate"]): tax for tax in before["taxes"]}
    goods = [each for each in credited if each.line.role == GOODS]
    lines_net = sum((each.net for each in goods), ZERO)
    allowances = sum((each.net for each in credited if each.line.role == DISCOUNT), ZERO)
    content |= {
        # A credit note speaks of the parties as the invoice did.
        "seller": before["seller"],
        "buyer": before["buyer"],
        "number": number,
        "names": snapshot.paper_words(invoice, invoice.total),
        "reason": reason,
        "supplied_on": before.get("supplied_on"),
        "prices_include_tax": before.get("prices_include_tax", False),
        "lines": [_line_words(each) for each in goods],
        "charges": [
            {
                "role": each.line.role,
                "net": snapshot.text(each.net),
                "category": each.line.tax_category,
                "rate": snapshot.text(Decimal(each.line.tax_rate)),
            }
            for each in credited
            if each.line.role != GOODS
        ],
        "taxes": [
            {
                **_named(names, category, rate),
                "category": category,
                "rate": snapshot.text(rate),
                "base": snapshot.text(base),
                "tax": snapshot.text(tax),
            }
            for (category, rate), (base, tax) in sums.groups.items()
        ],
        "sums": {
            "lines": snapshot.text(lines_net),
            "allowances": snapshot.text(allowances),
            "charges": snapshot.text(sums.net - lines_net + allowances),
            "net": snapshot.text(sums.net),
            "tax": snapshot.text(sums.tax),
            "gross": snapshot.text(sums.net + sums.tax),
            "rounding": snapshot.text(sums.rounding),
            "total": snapshot.text(sums.total),
            "prepaid": "0",
            "due": snapshot.text(sums.total),
        },
        "prepaid": [],
        "drawings": {
            key: svg
            for key, svg in before.get("drawings", {}).items()
            if key
            in {str(each.line.order_line.design_id) for each in goods if each.line.order_line}
        },
    }
    return content


def _named(names: Mapping, category: str, rate: Decimal) -> dict[str, str]:
    for (known, at), tax in names.items():
        if known == category and Decimal(at) == rate:
            return {"name": tax["name"], "reason": tax["reason"]}
    return {"name": "", "reason": ""}


def _line_words(each: Credited) -> dict[str, Any]:
    line = each.line
    design = line.order_line.design if line.order_line else None
    return {
        "design": design.pk if design else None,
        "words": line.words,
        "detail": "",
        "quantity": each.quantity,
        "price": snapshot.text(line.price),
        "net": snapshot.text(each.net),
        "category": line.tax_category,
        "rate": snapshot.text(Decimal(line.tax_rate)),
    }
