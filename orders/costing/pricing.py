"""From cost to price: the lowest that loses nothing, the suggested one, and the one in force.

Two floors: what a line costs in full, and what it takes out of the drawer. The lowest price is the
greater of the two, rounded up to the minor unit. suggested = cost of one ÷ (1 − margin), less a
quantity break, but no less than what it takes out of the drawer, rounded up to a saleable step.
Floors are without VAT; a price that holds it is compared without.

The price in force is, first found: agreed for the line, agreed with the customer, the price list of
the customer's group (the largest quantity reached), the suggested one. A quantity break comes off a
list price too, unless the list itself names a price for as many as the break begins at.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.costing.checks import loss, number
from orders.costing.facts import Key, LineFacts, OrderFacts, WorkshopFacts
from orders.costing.figures import MONEY, Figure, fact, rule
from orders.costing.numbers import ZERO
from workshop.money import round_to_coin, smallest_unit
from workshop.physics.sentences import gettext_noop as _

Step = tuple[int, Decimal]  # from how many, and the price or the share off
NO_BREAK: Step = (1, ZERO)


POLICY, BREAKS = "price policy", "quantity breaks"
OVERHEAD = fact(_("Overhead"), "", POLICY)
ORDERED = fact(_("Ordered"), "pieces", "order line")
SMALLEST = fact(_("Smallest unit of money"), MONEY, "ISO 4217")
COST_EACH = rule(_("Cost of one"), MONEY, "quotient", "cost each")
POCKET_EACH = rule(_("Out of pocket for one"), MONEY, "quotient", "out of pocket each")
GREATER = rule(_("The greater of the two"), MONEY, "greatest")
TAX = fact(_("Rate of VAT"), "", "VAT rates")
WITH_TAX = rule(_("With VAT"), MONEY, "with")
WITHOUT_TAX = rule(_("Without VAT"), MONEY, "without_tax")
LOWEST = rule(_("Lowest price"), MONEY, "up_to_step", "lowest")
MARGIN_ASKED = fact(_("Margin asked for"), "", POLICY)
WITH_MARGIN = rule(_("With its margin"), MONEY, "before_loss")
OFF = fact(_("Quantity break"), "", BREAKS)
NONE_OFF = fact(_("Quantity break"), "", "price list: it names a price for as many")
LESS_OFF = rule(_("Less the quantity break"), MONEY, "without")
STEP = fact(_("Prices are rounded up to"), MONEY, POLICY)
SUGGESTED = rule(_("Suggested price"), MONEY, "up_to_step", "suggested")

EACH = _("Price of one")
AS_SUGGESTED = rule(EACH, MONEY, "same", "price")
FROM_LIST = rule(EACH, MONEY, "half_up_less", "price")
LISTED = fact(_("Price in the list"), MONEY, "price list")
AGREED = {source: fact(EACH, MONEY, source, "price") for source in ("order line", "customer")}
LINE_PRICE = rule(_("Price of a line"), MONEY, "half_up")
MARGIN = rule(_("Margin"), "", "margin", "margin")


# What is said of a price below a floor, for whoever must not overlook it.
LOSES, NO_SHARE = "loses money", "does not carry its share"


@dataclass(slots=True)
class Price:
    """The prices of one line; see `LineCosting` for what each is."""

    cost_each: Figure
    pocket_each: Figure
    lowest: Figure
    suggested: Figure
    margin_asked: Figure
    off: Figure
    each: Figure
    origin: str
    listed: Figure | None
    off_listed: Figure | None
    total: Figure
    net: Figure
    margin: Figure | None
    word: str


class PriceBook:
    """The policy, checked once and looked up often."""

    __slots__ = ("breaks", "margin", "margins", "overhead", "prices", "smallest", "step")

    def __init__(self, workshop: WorkshopFacts) -> None:
        policy = workshop.policy
        self.overhead = OVERHEAD(number(policy.overhead, "overhead", "the workshop", most=100))
        self.margin = loss(policy.margin, "margin", "the workshop")
        self.margins = {group: loss(share, "margin", group) for group, share in policy.margins}
        self.step = STEP(number(policy.step, "step", "the workshop", above=True))
        self.smallest = SMALLEST(smallest_unit(workshop.currency), workshop.currency)
        self.prices: dict[tuple[Key, str], list[Step]] = {}
        for listed in policy.prices:
            number(listed.price, "price", "the price list")
            entry = (listed.from_quantity, listed.price)
            self.prices.setdefault((listed.design, listed.group), []).append(entry)
        self.breaks: dict[str, list[Step]] = {}
        for step in policy.breaks:
            loss(step.off, "off", "the price list")
            self.breaks.setdefault(step.group, []).append((step.from_quantity, step.off))

    def listed(self, item: Key, group: str, quantity: int) -> Step | None:
        """The group's own price, else everybody's, at the largest quantity reached."""
        for of_group in (group, "") if group else ("",):
            reached = _reached(self.prices.get((item, of_group), ()), quantity)
            if reached is not None:
                return reached
        return None

    def off(self, group: str, quantity: int) -> Step:
        """The quantity break reached: the group's own, else everybody's, else none."""
        for of_group in (group, "") if group else ("",):
            reached = _reached(self.breaks.get(of_group, ()), quantity)
            if reached is not None:
                return reached
        return NO_BREAK


def _reached(steps: list[Step] | tuple[()], quantity: int) -> Step | None:
    best: Step | None = None
    for step in steps:
        if step[0] <= quantity and (best is None or step[0] > best[0]):
            best = step
    return best


def price_book(workshop: WorkshopFacts) -> PriceBook:
    """The workshop's price policy, checked; worked out once per workshop's facts.

    Raises CostingError for an overhead, margin, step or price that cannot be.
    """
    kept = workshop._kept.get("prices")
    if kept is None:
        kept = workshop._kept["prices"] = PriceBook(workshop)
    return kept


def list_steps(
    workshop: WorkshopFacts, design: Key, group: str
) -> list[tuple[int, Decimal | None]]:
    """What one costs by the price list from so many on, breaks taken off; None where no list says.

    Every step at which it may become another; a test holds them to `price_line`.
    """
    book = price_book(workshop)
    smallest = smallest_unit(workshop.currency)
    begins = {1}
    for of_group in (group, ""):
        begins |= {step[0] for step in book.prices.get((design, of_group), ())}
        begins |= {step[0] for step in book.breaks.get(of_group, ())}
    steps: list[tuple[int, Decimal | None]] = []
    for least in sorted(begins):
        found, (break_from, off) = book.listed(design, group, least), book.off(group, least)
        if found is None:
            steps.append((least, None))
        else:
            taken = off if break_from > found[0] else ZERO
            steps.append((least, round_to_coin(found[1] * (1 - taken), smallest)))
    return steps


def price_line(
    order: OrderFacts, line: LineFacts, cost: Figure, pocket: Figure, name: str, place: int
) -> Price:
    """The prices of one line: of its strands, or its loose beads.

    cost    of them all, in full
    pocket  what they take out of the drawer
    place   1 for the first line of the order

    Source: cost ÷ (1 − margin) × (1 − break), rounded up to a saleable step (common practice; a
    line's price is rounded half-up once, as EN 16931 does).
    """
    book = price_book(order.workshop)
    smallest = book.smallest
    asked = ORDERED(line.quantity, name)
    cost_each = COST_EACH(name, cost, asked)
    pocket_each = POCKET_EACH(name, pocket, asked)
    tax = TAX(number(order.tax, "tax", "the customer", most=10)) if order.tax else None
    margin_asked = MARGIN_ASKED(book.margins.get(order.group, book.margin))
    break_from, share_off = book.off(order.group, line.quantity)
    off = OFF(share_off, name)
    less = LESS_OFF("", WITH_MARGIN("", cost_each, margin_asked), off)
    least = GREATER("", less, pocket_each) if pocket_each.value > less.value else less
    suggested = SUGGESTED(name, _with_tax(least, tax), book.step)
    floor = GREATER(name, cost_each, pocket_each)
    found = None
    if line.design is not None:
        found = book.listed(line.design, order.group, line.quantity)
    listed = off_listed = None
    if found is not None:
        listed = LISTED(found[1], name)
        off_listed = off if break_from > found[0] or not share_off else NONE_OFF(ZERO, name)
    if line.price is not None:
        origin, each = "line", AGREED["order line"](line.price, name)
    elif line.design is not None and (agreed := _agreed(order, line.design)) is not None:
        origin, each = "customer", AGREED["customer"](agreed, name)
    elif listed is not None and off_listed is not None:
        origin, each = "list", FROM_LIST(name, listed, off_listed, smallest)
    else:
        origin, each = "suggested", AS_SUGGESTED(name, suggested)
    charged = LINE_PRICE(name, each, asked, smallest, key=f"line {place}")
    net = charged if tax is None else WITHOUT_TAX(name, charged, tax, key=f"line {place}")
    return Price(
        cost_each=cost_each,
        pocket_each=pocket_each,
        lowest=LOWEST(name, _with_tax(floor, tax), smallest),
        suggested=suggested,
        margin_asked=margin_asked,
        off=off,
        each=each,
        origin=origin,
        listed=listed,
        off_listed=off_listed,
        total=charged,
        net=net,
        margin=MARGIN(name, cost, net) if charged.value else None,
        word=word_of(net.value, cost.value, pocket.value),
    )


def prices_told(price: Price) -> dict[str, Any]:
    """The prices of a line by the names under which `LineCosting` tells them."""
    return {
        "cost_each": price.cost_each,
        "pocket_each": price.pocket_each,
        "lowest": price.lowest,
        "suggested": price.suggested,
        "price_each": price.each,
        "price_from": price.origin,
        "price_total": price.total,
        "price_net": price.net,
        "margin": price.margin,
        "margin_asked": price.margin_asked,
        "off": price.off,
        "listed": price.listed,
        "off_listed": price.off_listed or ZERO,
        "word": price.word,
    }


def word_of(net: Decimal, cost: Decimal, pocket: Decimal) -> str:
    """What is to be said of a price without VAT: "" where it stands on or above both floors.

    >>> word_of(Decimal(8) / Decimal("1.23"), Decimal("8.500779"), Decimal("1.254397"))
    'does not carry its share'
    """
    if net < pocket:
        return LOSES
    return NO_SHARE if net < cost else ""


def _with_tax(amount: Figure, tax: Figure | None) -> Figure:
    """An amount as this customer is told it."""
    return amount if tax is None else WITH_TAX("", amount, tax)


def _agreed(order: OrderFacts, design: Key) -> Decimal | None:
    for key, price in order.agreed:
        if key == design:
            return number(price, "price", "the customer")
    return None
