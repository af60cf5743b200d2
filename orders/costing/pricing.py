"""From cost to price: the lowest that loses nothing, the suggested one, and the one in force.

suggested = cost of one ÷ (1 − margin), less a quantity break, rounded up to a saleable step. The
price in force is, first found: agreed for the line, agreed with the customer, the price list
of the customer's group (the largest quantity reached), the suggested one. A quantity break comes
off a list price too, unless the list itself names a price for as many as the break begins at.
"""

from dataclasses import dataclass
from decimal import Decimal

from orders.costing.checks import loss, number
from orders.costing.facts import Key, LineFacts, OrderFacts, WorkshopFacts
from orders.costing.numbers import ONE, ZERO
from workshop.money import round_half_up, round_up, round_up_to_step

Step = tuple[int, Decimal]  # from how many, and the price or the share off
NO_BREAK: Step = (1, ZERO)


@dataclass(frozen=True, slots=True)
class Price:
    lowest: Decimal
    suggested: Decimal
    margin_asked: Decimal
    off: Decimal
    each: Decimal
    origin: str
    listed: Decimal | None
    off_listed: Decimal


class PriceBook:
    """The policy, checked once and looked up often."""

    __slots__ = ("breaks", "margin", "margins", "overhead", "prices", "step")

    def __init__(self, workshop: WorkshopFacts) -> None:
        policy = workshop.policy
        self.overhead = number(policy.overhead, "overhead", "the workshop", most=100)
        self.margin = loss(policy.margin, "margin", "the workshop")
        self.margins = {group: loss(share, "margin", group) for group, share in policy.margins}
        self.step = number(policy.step, "step", "the workshop", above=True)
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
    kept = workshop._kept.get("prices")
    if kept is None:
        kept = workshop._kept["prices"] = PriceBook(workshop)
    return kept


def price_line(order: OrderFacts, line: LineFacts, cost_each: Decimal) -> Price:
    """The prices of one line whose strands (or loose beads) cost so much each."""
    workshop = order.workshop
    book = price_book(workshop)
    margin = book.margins.get(order.group, book.margin)
    break_from, off = book.off(order.group, line.quantity)
    suggested = round_up_to_step(cost_each / (ONE - margin) * (ONE - off), book.step)
    listed, off_listed = None, ZERO
    if line.design is not None:
        found = book.listed(line.design, order.group, line.quantity)
        if found is not None:
            list_from, listed = found
            off_listed = off if break_from > list_from else ZERO
    each, origin = suggested, "suggested"
    if line.price is not None:
        each, origin = line.price, "line"
    elif line.design is not None and (agreed := _agreed(order, line.design)) is not None:
        each, origin = agreed, "customer"
    elif listed is not None:
        each, origin = round_half_up(listed * (ONE - off_listed), workshop.currency), "list"
    return Price(
        lowest=round_up(cost_each, workshop.currency),
        suggested=suggested,
        margin_asked=margin,
        off=off,
        each=each,
        origin=origin,
        listed=listed,
        off_listed=off_listed,
    )


def _agreed(order: OrderFacts, design: Key) -> Decimal | None:
    for key, price in order.agreed:
        if key == design:
            return number(price, "price", "the customer")
    return None


def line_total(currency: str, quantity: int, price_each: Decimal) -> Decimal:
    """What a line is charged, rounded half-up once: the money line."""
    return round_half_up(price_each * quantity, currency)
