"""The arithmetic of an invoice by EN 16931: every amount rounded half-up once, and only there.

BR-CO-10  sum of line nets (BT-106)
BR-CO-11  document allowances (BT-107); BR-CO-12 document charges (BT-108)
BR-CO-13  total without tax (BT-109) = lines − allowances + charges
BR-S-08   taxable amount (BT-116) per category and rate (and likewise for the other categories)
BR-CO-17  tax of a category (BT-117) = BT-116 × rate ÷ 100, rounded
BR-CO-14  total tax (BT-110) = sum of BT-117
BR-CO-15  total with tax (BT-112) = BT-109 + BT-110
BR-CO-16  amount due (BT-115) = BT-112 − paid (BT-113) + rounding (BT-114)

Source: CEN EN 16931-1:2017, rule texts as published in the validation artefacts of CEN/TC 434
(release 1.3.16, 2026). The net of a line (BT-131) is quantity × price ÷ base quantity − allowance +
charge, rounded, which the samples of that release agree with.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, localcontext

from orders.costing.checks import number
from orders.costing.errors import CostingError
from orders.costing.facts import Key
from workshop.money import (
    ZERO,
    minor_digits,
    round_half_up,
    round_to_coin,
    split_by_largest_remainder,
)
from workshop.physics.sentences import gettext_noop

# Letters of UNTDID 5305 as EN 16931 uses them, and the reason that must stand on the invoice.
CATEGORIES: dict[str, str] = {
    "S": "",
    "Z": "",
    "E": "",
    "AE": gettext_noop("Reverse charge"),
    "K": gettext_noop("Intra-community supply"),
    "G": gettext_noop("Export outside the union"),
    "O": gettext_noop("Not subject to VAT"),
}

NO_LINES = gettext_noop("The invoice has no lines. Add what is charged.")
NO_SUCH_CATEGORY = gettext_noop("“%(found)s” is not a VAT category. Choose one of: %(known)s.")
RATE_NEEDED = gettext_noop(
    "The standard category needs a rate of VAT above 0 %%. Write the rate, or choose another "
    "category."
)
RATE_NOT_ZERO = gettext_noop(
    "The VAT category %(found)s has no tax, so its rate must be 0 %%; it is %(rate)s %%."
)
REASON_NEEDED = gettext_noop(
    "A line exempt from VAT needs the reason for it. Write the reason, such as the article of law."
)
ALL_OUTSIDE = gettext_noop(
    "A line outside the scope of VAT cannot stand on an invoice with lines inside it. "
    "Make two invoices."
)
PRICE_NEGATIVE = gettext_noop(
    "A unit price cannot be below 0. For goods that come back, write a negative quantity or a "
    "credit note."
)
TOO_FINE = gettext_noop(
    "The %(what)s is %(found)s, finer than the smallest unit of %(currency)s. Round it first."
)


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """One line. Prices carry tax where `invoice_totals` is told so.

    price          of base_quantity units, not rounded; base_quantity 144 for a price per gross
    allowance, charge  amounts off and on the line
    rate           per cent
    reason         for no tax; needed for category E, optional for AE, K, G and O
    """

    quantity: Decimal
    price: Decimal
    base_quantity: Decimal = Decimal(1)
    allowance: Decimal = ZERO
    charge: Decimal = ZERO
    category: str = "S"
    rate: Decimal = ZERO
    reason: str = ""
    key: Key = ""


@dataclass(frozen=True, slots=True)
class DocumentAdjustment:
    """An allowance on the whole invoice, or (charge) something added, such as carriage."""

    amount: Decimal
    charge: bool = False
    category: str = "S"
    rate: Decimal = ZERO
    reason: str = ""


@dataclass(frozen=True, slots=True)
class TaxShare:
    """Taxable amount (BT-116) and tax (BT-117) of one category and rate."""

    category: str
    rate: Decimal
    base: Decimal
    tax: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class InvoiceTotals:
    """Amounts of an invoice with their terms of EN 16931."""

    currency: str
    line_nets: tuple[Decimal, ...]  # BT-131
    lines_total: Decimal  # BT-106
    allowances: Decimal  # BT-107
    charges: Decimal  # BT-108
    without_tax: Decimal  # BT-109
    tax: Decimal  # BT-110
    with_tax: Decimal  # BT-112
    paid: Decimal  # BT-113
    rounding: Decimal  # BT-114
    due: Decimal  # BT-115
    breakdown: tuple[TaxShare, ...]
    line_amounts: tuple[Decimal, ...] = ()  # as the prices are told: with tax, or without
    adjusted: tuple[Decimal, ...] = ()  # allowances and charges, told likewise


@dataclass(frozen=True, slots=True)
class OnAccount:
    """A payment on account, or part of one, at one rate.

    base    without tax, the net of its line; amount: what was received, tax included
    """

    base: Decimal
    amount: Decimal
    category: str = "S"
    rate: Decimal = ZERO
    reason: str = ""

    @property
    def group(self) -> "Group":
        return self.category, self.rate


Group = tuple[str, Decimal]


def line_amount(line: InvoiceLine, digits: int) -> Decimal:
    """Amount of a line: quantity × price ÷ base quantity − allowance + charge, half-up once.

    >>> line_amount(InvoiceLine(Decimal(1000), Decimal("21.60"), Decimal(144)), 2)
    Decimal('150.00')
    """
    with localcontext() as context:
        context.prec = 60
        gross = line.quantity * line.price / line.base_quantity
        return round_half_up(gross - line.allowance + line.charge, digits)


@dataclass(frozen=True, slots=True)
class Settling:
    """How an invoice is paid.

    paid    already received (BT-113)
    coin    smallest coin when the rest is paid in cash: rounds what is due (BT-114)
    digits  decimals where they are not those of the currency
    """

    paid: Decimal = ZERO
    coin: Decimal | None = None
    digits: int | None = None


def invoice_totals(
    currency: str,
    lines: Sequence[InvoiceLine],
    adjustments: Sequence[DocumentAdjustment] = (),
    settling: Settling = Settling(),
    *,
    prices_include_tax: bool = False,
) -> InvoiceTotals:
    """Work out an invoice (or, with the same signs, a credit note).

    currency            ISO 4217; gives the decimals unless `settling` says otherwise
    prices_include_tax  prices, line adjustments and document adjustments carry tax; what is to pay
                        is then their sum to the cent, any cent that BR-CO-17 leaves over going
                        into BT-114

    Raises CostingError for no lines, an unknown category, a rate that does not fit it, a missing
    reason, a negative unit price, numbers that are none.
    """
    paid, coin = settling.paid, settling.coin
    places = minor_digits(currency) if settling.digits is None else settling.digits
    if not lines:
        raise CostingError("lines", NO_LINES)
    reasons = _check(lines, adjustments)
    number(paid, "price", "the payment")
    if paid != round_half_up(paid, places):
        raise CostingError("paid", TOO_FINE, what="payment", found=paid, currency=currency)
    amounts = [line_amount(line, places) for line in lines]
    adjusted = [round_half_up(one.amount, places) for one in adjustments]
    told, told_adjusted = tuple(amounts), tuple(adjusted)
    charged = sum(amounts, ZERO) + sum(
        (amount if one.charge else -amount)
        for one, amount in zip(adjustments, adjusted, strict=True)
    )
    if prices_include_tax:
        amounts, adjusted = _taken_out(lines, adjustments, amounts, adjusted, places)
    lines_total = sum(amounts, ZERO)
    allowances = sum(
        (a for one, a in zip(adjustments, adjusted, strict=True) if not one.charge), ZERO
    )
    charges = sum((a for one, a in zip(adjustments, adjusted, strict=True) if one.charge), ZERO)
    without_tax = lines_total - allowances + charges
    breakdown = _breakdown(lines, adjustments, amounts, adjusted, reasons, places)
    tax = sum((share.tax for share in breakdown), ZERO)
    with_tax = without_tax + tax
    rounding = charged - with_tax if prices_include_tax else ZERO
    due = with_tax - paid + rounding
    if coin is not None:
        in_coins = round_half_up(round_to_coin(due, coin), places)
        rounding += in_coins - due
        due = in_coins
    return InvoiceTotals(
        currency=currency,
        line_nets=tuple(amounts),
        lines_total=lines_total,
        allowances=allowances,
        charges=charges,
        without_tax=without_tax,
        tax=tax,
        with_tax=with_tax,
        paid=paid,
        rounding=rounding,
        due=due,
        breakdown=breakdown,
        line_amounts=told,
        adjusted=told_adjusted,
    )


def on_account(amount: Decimal, shares: Sequence[TaxShare], currency: str) -> tuple[OnAccount, ...]:
    """What was received for an order, by rate: each part's base without the tax it contains.

    amount  received on account, tax included
    shares  tax of the whole order by rate; the amount is split by what each comes to with tax

    Source: Directive 2006/112/EC, articles 65 and 226(8): tax falls due on what came in, and the
    invoice states base, rate and tax. Base = part × 100 ÷ (100 + rate), half-up; parts by largest
    remainders (our choice).

    >>> [part] = on_account(Decimal("151.65"), [TaxShare("S", Decimal(23), Decimal(411),
    ...     Decimal("94.53"), "")], "EUR")
    >>> part.base
    Decimal('123.29')
    """
    places = minor_digits(currency)
    weights = [share.base + share.tax for share in shares]
    parts = split_by_largest_remainder(amount, weights, places)
    return tuple(
        OnAccount(
            round_half_up(part * 100 / (100 + share.rate), places),
            part,
            share.category,
            share.rate,
            share.reason,
        )
        for share, part in zip(shares, parts, strict=True)
        if part
    )


def on_account_totals(parts: Sequence[OnAccount], currency: str) -> InvoiceTotals:
    """The sums of the invoice for a payment on account: a line for each rate.

    What is asked is what was received; a unit that base and tax leave over goes into BT-114.

    >>> sums = on_account_totals(on_account(Decimal("1.04"), [TaxShare("S", Decimal(23),
    ...     Decimal(10), Decimal("2.30"), "")], "EUR"), "EUR")
    >>> sums.without_tax, sums.tax, sums.rounding
    (Decimal('0.85'), Decimal('0.20'), Decimal('-0.01'))
    """
    totals = invoice_totals(
        currency,
        [
            InvoiceLine(Decimal(1), part.base, category=part.category, rate=part.rate,
                        reason=part.reason)
            for part in parts
        ],
    )  # fmt: skip
    received = sum((part.amount for part in parts), ZERO)
    return replace(totals, rounding=received - totals.with_tax, due=received)


def less_on_account(totals: InvoiceTotals, taken_off: Sequence[OnAccount]) -> InvoiceTotals:
    """The final invoice: what the order comes to, less payments on account at their own rates.

    Each is a line below 0. Tax per rate is worked out on what is left, so that no tax stands on
    two invoices; what is asked is the order's sum less what was received, and BT-114 takes the
    unit that may be left over.

    Source: EN 16931 BR-S-08, BR-CO-10 and BR-CO-13 to 17; Directive 2006/112/EC, article 203.
    """
    if not taken_off:
        return totals
    places = minor_digits(totals.currency)
    bases = {(share.category, share.rate): share.base for share in totals.breakdown}
    reasons = {(share.category, share.rate): share.reason for share in totals.breakdown}
    for part in taken_off:
        bases[part.group] = bases.get(part.group, ZERO) - part.base
        reasons.setdefault(part.group, part.reason)
    breakdown = tuple(
        TaxShare(category, rate, base, round_half_up(base * rate / 100, places), reason)
        for (category, rate), base in bases.items()
        for reason in (reasons[category, rate],)
    )
    off = sum((part.base for part in taken_off), ZERO)
    tax = sum((share.tax for share in breakdown), ZERO)
    without_tax = totals.without_tax - off
    due = totals.due - sum((part.amount for part in taken_off), ZERO)
    return replace(
        totals,
        lines_total=totals.lines_total - off,
        without_tax=without_tax,
        tax=tax,
        with_tax=without_tax + tax,
        rounding=due - without_tax - tax,
        due=due,
        breakdown=breakdown,
    )


def _check(
    lines: Sequence[InvoiceLine], adjustments: Sequence[DocumentAdjustment]
) -> dict[Group, str]:
    """Refuse what no rule allows; give the reason of each category and rate."""
    reasons: dict[Group, str] = {}
    for index, line in enumerate(lines):
        label = f"line {index + 1}"
        if line.price < 0:
            raise CostingError("price", PRICE_NEGATIVE, subject=label, line=index)
        for value, field in (
            (line.price, "price"),
            (line.allowance, "off"),
            (line.charge, "price"),
        ):
            number(value, field, label)
        number(abs(line.quantity), "quantity", label)
        number(line.base_quantity, "quantity", label, above=True)
    grouped = [(line.category, line.rate, line.reason) for line in lines]
    grouped += [(one.category, one.rate, one.reason) for one in adjustments]
    for category, rate, given in grouped:
        _check_category(category, rate)
        reason = given or CATEGORIES[category]
        group = (category, rate)
        if reason or group not in reasons:
            reasons[group] = reason
    for adjustment in adjustments:
        number(adjustment.amount, "off", "the invoice")
    for (category, _rate), reason in reasons.items():
        if category == "E" and not reason:
            raise CostingError("reason", REASON_NEEDED)
    categories = {category for category, _rate in reasons}
    if "O" in categories and len(categories) > 1:
        raise CostingError("category", ALL_OUTSIDE)
    return reasons


def _check_category(category: str, rate: Decimal) -> None:
    if category not in CATEGORIES:
        raise CostingError(
            "category", NO_SUCH_CATEGORY, found=category, known=", ".join(CATEGORIES)
        )
    number(rate, "tax_rate", "the invoice", most=100)
    if category == "S" and rate == 0:
        raise CostingError("rate", RATE_NEEDED)
    if category != "S" and rate != 0:
        raise CostingError("rate", RATE_NOT_ZERO, found=category, rate=rate)


def _breakdown(
    lines: Sequence[InvoiceLine],
    adjustments: Sequence[DocumentAdjustment],
    amounts: Sequence[Decimal],
    adjusted: Sequence[Decimal],
    reasons: dict[Group, str],
    places: int,
) -> tuple[TaxShare, ...]:
    bases: dict[Group, Decimal] = {}
    for line, amount in zip(lines, amounts, strict=True):
        group = (line.category, line.rate)
        bases[group] = bases.get(group, ZERO) + amount
    for one, amount in zip(adjustments, adjusted, strict=True):
        group = (one.category, one.rate)
        bases[group] = bases.get(group, ZERO) + (amount if one.charge else -amount)
    return tuple(
        TaxShare(
            category=category,
            rate=rate,
            base=base,
            tax=round_half_up(base * rate / 100, places),
            reason=reasons[category, rate],
        )
        for (category, rate), base in bases.items()
    )


def _taken_out(
    lines: Sequence[InvoiceLine],
    adjustments: Sequence[DocumentAdjustment],
    amounts: Sequence[Decimal],
    adjusted: Sequence[Decimal],
    places: int,
) -> tuple[list[Decimal], list[Decimal]]:
    """Amounts that carry tax brought to amounts without it.

    Each category's base is its sum with tax × 100 ÷ (100 + rate), rounded once; its lines share
    that base by largest remainder.
    """
    nets = list(amounts)
    out = [
        round_half_up(amount * 100 / (100 + one.rate), places)
        for one, amount in zip(adjustments, adjusted, strict=True)
    ]
    for group in {(line.category, line.rate) for line in lines}:
        rate = group[1]
        mine = [i for i, line in enumerate(lines) if (line.category, line.rate) == group]
        gross = sum((amounts[i] for i in mine), ZERO)
        base = round_half_up(gross * 100 / (100 + rate), places)
        if gross and all(amounts[i] >= 0 for i in mine):
            parts = split_by_largest_remainder(base, [amounts[i] for i in mine], places)
        else:
            parts = [round_half_up(amounts[i] * 100 / (100 + rate), places) for i in mine]
        for i, part in zip(mine, parts, strict=True):
            nets[i] = part
    return nets, out


def credited_allowance(
    allowance: Decimal, credited: Decimal, sold: Decimal, currency: str
) -> Decimal:
    """The part of a line's allowance that goes back with some of what was sold.

    >>> credited_allowance(Decimal("8.05"), Decimal(5), Decimal(37), "EUR")
    Decimal('1.09')

    Source: computed: 8.05 × 5 ÷ 37 = 1.0878; the credit note so made passes the rules.
    """
    return round_half_up(allowance * credited / sold, currency)
