"""The whole working of an order's costing as one tree: page, cost sheet and JSON print it."""

from decimal import localcontext

from orders.costing.numbers import CONTEXT
from orders.costing.results import OrderCosting
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.firing import firing_term, fuel_cost_term, kiln_min_term, loads_term
from orders.costing.working.glass import colour_term, short_term
from orders.costing.working.labour import work_cost_term, work_term
from orders.costing.working.money import (
    POLICY,
    bead_pigment_term,
    bead_term,
    findings_term,
    glass_cost_term,
    shelf_term,
)
from orders.costing.working.prices import line_term, order_price_term
from orders.costing.working.strand import strand_term
from orders.costing.working.terms import Term
from workshop.physics.sentences import gettext_noop as _


def order_tree(costing: OrderCosting) -> Term:
    """The tree behind an order's costing.

    Its first level: ``strands`` (layouts), ``beads``, ``glass``, ``firings``, ``labour``,
    ``lines`` (cost and prices of each), ``cost``, ``price`` and, if anything is charged,
    ``margin``.
    """
    with localcontext(CONTEXT):
        return _order_tree(Working(costing))


def _order_tree(working: Working) -> Term:
    costing = working.costing
    layouts = {line.layout.design: line.layout for line in costing.lines if line.layout}
    cost, price = cost_term(working), order_price_term(working)
    children = [
        listed(
            _("Strands"), [strand_term(working, one) for one in layouts.values()], key="strands"
        ),
        listed(_("Beads"), [bead_term(working, bead) for bead in costing.beads], key="beads"),
        _glass(working),
        _firings(working),
        _labour(working),
        listed(_("Lines"), [line_term(working, line) for line in costing.lines], key="lines"),
        cost,
        price,
    ]
    if costing.margin is not None:
        children.append(
            worked(_("Margin"), costing.margin, "", "margin", [cost, price], key="margin")
        )
    return listed(_("Order"), children, costing.facts.reference, "order")


def _glass(working: Working) -> Term:
    costing = working.costing
    colours = [colour_term(working, glass) for glass in costing.glass]
    needed = added(
        _("Ready glass"),
        costing.needed_g,
        "g",
        [colour.children[0] for colour in colours],
        key="needed",
    )
    short = added(
        _("Short"),
        costing.short_g,
        "g",
        [short_term(working, glass) for glass in costing.glass],
        key="short",
    )
    return listed(_("Glass"), [*colours, needed, short], key="glass")


def _firings(working: Working) -> Term:
    pairs = [(bead, firing) for bead in working.costing.beads for firing in bead.firings]
    costing = working.costing
    times = [kiln_min_term(working, bead, firing) for bead, firing in pairs]
    alone = [loads_term(working, bead, firing) for bead, firing in pairs]
    children = [
        *[firing_term(working, bead, firing) for bead, firing in pairs],
        added(_("Fair share of kiln time"), costing.kiln_min, "min", times, key="kiln time"),
        added(_("Loads if fired alone"), costing.loads_alone, "loads", alone, key="loads"),
    ]
    return listed(_("Firings"), children, key="firings")


def _labour(working: Working) -> Term:
    costing = working.costing
    steps = [work_term(working, work) for work in costing.labour]
    minutes = [step.children[0] for step in steps]
    total = added(_("Minutes"), costing.labour_min, "min", minutes, key="minutes")
    return listed(_("Labour"), [*steps, total], key="labour")


def cost_term(working: Working) -> Term:
    """glass + pigment + fuel + labour + findings + overhead (+ what the shelf gave is worth)."""
    costing, money = working.costing, working.currency
    fuels = [
        fuel_cost_term(working, bead, firing) for bead in costing.beads for firing in bead.firings
    ]
    pigments = [bead_pigment_term(working, bead) for bead in costing.beads if bead.start]
    works = [work_cost_term(working, work) for work in costing.labour]
    findings = [findings_term(working, line) for line in costing.lines]
    direct = [
        glass_cost_term(working),
        added(_("Pigment and paint"), costing.pigment_cost, money, pigments, key="pigment"),
        added(_("Fuel"), costing.fuel_cost, money, fuels, key="fuel"),
        added(_("Labour"), costing.labour_cost, money, works, key="labour"),
        added(_("Findings"), costing.findings_cost, money, findings, key="findings"),
    ]
    direct_cost = sum(term.value for term in direct)
    made = added(_("Cost of making"), direct_cost, money, direct, key="making")
    overhead = given(_("Overhead"), working.workshop.policy.overhead, "", POLICY)
    on_top = worked(
        _("Overhead"), costing.overhead_cost, money, "product", [made, overhead], key="overhead"
    )
    shelves = [shelf_term(working, line) for line in costing.lines]
    shelf = added(_("From the shelf"), costing.shelf_cost, money, shelves, key="shelf")
    name = _("Cost of the order")
    return added(name, costing.cost, money, [made, on_top, shelf], key="cost")
