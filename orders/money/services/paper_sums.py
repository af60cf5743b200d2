"""What stands on a paper that charges: its lines, charges, taxes and sums, frozen as text."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from orders.drawn.strands import printed_lengths
from orders.models import Customer, DocumentLine
from orders.money.queries import snapshot
from orders.money.queries.charging import ToCharge, taxed
from orders.money.services.deposits import TakenOff
from orders.money.services.paper_numbers import Amounts
from orders.money.totals import InvoiceTotals
from workshop.letterhead import read_in
from workshop.models import Business, TaxRate


def adjustments_of(totals: InvoiceTotals) -> list[tuple[str, Decimal, Decimal]]:
    """Discount and carriage by their role: without tax, and as they were told."""
    roles = [DocumentLine.Role.DISCOUNT] if totals.allowances else []
    roles += [DocumentLine.Role.CARRIAGE] if totals.charges else []
    nets = [amount for amount in (totals.allowances, totals.charges) if amount]
    told = [amount for amount in totals.adjusted if amount]
    return [(str(role), net, as_told) for role, net, as_told in zip(roles, nets, told, strict=True)]


def amounts_of(totals: InvoiceTotals) -> Amounts:
    """What a paper of these totals asks for, before anything paid in advance."""
    return Amounts(totals.without_tax, totals.tax, totals.rounding)


def goods_content(
    to_charge: Sequence[ToCharge],
    totals: InvoiceTotals,
    business: Business,
    ordinary: TaxRate | None,
    *,
    with_tax: bool,
    reader: Customer,
    taken_off: Sequence[TakenOff] = (),
    drawn: bool = True,
) -> dict[str, Any]:
    """Lines, charges, taxes, sums and drawings of a quote or an invoice, frozen.

    Totals and taxes are those with the payments on account taken off already.
    """
    with read_in(business, reader):
        lengths = printed_lengths(each.line.design for each in to_charge)
        lines = [
            _line_words(each, net, amount, lengths[each.line.design_id])
            for each, net, amount in zip(
                to_charge, totals.line_nets, totals.line_amounts, strict=True
            )
        ]
        lines += [off.line_words for off in taken_off]
    used = [each.rate for each in to_charge if each.rate] + ([ordinary] if ordinary else [])
    return {
        "prices_include_tax": business.tax_registered and with_tax,
        "lines": lines,
        "charges": [
            {
                "role": role,
                "net": snapshot.text(net),
                "amount": snapshot.text(told),
                **_kind_words(ordinary),
            }
            for role, net, told in adjustments_of(totals)
        ],
        "taxes": snapshot.taxes(totals, used),
        "sums": snapshot.sums(totals),
        "drawings": snapshot.drawings(each.line.design for each in to_charge) if drawn else {},
    }


def _line_words(each: ToCharge, net: Decimal, amount: Decimal, length: str) -> dict[str, Any]:
    line = each.line
    return {
        "design": line.design_id,
        "words": line.design.name_for_reader,
        "code": line.design.code,
        "detail": length,
        "quantity": each.quantity,
        "price": snapshot.text(line.price),
        "net": snapshot.text(net),
        "amount": snapshot.text(amount),
        **_kind_words(each.rate),
    }


def _kind_words(rate: TaxRate | None) -> dict[str, str]:
    kind = taxed(rate)
    return {"category": kind["category"], "rate": snapshot.text(kind["rate"])}
