"""The working of prices: lowest, suggested, in force, and the margin."""

from orders.costing.numbers import ONE
from orders.costing.results import LineCosting
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.money import POLICY, line_cost_term
from orders.costing.working.terms import Term
from workshop.money import smallest_unit
from workshop.physics.sentences import gettext_noop as _

BREAKS = "quantity breaks"


def _cost_each(working: Working, line: LineCosting) -> Term:
    def make() -> Term:
        asked = given(_("Ordered"), line.quantity, "pieces", "order line", line.name)
        children = [line_cost_term(working, line), asked]
        name, money = _("Cost of one"), working.currency
        return worked(name, line.cost_each, money, "quotient", children, line.name, "cost each")

    return working.once(("cost each", line.index), make)


def _prices(working: Working, line: LineCosting) -> list[Term]:
    money = working.currency
    each = _cost_each(working, line)
    cent = given(_("Smallest unit of money"), smallest_unit(money), money, "ISO 4217", money)
    lowest = worked(
        _("Lowest price"), line.lowest, money, "up_to_step", [each, cent], line.name, "lowest"
    )
    margin = given(_("Margin asked for"), line.margin_asked, "", POLICY)
    marked = line.cost_each / (ONE - line.margin_asked)
    before = worked(_("With its margin"), marked, money, "before_loss", [each, margin])
    off = given(_("Quantity break"), line.off, "", BREAKS, line.name)
    less = worked(
        _("Less the quantity break"), marked * (ONE - line.off), money, "without", [before, off]
    )
    step = given(_("Prices are rounded up to"), working.workshop.policy.step, money, POLICY)
    suggested = worked(
        _("Suggested price"),
        line.suggested,
        money,
        "up_to_step",
        [less, step],
        line.name,
        "suggested",
    )
    price = _price_in_force(working, line, suggested, off, cent)
    total = _price_total(working, line, price, cent)
    terms = [lowest, suggested, price, total]
    if line.margin is not None:
        children = [line_cost_term(working, line), total]
        terms.append(worked(_("Margin"), line.margin, "", "margin", children, line.name, "margin"))
    return terms


def _price_in_force(
    working: Working, line: LineCosting, suggested: Term, off: Term, cent: Term
) -> Term:
    name, money = _("Price of one"), working.currency

    def make() -> Term:
        if line.price_from == "suggested":
            return worked(name, line.price_each, money, "same", [suggested], line.name, "price")
        if line.price_from == "list" and line.listed is not None:
            from_list = given(_("Price in the list"), line.listed, money, "price list", line.name)
            off_list = off
            if line.off_listed != line.off:
                source = "price list: it names a price for as many"
                off_list = given(_("Quantity break"), line.off_listed, "", source, line.name)
            children = [from_list, off_list, cent]
            how = "half_up_less"
            return worked(name, line.price_each, money, how, children, line.name, "price")
        source = "order line" if line.price_from == "line" else "customer"
        return given(name, line.price_each, money, source, line.name, "price")

    return working.once(("price", line.index), make)


def _price_total(working: Working, line: LineCosting, price: Term, cent: Term) -> Term:
    def make() -> Term:
        money = working.currency
        asked = given(_("Ordered"), line.quantity, "pieces", "order line", line.name)
        children = [price, asked, cent]
        name = _("Price of a line")
        key = f"line {line.index + 1}"
        return worked(name, line.price_total, money, "half_up", children, line.name, key)

    return working.once(("price total", line.index), make)


def order_price_term(working: Working) -> Term:
    """The sum of the lines' prices."""
    lines = working.costing.lines
    totals = [line_term(working, line).find(f"line {line.index + 1}") for line in lines]
    name = _("Price of the order")
    return added(name, working.costing.price_total, working.currency, totals, key="price")


def line_term(working: Working, line: LineCosting) -> Term:
    """One line: its cost, the lowest and suggested price, the price in force and the margin."""

    def make() -> Term:
        children = [_cost_each(working, line), *_prices(working, line)]
        return listed(_("Line"), children, line.name, f"line {line.index + 1}")

    return working.once(("line", line.index), make)
