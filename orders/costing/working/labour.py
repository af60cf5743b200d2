"""The working of labour: each step's units, minutes and pay."""

from decimal import Decimal

from orders.costing.facts import (
    FIRING,
    PAINTING,
    PER_BEAD,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PER_ORDER,
    PREPARING,
    STRINGING,
    Key,
    LearningFacts,
    RateFacts,
)
from orders.costing.labour import learned_units, pay, setup_pay, units_on_curve
from orders.costing.numbers import ONE
from orders.costing.results import BeadCosting, LabourCosting, LineCosting
from orders.costing.work import bead_units, line_rates
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.beads import (
    fill_term,
    glass_term,
    painted_term,
    start_term,
    to_string_term,
)
from orders.costing.working.firing import fills_term, share_of_kiln_term
from orders.costing.working.glass import needed_of_form_term, to_prepare_term
from orders.costing.working.strand import bead_count_term
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _


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
        rate = rate_of(working, work)
        children = [_minutes(working, work, rate), work_cost_term(working, work)]
        return listed(_("Step"), children, work.step, f"rate {work.rate}")

    return working.once(("work", work.rate), make)


def rate_of(working: Working, work: LabourCosting) -> RateFacts:
    return next(rate for rate in working.workshop.rates if rate.key == work.rate)


def units_term(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
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
                parts.append(line_units_term(working, line, rate))
        return added(_("Units"), work.units, rate.basis, parts, rate.step, "units")

    return working.once(("units", rate.key), make)


def line_units_term(working: Working, line: LineCosting, rate: RateFacts) -> Term:
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


def line_timed_term(working: Working, line: LineCosting, rate: RateFacts) -> Term:
    """Units of a line by the time they take: more while the hands are learning the design."""
    units = line_units_term(working, line, rate)
    design = working.workshop.designs[line.design] if line.design is not None else None
    if design is None or design.learning is None or rate.skill != STRINGING:
        return units
    strands = learned_units(design.learning, line.to_string, line.name)
    strung = to_string_term(working, line)
    children = _curve_terms(design.learning, strung, line.name)
    name = _("Standard units while learning")
    learned = worked(name, strands, "", "learned", children, line.name)
    timed = strands * units.value / line.to_string
    name = _("Units by the time they take")
    return worked(name, timed, "", "share", [learned, units, strung], line.name, units.key)


def _curve_terms(learning: LearningFacts, strung: Term, name: str) -> list[Term]:
    """What Wright's curve is asked with, and where it stops."""
    source = "Wright 1936, cumulative average"
    rate = given(_("Learning rate"), learning.rate, "", source, name)
    first = given(_("Time of the first one"), learning.first_unit_times, "", "design", name)
    before = given(_("Made before"), learning.made_before, "pieces", "design", name)
    asked = [first, rate]
    if learning.practised:
        said = _("Practised after")
        asked.append(given(said, learning.practised, "pieces", "design", name))
    end = units_on_curve(first.value, rate.value, learning.practised or 0)
    stops = worked(_("The curve stops after"), end, "pieces", "on_curve", asked, name)
    return [strung, rate, first, before, stops]


def _timed(working: Working, work: LabourCosting, rate: RateFacts) -> Term:
    units = units_term(working, work, rate)
    if work.timed == work.units:
        return units
    lines = [line for line in working.costing.lines if line.to_string]
    parts = [line_timed_term(working, line, rate) for line in lines]
    return added(_("Units by the time they take"), work.timed, rate.basis, parts, rate.step)


def _each(working: Working, rate: RateFacts) -> Term:
    def make() -> Term:
        basic = given(_("Basic time each"), rate.minutes_each, "min", "rate", rate.step)
        allowance = given(_("Allowance"), rate.allowance, "", "rate", rate.step)
        value = rate.minutes_each * (ONE + rate.allowance)
        name = _("Standard time each")
        return worked(name, value, "min", "with", [basic, allowance], rate.step)

    return working.once(("each", rate.key), make)


def setup_term(working: Working, rate: RateFacts) -> Term:
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
        children = [setup_term(working, rate), _minutes_of_units(working, work, rate)]
        return added(_("Minutes"), work.minutes, "min", children, rate.step, "minutes")

    return working.once(("minutes", rate.key), make)


def hourly_term(working: Working, rate: RateFacts) -> Term:
    return given(_("Pay by the hour"), rate.hourly, working.currency, "rate", rate.step)


def _setup_pay(working: Working, rate: RateFacts) -> Term:
    children = [setup_term(working, rate), hourly_term(working, rate)]
    name = _("Pay for the set-up")
    value = setup_pay(rate)
    return worked(name, value, working.currency, "paid_by_hour", children, rate.step, "setup pay")


def unit_pay_term(working: Working, rate: RateFacts, units: Term, timed: Term, key: str) -> Term:
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
    children = [worked_min, hourly_term(working, rate)]
    return worked(name, value, money, "paid_by_hour", children, rate.step, key)


def work_cost_term(working: Working, work: LabourCosting) -> Term:
    def make() -> Term:
        rate = rate_of(working, work)
        timed = _timed(working, work, rate)
        units = units_term(working, work, rate)
        children = [
            _setup_pay(working, rate),
            unit_pay_term(working, rate, units, timed, "pay for units"),
        ]
        key = f"rate {rate.key}"
        return added(_("Labour"), work.cost, working.currency, children, rate.step, key)

    return working.once(("work cost", work.rate), make)


def bead_units_term(
    working: Working, bead: BeadCosting, rate: RateFacts, units: Decimal | int
) -> Term:
    """How many units of a step the making of these beads takes."""
    key = f"bead {bead.key}"
    if rate.basis == PER_KG:
        return _kg_term(working, bead, rate, units, key)
    if rate.basis == PER_LOAD:
        shares = [share_of_kiln_term(working, bead, firing) for firing in bead.firings]
        return added(_("Kiln loads"), units, "loads", shares, bead.name, key)
    if rate.basis == PER_MOULD:
        firings = bead.firings if rate.skill == FIRING else bead.firings[:1]
        fills = [fills_term(working, bead, firing) for firing in firings]
        return added(_("Moulds"), units, "moulds", fills, bead.name, key)
    count = painted_term(working, bead) if rate.skill == PAINTING else start_term(working, bead)
    return worked(_("Beads"), units, "beads", "same", [count], bead.name, key)


def _kg_term(
    working: Working, bead: BeadCosting, rate: RateFacts, units: Decimal | int, key: str
) -> Term:
    if rate.skill != PREPARING:
        children = [fill_term(working, working.unit(bead.key)), start_term(working, bead)]
        return worked(_("Glass filled"), units, "kg", "per_thousand", children, bead.name, key)
    parts = []
    for colour, form, glass_g in bead.glass_g:
        needed = needed_of_form_term(working, colour, form)
        to_prepare = to_prepare_term(working, colour, form)
        grams = glass_g * to_prepare.value / needed.value
        children = [glass_term(working, bead, colour), to_prepare, needed]
        name = _("Its part of what is to prepare")
        parts.append(worked(name, grams, "g", "share", children, key=f"colour {colour}"))
    return worked(_("Glass to prepare"), units, "kg", "thousandth", parts, bead.name, key)
