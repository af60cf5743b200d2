"""What a credit note adds up to: never more, all notes together, than its invoice charged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.models import Document, DocumentLine
from orders.money.services.paper_numbers import Amounts
from workshop.money import ZERO, round_half_up


@dataclass(frozen=True)
class Credited:
    """So much of one line of an invoice is given back."""

    line: DocumentLine
    quantity: int
    net: Decimal
    gross: Decimal = ZERO

    @property
    def signed(self) -> Decimal:
        return self.line.sign * self.net

    @property
    def signed_gross(self) -> Decimal:
        return self.line.sign * self.gross


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
    def amounts(self) -> Amounts:
        return Amounts(self.net, self.tax, self.rounding)


def credit_sums(
    invoice: Document, credited: Sequence[Credited], *, capped: bool = True
) -> CreditSums:
    """Tax by the category as on any paper, but all credit notes together never above the invoice.

    Rounding the tax of each part by itself could add up to a cent more or less than the invoice
    states, so the note that completes it takes exactly what is left. Where amounts were told with
    tax, they are what is given back, and a unit left over goes into the rounding (BT-114).

    capped  left out: what the lines come to, though the invoice asked for less
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
        if base == base_left:
            tax = tax_left
        elif capped and base > 0 and tax_left >= 0:
            tax = min(tax, tax_left)
        groups[key] = (base, tax)
    sums = CreditSums(groups, ZERO)
    whole = sums.net + sums.tax
    if told_with_tax(invoice):
        rounding = sum((each.signed_gross for each in credited), ZERO) - whole
    else:
        rounding = _rounding_left(invoice) if _all_of(bases, left) else ZERO
    rounding = max(rounding, -whole)
    if capped:
        most = left_to_credit(invoice) - whole
        # A payment on account is taken back only so far as the note would be above the invoice.
        rounding = most if _takes_back(credited) else min(rounding, most)
    return CreditSums(groups, rounding)


def _takes_back(credited: Sequence[Credited]) -> bool:
    return any(each.line.role == DocumentLine.Role.OFF for each in credited)


def told_with_tax(invoice: Document) -> bool:
    """Whether what its lines say with VAT is what is given back: to consumers, and on account.

    Older papers kept no amount with VAT beside the net of their lines.
    """
    content = invoice.content
    return invoice.on_account or (
        content.get("prices_include_tax", False) and content.get("version", 1) >= 2
    )


def left_to_credit(invoice: Document) -> Decimal:
    """What of an invoice's total no credit note has given back yet."""
    notes = invoice.named_by.filter(kind=Document.Kind.CREDIT)
    return invoice.total - sum((note.total for note in notes.defer("content")), ZERO)


def _left_by_group(invoice: Document) -> dict[tuple[str, Decimal], tuple[Decimal, Decimal]]:
    def key(tax: dict[str, str]) -> tuple[str, Decimal]:
        return tax["category"], Decimal(tax["rate"])

    left = {
        key(tax): (Decimal(tax["base"]), Decimal(tax["tax"])) for tax in invoice.content["taxes"]
    }
    for note in invoice.named_by.filter(kind=Document.Kind.CREDIT):
        for tax in note.content["taxes"]:
            base, amount = left[key(tax)]
            left[key(tax)] = (base - Decimal(tax["base"]), amount - Decimal(tax["tax"]))
    return left


def _all_of(bases: Mapping, left: Mapping) -> bool:
    return all(bases.get(key, ZERO) == base for key, (base, _tax) in left.items())


def _rounding_left(invoice: Document) -> Decimal:
    given = sum(
        (note.rounding for note in invoice.named_by.filter(kind=Document.Kind.CREDIT)), ZERO
    )
    return invoice.rounding - given
