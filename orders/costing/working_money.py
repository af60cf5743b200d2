"""The working of money: glass, pigment, fuel, labour, findings, overhead; lines and prices."""

from decimal import Decimal

from orders.costing.facts import ONE, PER_BEAD, PER_ORDER, STRINGING, Key, RateFacts
from orders.costing.labour import learned_units, pay, setup_pay
from orders.costing.operations import ZERO
from orders.costing.results import BeadCosting, LabourCosting, LineCosting, Taken
from orders.costing.terms import Term
from orders.costing.work import bead_units, line_rates
from orders.costing.working_base import Working, added, given, listed, worked
from orders.costing.working_beads import (
    bead_units_term,
    fill_term,
    firing_term,
    fuel_cost_term,
    glass_term,
    line_need_term,
    needed_term,
    painted_term,
    start_term,
    to_string_term,
)
from orders.costing.working_glass import colour_cost_term, yield_terms
from orders.costing.working_strand import bead_count_term, cord_term
from workshop.money import smallest_unit
from workshop.physics.sentences import gettext_noop as _

POLICY = "price policy"


# -- labour --------------------------------------------------------------------------------


def left_to_prepare(working: Working) -> dict[tuple[Key, str], Decimal]:
    """For each colour and form, the share of what is needed that is still to be prepared."""
    return {
        (glass.key, kind.form): kind.to_prepare_g / kind.needed_g
        for glass in working.costing.glass
        for kind in glass.forms
        if kind.needed_g
    }


def work_term(working: Working, work: LabourCosting) -> Term:
    """One step: its units, minutes and pay."""

    def make() -> Term:
        rate = _rate(working, work)
        children = [_minutes(working, work, rate), work_cost_term(working, work)]
        return listed(_("Step"), children, work.step, f"rate {work.rate}")

    return working.once(("work", work.rate), make)


def _rate(working: Working, work: LabourCosting) -> RateFacts:
    return next(rate for rate in working.workshop.rates if rate.key == work.rate)


def _units(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
    def make() -> Term:
        parts = []
        if rate.basis == PER_ORDER:
            return given(_("Once an order"), work.units, "", "rate", rate.step, "units")
        left = left_to_prepare(working)
        for bead in working.costing.beads:
            if bead.start and rate in working.unit(bead.key).rates:
                units = bead_units(rate, bead, left)
                if units:
                    parts.append(bead_units_term(working, bead, rate, units))
        for line in working.costing.lines:
            if line.to_string and rate in line_rates(working.workshop):
                parts.append(_line_units(working, line, rate))
        return added(_("Units"), work.units, rate.basis, parts, rate.step, "units")

    return working.once(("units", rate.key), make)


def _line_units(working: Working, line: LineCosting, rate: RateFacts) -> Term:
    def make() -> Term:
        strung = to_string_term(working, line)
        key = f"line {line.index + 1}"
        if rate.basis != PER_BEAD:
            name = _("Strung")
            return worked(name, line.to_string, "pieces", "same", [strung], line.name, key)
        assert line.layout is not None
        counts = [bead_count_term(working, line.layout, bead) for bead, _n in line.layout.beads]
        on_one = added(_("Beads on one piece"), line.layout.bead_count, "beads", counts, line.name)
        strung_beads = line.to_string * line.layout.bead_count
        children = [strung, on_one]
        return worked(_("Beads strung"), strung_beads, "beads", "product", children, line.name, key)

    return working.once(("line units", line.index, rate.basis == PER_BEAD), make)


def _line_timed(working: Working, line: LineCosting, rate: RateFacts) -> Term:
    """Units of a line by the time they take: more while the hands are learning the design."""
    units = _line_units(working, line, rate)
    design = working.workshop.designs[line.design] if line.design is not None else None
    if design is None or design.learning is None or rate.skill != STRINGING:
        return units
    learning = design.learning
    strands = learned_units(learning, line.to_string, line.name)
    strung = to_string_term(working, line)
    source = "Wright 1936, cumulative average"
    children = [
        strung,
        given(_("Learning rate"), learning.rate, "", source, line.name),
        given(_("Time of the first one"), learning.first_unit_times, "", "design", line.name),
        given(_("Made before"), learning.made_before, "pieces", "design", line.name),
    ]
    name = _("Standard units while learning")
    learned = worked(name, strands, "", "learned", children, line.name)
    timed = strands * units.value / line.to_string
    name = _("Units by the time they take")
    return worked(name, timed, "", "share", [learned, units, strung], line.name, units.key)


def _timed(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
    units = _units(working, work, rate)
    if work.timed == work.units:
        return units
    lines = [line for line in working.costing.lines if line.to_string]
    parts = [_line_timed(working, line, rate) for line in lines]
    return added(_("Units by the time they take"), work.timed, rate.basis, parts, rate.step)


def _each(working: Working, rate: RateFacts) -> Term:
    def make() -> Term:
        basic = given(_("Basic time each"), rate.minutes_each, "min", "rate", rate.step)
        allowance = given(_("Allowance"), rate.allowance, "", "rate", rate.step)
        value = rate.minutes_each * (ONE + rate.allowance)
        name = _("Standard time each")
        return worked(name, value, "min", "with", [basic, allowance], rate.step)

    return working.once(("each", rate.key), make)


def _setup(working: Working, rate: RateFacts) -> Term:
    return working.once(
        ("setup", rate.key),
        lambda: given(_("Set-up"), Decimal(rate.setup_min), "min", "rate", rate.step, "setup"),
    )


def _minutes_of_units(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
    def make() -> Term:
        children = [_each(working, rate), _timed(working, work, rate)]
        value = work.minutes_each * work.timed
        return worked(_("Minutes at work"), value, "min", "product", children, rate.step)

    return working.once(("minutes of units", rate.key), make)


def _minutes(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
    def make() -> Term:
        children = [_setup(working, rate), _minutes_of_units(working, work, rate)]
        return added(_("Minutes"), work.minutes, "min", children, rate.step, "minutes")

    return working.once(("minutes", rate.key), make)


def _hourly(working: Working, rate: RateFacts) -> Term:
    return given(_("Pay by the hour"), rate.hourly, working.currency, "rate", rate.step)


def _setup_pay(working: Working, rate: RateFacts) -> Term:
    children = [_setup(working, rate), _hourly(working, rate)]
    name = _("Pay for the set-up")
    value = setup_pay(rate)
    return worked(name, value, working.currency, "paid_by_hour", children, rate.step, "setup pay")


def _unit_pay(working: Working, rate: RateFacts, units: Term, timed: Term, key: str) -> Term:
    """Pay for some units of a step: by the piece, else for their minutes."""
    money = working.currency
    name = _("Pay")
    minutes = rate.minutes_each * (ONE + rate.allowance) * timed.value
    value = pay(rate, units.value, minutes)
    if rate.piece is not None:
        piece = given(_("Pay by the piece"), rate.piece, money, "rate", rate.step)
        return worked(name, value, money, "product", [piece, units], rate.step, key)
    children = [_each(working, rate), timed]
    worked_min = worked(_("Minutes at work"), minutes, "min", "product", children, rate.step)
    children = [worked_min, _hourly(working, rate)]
    return worked(name, value, money, "paid_by_hour", children, rate.step, key)


def work_cost_term(working: Working, work: LabourCosting) -> Term:
    def make() -> Term:
        rate = _rate(working, work)
        timed = _timed(working, work, rate)
        units = _units(working, work, rate)
        children = [
            _setup_pay(working, rate),
            _unit_pay(working, rate, units, timed, "pay for units"),
        ]
        key = f"rate {rate.key}"
        return added(_("Labour"), work.cost, working.currency, children, rate.step, key)

    return working.once(("work cost", work.rate), make)


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
            parts.append(_unit_pay(working, rate, term, term, f"rate {rate.key}"))
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


def line_term(working: Working, line: LineCosting) -> Term:
    """One line: its cost, the lowest and suggested price, the price in force and the margin."""

    def make() -> Term:
        children = [_cost_each(working, line), *_prices(working, line)]
        return listed(_("Line"), children, line.name, f"line {line.index + 1}")

    return working.once(("line", line.index), make)


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
            units = _line_units(working, line, rate)
            timed = _line_timed(working, line, rate)
            parts.append(_unit_pay(working, rate, units, timed, f"rate {rate.key}"))
    name = _("Labour of stringing")
    return added(name, line.labour_cost, working.currency, parts, line.name, "labour")


def once_term(working: Working) -> Term:
    """Pay for what comes once an order: its own steps and every set-up."""

    def make() -> Term:
        parts = []
        for work in working.costing.labour:
            rate = _rate(working, work)
            if rate.basis == PER_ORDER:
                units = _units(working, work, rate)
                parts.append(_unit_pay(working, rate, units, units, f"rate {rate.key}"))
            if rate.setup_min:
                children = [_setup(working, rate), _hourly(working, rate)]
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


# -- prices --------------------------------------------------------------------------------


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
    off = given(_("Quantity break"), line.off, "", "price list", line.name)
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
            children = [from_list, off, cent]
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


def glass_cost_term(working: Working) -> Term:
    """All glass of the order, colour by colour."""
    costing = working.costing
    parts = [colour_cost_term(working, glass) for glass in costing.glass]
    return added(_("Glass"), costing.glass_cost, working.currency, parts, key="glass")
