"""What a credit note adds up to: never more, all notes together, than its invoice charged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.models import Document, DocumentLine
from orders.money.services.paper_numbers import Amounts
from workshop.money import ZERO, round_half_up

DISCOUNT = DocumentLine.Role.DISCOUNT


@dataclass(frozen=True)
class Credited:
    """So much of one line of an invoice is given back."""

    line: DocumentLine
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
    def amounts(self) -> Amounts:
        return Amounts(self.net, self.tax, self.rounding)


def credit_sums(invoice: Document, credited: Sequence[Credited]) -> CreditSums:
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
