"""What a paper adds up to, by the calculation rules of EN 16931.

Every amount is rounded once, at the step named here, half-up. A credit note uses the same rules
with amounts above 0.

Source: EN 16931-1, rules BR-CO-10 to BR-CO-17 and BR-S-08 (CEN/TC 434 validation artefacts).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.money import round_half_up, round_to_coin

ZERO = Decimal(0)


class TotalsError(ValueError):
    """What was charged does not add up to a paper; the text is a whole sentence."""


@dataclass(frozen=True, slots=True)
class TaxKind:
    """Category letter (UNTDID 5305) and rate in per cent."""

    category: str
    rate: Decimal = ZERO


OUTSIDE = TaxKind("O")


@dataclass(frozen=True, slots=True)
class Charged:
    """One line: quantity × price ÷ base quantity, less its allowance, plus its charge."""

    quantity: Decimal
    price: Decimal
    kind: TaxKind = OUTSIDE
    base_quantity: Decimal = Decimal(1)
    allowance: Decimal = ZERO
    charge: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Adjustment:
    """An allowance (amount below 0) or charge on the paper as a whole, and how it is taxed."""

    amount: Decimal
    kind: TaxKind = OUTSIDE


@dataclass(frozen=True, slots=True)
class TaxGroup:
    """Category, rate, the amount it applies to (BT-116) and its tax (BT-117)."""

    kind: TaxKind
    base: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of a paper, named by their business terms.

    nets       BT-131 line by line     lines   BT-106    allowances  BT-107    charges  BT-108
    net        BT-109                  tax     BT-110    gross       BT-112
    rounding   BT-114                  total   gross + rounding: what is asked for
    """

    nets: tuple[Decimal, ...]
    adjustments: tuple[Decimal, ...]
    groups: tuple[TaxGroup, ...]
    lines: Decimal
    allowances: Decimal
    charges: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    rounding: Decimal
    total: Decimal


def line_net(line: Charged, digits: int, prices_include_tax: bool = False) -> Decimal:
    """BT-131: the line without tax, at the currency's decimals.

    >>> line_net(Charged(Decimal(37), Decimal("4.35"), allowance=Decimal("8.05")), 2)
    Decimal('152.90')
    >>> line_net(Charged(Decimal(1000), Decimal("21.60"), base_quantity=Decimal(144)), 2)
    Decimal('150.00')
    """
    if line.base_quantity <= 0:
        raise TotalsError("A price is for a quantity above 0.")
    stated = line.quantity * line.price / line.base_quantity - line.allowance + line.charge
    if not prices_include_tax:
        return round_half_up(stated, digits)
    return round_half_up(without_tax(round_half_up(stated, digits), line.kind), digits)


def without_tax(amount: Decimal, kind: TaxKind) -> Decimal:
    """The part of an amount that includes tax which is not tax, unrounded.

    >>> without_tax(Decimal("123.00"), TaxKind("S", Decimal(23))) == 100
    True
    """
    return amount * 100 / (100 + kind.rate)


def add_up(
    lines: Sequence[Charged],
    adjustments: Sequence[Adjustment] = (),
    *,
    digits: int,
    prices_include_tax: bool = False,
    coin: Decimal | None = None,
) -> Totals:
    """The totals of a paper; `coin` rounds what is asked for to the smallest coin (BT-114).

    With prices that include tax, what is asked for is what the prices add up to: the cent that
    taking the tax out may cost stands in `rounding`, and the tax rules hold for the rest.

    >>> three = [Charged(Decimal(1), Decimal("0.33"), TaxKind("S", Decimal(19)))] * 3
    >>> paper = add_up(three, digits=2, coin=Decimal("0.05"))
    >>> paper.tax, paper.gross, paper.total
    (Decimal('0.19'), Decimal('1.18'), Decimal('1.20'))
    """
    nets = tuple(line_net(line, digits, prices_include_tax) for line in lines)
    adjusted = tuple(_adjusted(each, digits, prices_include_tax) for each in adjustments)
    bases: dict[TaxKind, Decimal] = {}
    for kind, amount in [
        *zip((line.kind for line in lines), nets, strict=True),
        *zip((each.kind for each in adjustments), adjusted, strict=True),
    ]:
        bases[kind] = bases.get(kind, ZERO) + amount
    groups = tuple(
        TaxGroup(kind, base, round_half_up(base * kind.rate / 100, digits))
        for kind, base in sorted(bases.items(), key=lambda item: (-item[0].rate, item[0].category))
    )
    summed = sum(nets, ZERO)
    allowances = -sum((amount for amount in adjusted if amount < 0), ZERO)
    charges = sum((amount for amount in adjusted if amount > 0), ZERO)
    net = summed - allowances + charges
    tax = sum((group.tax for group in groups), ZERO)
    gross = net + tax
    total = _stated(lines, adjustments, digits) if prices_include_tax else gross
    if coin is not None:
        total = round_to_coin(total, coin)
    return Totals(
        nets, adjusted, groups, summed, allowances, charges, net, tax, gross, total - gross, total
    )


def _adjusted(each: Adjustment, digits: int, prices_include_tax: bool) -> Decimal:
    stated = round_half_up(each.amount, digits)
    if not prices_include_tax:
        return stated
    return round_half_up(without_tax(stated, each.kind), digits)


def _stated(lines: Sequence[Charged], adjustments: Sequence[Adjustment], digits: int) -> Decimal:
    """What prices that include tax add up to."""
    shown = [line_net(line, digits) for line in lines]
    shown += [round_half_up(each.amount, digits) for each in adjustments]
    return sum(shown, ZERO)
