"""The whole chain for a whole order in one call: `cost_order`.

strand layout → ready strands and free beads from the shelf → beads to start → glass by colour →
moulds, kiln and fuel → minutes of labour → full cost and out of pocket → price. Beads of one kind
are made together for all lines of an order; what they cost is shared among the lines by the beads
each needs.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import localcontext
from functools import cache

from orders.costing.checks import check_lines
from orders.costing.errors import CostingError
from orders.costing.facts import PER_ORDER, STRINGING, Key, OrderFacts, RateFacts, WorkshopFacts
from orders.costing.figures import MONEY, Costed, Figure, Worked, fact, rule, total
from orders.costing.glass import colour_figures, glass_of
from orders.costing.line import (
    LineDraft,
    again_from_shelf,
    draft_line,
    findings_cost,
    line_units,
    rates_of,
    shelf_costs,
    timed_units,
    value_taken,
)
from orders.costing.making import (
    BeadsAsked,
    Prepared,
    beads_asked,
    cost_of_making,
    glass_used,
    no_cost,
    workshop_cost,
)
from orders.costing.netting import shelf_for
from orders.costing.numbers import CONTEXT, ONE, ZERO
from orders.costing.pocket import is_paid, of_beads, of_making
from orders.costing.pricing import price_book, price_line, prices_told
from orders.costing.results import (
    BeadCosting,
    GlassCosting,
    LabourCosting,
    LineCosting,
    OrderCosting,
)
from orders.costing.work import (
    Paid,
    RateFigures,
    Work,
    bead_units,
    longer_units,
    once_an_order,
    order_rates,
    paid_units,
    rate_figures,
)
from workshop.money import MoneyError, minor_digits
from workshop.physics.sentences import gettext_noop as _

# What a line costs.
BEADS_FOR_LINE = rule(_("Beads made for it"), MONEY, "share")
BEADS_OF_LINE = total(_("Beads"), MONEY, "beads")
STRINGING_OF_LINE = total(_("Labour of stringing"), MONEY, "labour")
OWN = total(_("Beads, findings, stringing and the shelf"), MONEY)
OWN_OF_ALL = total(_("The same of all lines"), MONEY)
ONCE_SETUP = rule(_("Pay for the set-up"), MONEY, "paid_by_hour")
ONCE_PAY = total(_("Pay once an order"), MONEY, "labour")
ONCE = total(_("Once an order"), MONEY)
ONCE_POCKET = total(_("Out of pocket once an order"), MONEY)
ONCE_SHARED = rule(_("Share of what comes once"), MONEY, "share", "once")
ONCE_EVENLY = rule(_("Share of what comes once"), MONEY, "quotient", "once")
NOTHING_ONCE = fact(_("Share of what comes once"), MONEY, "rate", "once")
LINES = fact(_("Lines"), "", "order")
MAKING = total(_("Cost of making"), MONEY, "making")
GOODS = total(_("What the goods cost"), MONEY, "goods")
OVERHEAD = rule(_("Overhead"), MONEY, "product", "overhead")
LINE_COST = total(_("Full cost of a line"), MONEY)
POCKET_FOR_LINE = rule(_("Out of pocket for its beads"), MONEY, "share")
POCKET_OF_LINE = total(_("Out of pocket"), MONEY)
NO_LOADS = fact(_("Loads lit for it"), MONEY, "promise")

# The whole order.
GLASS = total(_("Glass"), MONEY, "glass")
PIGMENT = total(_("Pigment and paint"), MONEY, "pigment")
FUEL = total(_("Fuel"), MONEY, "fuel")
WEAR = total(_("Wear of the kiln"), MONEY, "wear")
MOULDS = total(_("Moulds and wash"), MONEY, "moulds")
LABOUR = total(_("Labour"), MONEY, "labour")
WORKSHOP = total(_("Workshop costs"), MONEY, "workshop")
SCRAP = total(_("Glass of the rejects"), MONEY, "scrap")
LEFT_OVER = total(_("Likely left over"), MONEY, "left over")
LESS_SCRAP = rule(_("Less the glass of the rejects"), MONEY, "less", "scrap")
LESS_LEFT = rule(_("Less what is likely left over"), MONEY, "less", "left over")
FINDINGS = total(_("Findings"), MONEY, "findings")
FROM_SHELF = total(_("From the shelf"), MONEY, "shelf")
COST = total(_("Full cost of the order"), MONEY, "cost")
POCKET = total(_("Out of pocket for the order"), MONEY, "out of pocket")
PRICE = total(_("Price of the order"), MONEY, "price")
NET = total(_("Price without VAT"), MONEY, "net")
MARGIN = rule(_("Margin"), "", "margin", "margin")
READY_GLASS = total(_("Ready glass"), "g", "needed")
SHORT_GLASS = total(_("Short"), "g", "short")
KILN_MIN = total(_("Fair share of kiln time"), "min", "kiln time")
LOADS_ALONE = total(_("Loads if fired alone"), "loads", "loads", nothing=0)
LABOUR_MIN = total(_("Minutes"), "min", "minutes")


# What is told of beads that all lie on the shelf.
NONE_MADE = {
    **dict.fromkeys(("start", "painted"), 0),
    **dict.fromkeys(("reject_rate", "expected_good", "finished_g", "fired_g", "fill_g"), ZERO),
    **dict.fromkeys(("pigment_g", "glass_cost", "pigment_cost", "fuel_cost", "labour_cost"), ZERO),
    **dict.fromkeys(("wear_cost", "mould_cost", "workshop_cost", "scrap", "left_over"), ZERO),
    **dict.fromkeys(("glass_g", "firings"), ()),
}


def cost_order(facts: OrderFacts) -> OrderCosting:
    """Cost an order: everything it takes, what it costs and what to ask for it.

    Raises CostingError, a whole sentence about one field of one thing, for facts with which
    nothing can be costed. Its figures are exact and unrounded; `working.tree` opens them up.

    Source of the chain: the workshop's own conventions; each step's formula and source stand in
    its own module (layout, beads_to_start, bead_unit, firing, labour, pricing).
    """
    check_lines(facts)
    try:
        minor_digits(facts.workshop.currency)
    except MoneyError as error:
        raise CostingError("currency", str(error).replace("%", "%%")) from error
    with localcontext(CONTEXT):
        return _Chain(facts).costing()


@dataclass(slots=True)
class _LineCosts:
    """What a line costs before the share of what comes once an order.

    pocket  what of it leaves the drawer, part by part
    """

    beads: Figure
    findings: Figure
    labour: Figure
    workshop: Figure
    shelf: Figure
    own: Figure
    pocket: list[Figure]


@dataclass(slots=True)
class _Once:
    """What comes once an order: pay and workshop costs, both, and what of it leaves the drawer."""

    pay: Figure
    workshop: Figure
    both: Figure
    pocket: Figure


class _Chain:
    """One order on its way through the chain."""

    def __init__(self, facts: OrderFacts) -> None:
        self.facts = facts
        self.workshop: WorkshopFacts = facts.workshop
        self.work: dict[Key, Work] = {}

    def costing(self) -> OrderCosting:
        shelf = shelf_for(self.facts)
        lines = [
            draft_line(self.workshop, index, line, shelf)
            for index, line in enumerate(self.facts.lines)
        ]
        asked = [
            beads_asked(self.workshop, key, shares, shelf) for key, shares in _needs(lines).items()
        ]
        glass = self._glass(asked)
        prepared = {(of.key, form.form): form for of in glass for form in of.forms}
        beads = [self._bead(one, prepared) for one in asked]
        made = _by_line(lines, asked, [bead.figure("cost") for bead in beads], BEADS_FOR_LINE)
        pocket = _by_line(lines, asked, [bead.figure("pocket") for bead in beads], POCKET_FOR_LINE)
        shelves = shelf_costs(lines, asked, [bead.figure("shelf_cost") for bead in beads])
        costs = [
            self._line_costs(*of_line) for of_line in zip(lines, made, shelves, pocket, strict=True)
        ]
        once = self._once()
        whole = OWN_OF_ALL("", [line.own for line in costs])
        shares = self._shares_of(once.both, whole, lines, costs)
        pockets = self._shares_of(once.pocket, whole, lines, costs)
        costed = [
            self._line(*of_line) for of_line in zip(lines, costs, shares, pockets, strict=True)
        ]
        return self._total(costed, beads, glass, once)

    # -- beads and glass -------------------------------------------------------------------

    def _glass(self, asked: Sequence[BeadsAsked]) -> list[GlassCosting]:
        """Glass by colour, for all beads that are made."""
        needs: dict[Key, dict[str, list[Figure]]] = {}
        for one in asked:
            if one.making is not None:
                for part, grams in zip(one.making.unit.colours, one.making.glass, strict=True):
                    forms = needs.setdefault(part.colour.key, {})
                    forms.setdefault(part.form.facts.form, []).append(grams)
        return [glass_of(colour_figures(self.workshop, key), needs[key]) for key in needs]

    def _bead(self, asked: BeadsAsked, prepared: Prepared) -> BeadCosting:
        facts, made = asked.facts, asked.making
        told = {
            "key": facts.key,
            "name": facts.name,
            "kind": facts.kind,
            "needed": asked.needed,
            "taken": asked.taken,
            "from_shelf": asked.needed.value - asked.to_make.value,
            "to_make": asked.to_make,
            "shelf_cost": value_taken(asked),
            "share_by_line": tuple([(index, need.value) for index, need in asked.shares]),
        }
        if made is None:
            none = no_cost(facts)
            pocket = of_beads(self.workshop, asked, None)
            return BeadCosting(**told, **NONE_MADE, cost=none, of_all=none, pocket=pocket)
        unit, steps = made.unit, []
        for rate in unit.rates:
            units = bead_units(rate, made, prepared)
            if units.value:
                work = self._work(rate)
                timed, paid_as = longer_units(rate, facts, units), paid_units(rate, facts, units)
                steps.append((work.rate, work.add(units, timed, paid_as)))
        paid = [step.pay for _rate, step in steps]
        minutes = [step.minutes for _rate, step in steps]
        costs = cost_of_making(self.workshop, asked, prepared, paid, minutes)
        pocket = of_beads(self.workshop, asked, of_making(self.workshop, asked, costs, steps))
        return BeadCosting(
            **told,
            reject_rate=unit.reject_rate,
            start=made.start,
            expected_good=lambda bead: bead.start * (ONE - bead.reject_rate),
            painted=made.painted or 0,
            finished_g=unit.finished_g,
            fired_g=unit.fired_g,
            fill_g=unit.fill_g,
            glass_g=lambda _bead: glass_used(made),
            pigment_g=costs.pigment_g or ZERO,
            firings=made.firings,
            glass_cost=costs.glass,
            pigment_cost=costs.pigment,
            fuel_cost=costs.fuel,
            wear_cost=costs.wear,
            mould_cost=costs.moulds,
            labour_cost=costs.labour,
            workshop_cost=costs.workshop,
            scrap=costs.scrap,
            of_all=costs.of_all,
            left_over=costs.left_over,
            cost=costs.cost,
            pocket=pocket,
        )

    def _work(self, rate: RateFacts) -> Work:
        work = self.work.get(rate.key)
        if work is None:
            work = self.work[rate.key] = Work(rate_figures(self.workshop, rate))
        return work

    # -- what a line costs -----------------------------------------------------------------

    def _line_costs(
        self, line: LineDraft, beads: Sequence[Figure], shelf: Figure, pocket: list[Figure]
    ) -> _LineCosts:
        made = BEADS_OF_LINE(line.name, beads)
        findings = findings_cost(self.workshop, line)
        strung = self._stringing(line)
        labour = STRINGING_OF_LINE(line.name, [paid.pay for _rate, paid in strung])
        shop = workshop_cost(self.workshop, line.name, [paid.minutes for _rate, paid in strung])
        own = OWN(line.name, [made, findings, labour, shop, shelf], line.key)
        if findings.value:
            pocket.append(findings)
        pocket += [paid.pay for rate, paid in strung if is_paid(self.workshop, rate)]
        if (again := again_from_shelf(self.workshop, line)) is not None:
            pocket.append(again)
        return _LineCosts(made, findings, labour, shop, shelf, own, pocket)

    def _stringing(self, line: LineDraft) -> list[tuple[RateFigures, Paid]]:
        """Pay for each step of stringing a line, and its minutes."""
        if line.strung is None:
            return []
        steps = []
        assert line.design is not None
        for facts in rates_of(self.workshop, line.design):
            units = line_units(line, facts.basis)
            timed = timed_units(line, units) if facts.skill == STRINGING else units
            work = self._work(facts)
            steps.append((work.rate, work.add(units, timed)))
        return steps

    def _once(self) -> _Once:
        """What comes once an order, made or ready: its own steps, and the set-ups.

        Steps once an order are selling, and bear no workshop costs.
        """
        steps = {
            rate.key: self._work(rate).add(once_an_order(rate))
            for rate in order_rates(self.workshop)
        }
        pay, minutes, pocket = [], [], []
        for key, work in self.work.items():
            rate, found = work.rate, []
            if rate.facts.basis == PER_ORDER:
                found.append(steps[key].pay)
            if rate.facts.setup_min:
                named = f"rate {key} set-up"
                set_up = ONCE_SETUP(rate.facts.step, rate.setup_min, rate.hourly, key=named)
                found.append(set_up)
                if rate.facts.basis != PER_ORDER:
                    minutes.append(rate.setup_min)
            pay += found
            if self.workshop.policy.hours_when_worked:
                pocket += found
            elif rate.facts.basis == PER_ORDER and rate.piece is not None:
                pocket.append(steps[key].pay)
        of_pay, shop = ONCE_PAY("", pay), workshop_cost(self.workshop, "", minutes)
        return _Once(of_pay, shop, ONCE("", [of_pay, shop]), ONCE_POCKET("", pocket))

    def _shares_of(
        self,
        once: Figure,
        whole: Figure,
        lines: Sequence[LineDraft],
        costs: Sequence[_LineCosts],
    ) -> list[Figure]:
        """Each line's share of it: by what else the line costs, evenly where nothing else does.

        whole  what all lines cost else
        """
        if not once.value:
            return [NOTHING_ONCE(ZERO, line.name) for line in lines]
        if not whole.value:
            number = LINES(len(lines))
            return [ONCE_EVENLY(line.name, once, number) for line in lines]
        return [
            ONCE_SHARED(line.name, once, cost.own, whole)
            for line, cost in zip(lines, costs, strict=True)
        ]

    def _line(
        self, draft: LineDraft, costs: _LineCosts, once: Figure, once_pocket: Figure
    ) -> LineCosting:
        line, name = draft.line, draft.name
        making = MAKING(name, [costs.beads, costs.findings, costs.labour, costs.workshop, once])
        overhead = self._overhead(making, costs.shelf)
        cost = LINE_COST(name, [making, overhead, costs.shelf], draft.key)
        if once_pocket.value:
            costs.pocket.append(once_pocket)
        pocket = POCKET_OF_LINE(name, costs.pocket, f"pocket {draft.index + 1}")
        price = price_line(self.facts, line, cost, pocket, name, draft.index + 1)
        return LineCosting(
            index=draft.index,
            key=line.key,
            design=line.design,
            bead=line.bead,
            name=name,
            quantity=line.quantity,
            ready_taken=draft.ready_count,
            to_string=draft.to_string or 0,
            layout=draft.layout,
            beads_cost=costs.beads,
            findings_cost=costs.findings,
            labour_cost=costs.labour,
            workshop_cost=costs.workshop,
            order_cost=once,
            shelf_cost=costs.shelf,
            overhead_cost=overhead,
            cost=cost,
            pocket_alone=pocket,
            loads_cost=NO_LOADS(ZERO, name),
            pocket=pocket,
            **prices_told(price),
        )

    def _overhead(self, making: Figure, shelf: Figure) -> Figure:
        """Office and selling, a share of what the goods cost, made or from the shelf."""
        goods = GOODS("", [making, shelf]) if shelf.value else making
        return OVERHEAD("", goods, price_book(self.workshop).overhead)

    # -- the whole order -------------------------------------------------------------------

    def _total(
        self,
        lines: Sequence[LineCosting],
        beads: Sequence[BeadCosting],
        glass: Sequence[GlassCosting],
        once: _Once,
    ) -> OrderCosting:
        firings = [firing for bead in beads for firing in bead.firings]
        made = [bead for bead in beads if bead.start]
        labour = _labour_of(list(self.work.values()))

        def of_all(parts: Sequence[Costed], figure: str) -> list[Figure]:
            return [part.figure(figure) for part in parts]

        # Glass and labour are added up bead by bead, and told colour by colour and step by step.
        paid = [*of_all(made, "labour_cost"), *of_all(lines, "labour_cost"), once.pay]
        shop = [*of_all(made, "workshop_cost"), *of_all(lines, "workshop_cost"), once.workshop]
        of_glass = GLASS("", of_all(made, "glass_cost"), told=lambda: of_all(glass, "cost"))
        of_pigment = PIGMENT("", of_all(made, "pigment_cost"))
        of_fuel = FUEL("", of_all(firings, "fuel_cost"))
        of_labour = LABOUR("", paid, told=lambda: of_all(labour(), "cost"))
        of_wear = WEAR("", of_all(firings, "wear_cost"))
        of_moulds = MOULDS("", of_all(firings, "mould_cost"))
        of_shop = WORKSHOP("", shop)
        of_findings = FINDINGS("", of_all(lines, "findings_cost"))
        scrap, left = SCRAP("", of_all(made, "scrap")), LEFT_OVER("", of_all(made, "left_over"))
        parts = [of_glass, of_pigment, of_fuel, of_wear, of_moulds, of_labour, of_shop, of_findings]
        making = MAKING("", [*parts, LESS_SCRAP("", scrap), LESS_LEFT("", left)])
        shelf = FROM_SHELF("", of_all(lines, "shelf_cost"))
        overhead = self._overhead(making, shelf)
        cost = COST("", [making, overhead, shelf])
        price, net = PRICE("", of_all(lines, "price_total")), NET("", of_all(lines, "price_net"))
        return OrderCosting(
            facts=self.facts,
            currency=self.workshop.currency,
            lines=tuple(lines),
            beads=tuple(beads),
            glass=tuple(glass),
            labour=lambda _order: labour(),
            glass_cost=of_glass,
            pigment_cost=of_pigment,
            fuel_cost=of_fuel,
            wear_cost=of_wear,
            mould_cost=of_moulds,
            labour_cost=of_labour,
            workshop_cost=of_shop,
            once_cost=once.both,
            findings_cost=of_findings,
            scrap=scrap,
            left_over=left,
            shelf_cost=shelf,
            overhead_cost=overhead,
            cost=cost,
            pocket=POCKET("", of_all(lines, "pocket")),
            loads_cost=NO_LOADS(ZERO),
            new_loads=(),
            price_total=price,
            price_net=net,
            margin=MARGIN("", cost, net) if price.value else None,
            needed_g=lambda _order: READY_GLASS("", of_all(glass, "needed_g")),
            short_g=lambda _order: SHORT_GLASS("", of_all(glass, "short_g")),
            kiln_min=lambda _order: KILN_MIN("", of_all(firings, "kiln_min")),
            loads_alone=lambda _order: LOADS_ALONE("", of_all(firings, "loads_alone")),
            labour_min=lambda _order: LABOUR_MIN("", of_all(labour(), "minutes")),
        )


def _labour_of(works: Sequence[Work]) -> Callable[[], tuple[LabourCosting, ...]]:
    """The steps of an order, each worked out when somebody first asks for them."""
    return cache(lambda: tuple([work.costing() for work in works]))


def _by_line(
    lines: Sequence[LineDraft],
    asked: Sequence[BeadsAsked],
    amounts: Sequence[Figure],
    share: Worked,
) -> list[list[Figure]]:
    """For each line, its share of an amount of each kind of bead, by the beads it needs."""
    parts: list[list[Figure]] = [[] for _line in lines]
    for one, amount in zip(asked, amounts, strict=True):
        name, key = one.facts.name, f"bead {one.facts.key}"
        for index, need in one.shares:
            parts[index].append(share(name, amount, need, one.needed, key=key))
    return parts


def _needs(lines: Sequence[LineDraft]) -> dict[Key, list[tuple[int, Figure]]]:
    """Beads needed: for each kind of bead, which line needs how many."""
    needs: dict[Key, list[tuple[int, Figure]]] = {}
    for line in lines:
        for bead, need in line.needs.items():
            needs.setdefault(bead, []).append((line.index, need))
    return needs
