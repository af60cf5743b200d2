"""The working of money: glass, pigment, fuel, labour, findings, overhead; lines and prices."""

from decimal import Decimal

from orders.costing.facts import PER_ORDER, Key
from orders.costing.labour import setup_pay
from orders.costing.numbers import ZERO
from orders.costing.results import BeadCosting, LineCosting, Taken
from orders.costing.work import bead_units, line_rates
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.beads import (
    fill_term,
    glass_term,
    line_need_term,
    needed_term,
    painted_term,
    start_term,
    to_string_term,
)
from orders.costing.working.firing import firing_term, fuel_cost_term
from orders.costing.working.glass import colour_cost_term, yield_terms
from orders.costing.working.labour import (
    bead_units_term,
    hourly_term,
    left_to_prepare,
    line_timed_term,
    line_units_term,
    rate_of,
    setup_term,
    unit_pay_term,
    units_term,
)
from orders.costing.working.strand import bead_count_term, cord_term
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _

POLICY = "price policy"


# -- beads ---------------------------------------------------------------------------------


def bead_cost_term(working: Working, bead: BeadCosting) -> Term:
    """What making all beads of a kind costs: glass, pigment and paint, fuel, labour."""

    def make() -> Term:
        money, key = working.currency, f"bead {bead.key}"
        name = _("Cost of making")
        if not bead.start:
            return given(name, ZERO, money, "stock", bead.name, key)
        glass = _bead_glass_cost(working, bead)
        fuels = [fuel_cost_term(working, bead, firing) for firing in bead.firings]
        children = [
            glass,
            bead_pigment_term(working, bead),
            added(_("Fuel"), bead.fuel_cost, money, fuels, bead.name, "fuel"),
            _bead_labour(working, bead),
        ]
        return added(name, bead.cost, money, children, bead.name, key)

    return working.once(("bead cost", bead.key), make)


def _bead_glass_cost(working: Working, bead: BeadCosting) -> Term:
    parts = []
    money = working.currency
    for part in working.unit(bead.key).colours:
        colour, form = part.colour, part.form.form
        needed = glass_term(working, bead, colour.key)
        yields = yield_terms(working, colour.key, form)
        raw_g = Decimal(needed.value) / yields[0].value / yields[1].value
        behind = worked(_("Raw glass behind it"), raw_g, "g", "quotient", [needed, *yields])
        price = given(_("Price of a kilogram"), colour.price_per_kg, money, "stock", colour.name)
        value = part.cost * bead.start
        key = f"colour {colour.key}"
        children = [behind, price]
        parts.append(worked(_("Glass"), value, money, "per_thousand", children, colour.name, key))
    return added(_("Glass"), bead.glass_cost, money, parts, bead.name, "glass")


def bead_pigment_term(working: Working, bead: BeadCosting) -> Term:
    """Pigment mixed into the glass, and paint."""

    def make() -> Term:
        unit, money = working.unit(bead.key), working.currency
        facts = unit.facts
        parts = []
        if facts.pigment_g_per_kg:
            dose = given(_("Pigment dose"), facts.pigment_g_per_kg, "g/kg", "bead", bead.name)
            children = [start_term(working, bead), fill_term(working, unit), dose]
            name = _("Pigment needed")
            mass = worked(name, bead.pigment_g, "g", "per_thousand", children, bead.name)
            price = given(
                _("Price of pigment"), facts.pigment_price_per_kg, money, "bead", bead.name
            )
            value = unit.pigment_cost * bead.start
            parts.append(worked(_("Pigment"), value, money, "per_thousand", [mass, price]))
        if facts.painted and facts.paint_price_each:
            each = given(_("Paint for one"), facts.paint_price_each, money, "bead", bead.name)
            value = facts.paint_price_each * bead.painted
            painted = painted_term(working, bead)
            parts.append(worked(_("Paint"), value, money, "product", [painted, each]))
        name = _("Pigment and paint")
        return added(name, bead.pigment_cost, money, parts, bead.name, f"bead {bead.key}")

    return working.once(("pigment", bead.key), make)


def _bead_labour(working: Working, bead: BeadCosting) -> Term:
    left = left_to_prepare(working)
    parts = []
    for rate in working.unit(bead.key).rates:
        units = bead_units(rate, bead, left)
        if units:
            term = bead_units_term(working, bead, rate, units)
            parts.append(unit_pay_term(working, rate, term, term, f"rate {rate.key}"))
    return added(_("Labour"), bead.labour_cost, working.currency, parts, bead.name, "labour")


def bead_term(working: Working, bead: BeadCosting) -> Term:
    """One kind of bead: needed, to make, to start, fired, its cost."""

    def make() -> Term:
        children = [needed_term(working, bead)]
        if bead.start:
            unit = working.unit(bead.key)
            children += [start_term(working, bead), fill_term(working, unit)]
            children += [firing_term(working, bead, firing) for firing in bead.firings]
            if bead.painted:
                children.append(painted_term(working, bead))
        children.append(bead_cost_term(working, bead))
        return listed(_("Bead"), children, bead.name, f"bead {bead.key}")

    return working.once(("bead", bead.key), make)


# -- lines ---------------------------------------------------------------------------------


def line_cost_term(working: Working, line: LineCosting) -> Term:
    def make() -> Term:
        money = working.currency
        direct = [
            _beads_share(working, line),
            findings_term(working, line),
            _line_labour(working, line),
            _once_share(working, line),
        ]
        direct_cost = line.beads_cost + line.findings_cost + line.labour_cost + line.order_cost
        made = added(_("Cost of making"), direct_cost, money, direct, line.name, "making")
        policy = working.workshop.policy
        overhead = given(_("Overhead"), policy.overhead, "", POLICY)
        on_top = worked(
            _("Overhead"), line.overhead_cost, money, "product", [made, overhead], key="overhead"
        )
        children = [made, on_top, shelf_term(working, line)]
        key = f"line {line.index + 1}"
        return added(_("Cost of a line"), line.cost, money, children, line.name, key)

    return working.once(("line cost", line.index), make)


def _beads_share(working: Working, line: LineCosting) -> Term:
    parts = []
    for bead in working.costing.beads:
        for index, count in bead.share_by_line:
            if index == line.index:
                need = line_need_term(working, bead, index)
                children = [bead_cost_term(working, bead), need, needed_term(working, bead)]
                value = bead.cost * count / bead.needed
                name = _("Beads made for it")
                key = f"bead {bead.key}"
                money = working.currency
                parts.append(worked(name, value, money, "share", children, bead.name, key))
    return added(_("Beads"), line.beads_cost, working.currency, parts, line.name, "beads")


def findings_term(working: Working, line: LineCosting) -> Term:
    """Clasps, spacers and cord of a line's strung pieces."""

    def make() -> Term:
        money, key = working.currency, f"line {line.index + 1} findings"
        name = _("Findings")
        if line.design is None or line.layout is None or not line.to_string:
            return given(name, line.findings_cost, money, "order line", line.name, key)
        each = working.once(("findings", line.design), lambda: _findings_each(working, line))
        children = [each, to_string_term(working, line)]
        return worked(name, line.findings_cost, money, "product", children, line.name, key)

    return working.once(("findings of line", line.index), make)


def _findings_each(working: Working, line: LineCosting) -> Term:
    assert line.design is not None and line.layout is not None
    workshop, money = working.workshop, working.currency
    design = workshop.designs[line.design]
    parts = []
    for place, finding in enumerate(design.findings):
        price = given(_("Price"), finding.price, money, "design", finding.name)
        count = given(_("How many"), finding.count, "", "design", design.name)
        value, key = finding.price * finding.count, f"finding {place + 1}"
        children = [price, count]
        parts.append(worked(_("Finding"), value, money, "product", children, finding.name, key))
    for item, number in line.layout.spacers:
        spacer = workshop.spacers[item]
        price = given(_("Price"), spacer.price, money, "spacer", spacer.name)
        children = [price, bead_count_term(working, line.layout, item, spacer=True)]
        value = spacer.price * number
        label = f"spacer {item}"
        parts.append(worked(_("Spacers"), value, money, "product", children, spacer.name, label))
    price = given(_("Price of a metre"), design.cord.price_per_m, money, "design", design.cord.name)
    value = line.layout.cord_mm / 1000 * design.cord.price_per_m
    children = [cord_term(working, line.layout), price]
    parts.append(worked(_("Cord"), value, money, "product", children, design.cord.name, "cord"))
    each = workshop._kept["findings", design.key]
    return added(_("Findings of one piece"), each, money, parts, design.name)


def _line_labour(working: Working, line: LineCosting) -> Term:
    parts = []
    if line.to_string:
        for rate in line_rates(working.workshop):
            units = line_units_term(working, line, rate)
            timed = line_timed_term(working, line, rate)
            parts.append(unit_pay_term(working, rate, units, timed, f"rate {rate.key}"))
    name = _("Labour of stringing")
    return added(name, line.labour_cost, working.currency, parts, line.name, "labour")


def once_term(working: Working) -> Term:
    """Pay for what comes once an order: its own steps and every set-up."""

    def make() -> Term:
        parts = []
        for work in working.costing.labour:
            rate = rate_of(working, work)
            if rate.basis == PER_ORDER:
                units = units_term(working, work, rate)
                parts.append(unit_pay_term(working, rate, units, units, f"rate {rate.key}"))
            if rate.setup_min:
                children = [setup_term(working, rate), hourly_term(working, rate)]
                key = f"rate {rate.key} set-up"
                name = _("Pay for the set-up")
                money, value = working.currency, setup_pay(rate)
                parts.append(worked(name, value, money, "paid_by_hour", children, rate.step, key))
        return added(_("Once an order"), working.costing.once_cost, working.currency, parts)

    return working.once("once", make)


def _once_share(working: Working, line: LineCosting) -> Term:
    name, money = _("Share of what comes once"), working.currency
    own = own_cost_term(working, line)
    owns = [own_cost_term(working, other) for other in working.costing.lines]
    whole = sum((other.value for other in owns), ZERO)
    if not working.costing.once_cost:
        return given(name, line.order_cost, money, "rate", line.name, "once")
    if not whole:
        lines = given(_("Lines"), len(owns), "", "order", "")
        children = [once_term(working), lines]
        return worked(name, line.order_cost, money, "quotient", children, line.name, "once")
    total = working.once("all own", lambda: added(_("The same of all lines"), whole, money, owns))
    children = [once_term(working), own, total]
    return worked(name, line.order_cost, money, "share", children, line.name, "once")


def own_cost_term(working: Working, line: LineCosting) -> Term:
    """What a line costs before the share of what comes once an order."""
    return working.once(("own", line.index), lambda: _own_cost(working, line))


def _own_cost(working: Working, line: LineCosting) -> Term:
    value = line.beads_cost + line.findings_cost + line.labour_cost
    children = [
        _beads_share(working, line),
        findings_term(working, line),
        _line_labour(working, line),
    ]
    name = _("Beads, findings and stringing")
    return added(name, value, working.currency, children, line.name, f"line {line.index + 1}")


def shelf_term(working: Working, line: LineCosting) -> Term:
    """What the beads and ready strands taken from the shelf are worth."""

    def make() -> Term:
        parts = []
        for bead in working.costing.beads:
            for index, count in bead.share_by_line:
                if index == line.index and bead.shelf_cost:
                    value = bead.shelf_cost * count / bead.needed
                    children = [
                        _taken_value(working, bead.taken, bead.shelf_cost, bead.name, bead.key),
                        line_need_term(working, bead, index),
                        needed_term(working, bead),
                    ]
                    name, money = _("Beads from the shelf"), working.currency
                    key = f"bead {bead.key}"
                    parts.append(worked(name, value, money, "share", children, bead.name, key))
        strands = line.shelf_cost - sum((part.value for part in parts), ZERO)
        if line.ready_taken and strands:
            parts.append(
                given(_("Ready strands"), strands, working.currency, "stock", line.name, "strands")
            )
        name = _("From the shelf")
        return added(name, line.shelf_cost, working.currency, parts, line.name, "shelf")

    return working.once(("shelf", line.index), make)


def _taken_value(
    working: Working, taken: tuple[Taken, ...], value: Decimal, subject: str, key: Key
) -> Term:
    def make() -> Term:
        parts = []
        money = working.currency
        for batch in taken:
            if batch.value_each:
                count = given(_("Taken from a batch"), batch.count, "beads", "stock", batch.name)
                each = given(_("Value of one"), batch.value_each, money, "stock", batch.name)
                worth = batch.count * batch.value_each
                label = f"batch {batch.key}"
                name = _("Value taken")
                children = [count, each]
                parts.append(worked(name, worth, money, "product", children, batch.name, label))
        return added(_("Value taken from the shelf"), value, money, parts, subject)

    return working.once(("taken value", key), make)


def glass_cost_term(working: Working) -> Term:
    """All glass of the order, colour by colour."""
    costing = working.costing
    parts = [colour_cost_term(working, glass) for glass in costing.glass]
    return added(_("Glass"), costing.glass_cost, working.currency, parts, key="glass")
