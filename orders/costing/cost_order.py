"""The whole chain for a whole order in one call: `cost_order`.

strand layout → ready strands and free beads from the shelf → beads to start → glass by colour →
moulds, kiln and fuel → minutes of labour → cost → price. Beads of one kind are made together for
all lines of an order; what they cost is shared among the lines by the beads each needs.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import localcontext
from functools import cache

from orders.costing.checks import check_lines
from orders.costing.errors import CostingError
from orders.costing.facts import PER_ORDER, STRINGING, Key, OrderFacts, RateFacts, WorkshopFacts
from orders.costing.figures import MONEY, Costed, Figure, fact, rule, total
from orders.costing.glass import colour_figures, glass_of
from orders.costing.line import (
    LineDraft,
    draft_line,
    findings_cost,
    line_units,
    shelf_costs,
    timed_units,
    value_taken,
)
from orders.costing.making import BeadsAsked, beads_asked, cost_of_making, glass_used, no_cost
from orders.costing.netting import shelf_for
from orders.costing.numbers import CONTEXT, ONE, ZERO
from orders.costing.pricing import as_told, price_book, price_line
from orders.costing.results import (
    BeadCosting,
    GlassCosting,
    LabourCosting,
    LineCosting,
    OrderCosting,
)
from orders.costing.work import (
    Prepared,
    Work,
    bead_units,
    line_rates,
    longer_units,
    once_an_order,
    order_rates,
    rate_figures,
)
from workshop.money import MoneyError, minor_digits
from workshop.physics.sentences import gettext_noop as _

# What a line costs.
BEADS_FOR_LINE = rule(_("Beads made for it"), MONEY, "share")
BEADS_OF_LINE = total(_("Beads"), MONEY, "beads")
STRINGING_OF_LINE = total(_("Labour of stringing"), MONEY, "labour")
OWN = total(_("Beads, findings and stringing"), MONEY)
OWN_OF_ALL = total(_("The same of all lines"), MONEY)
ONCE_SETUP = rule(_("Pay for the set-up"), MONEY, "paid_by_hour")
ONCE = total(_("Once an order"), MONEY)
ONCE_SHARED = rule(_("Share of what comes once"), MONEY, "share", "once")
ONCE_EVENLY = rule(_("Share of what comes once"), MONEY, "quotient", "once")
NOTHING_ONCE = fact(_("Share of what comes once"), MONEY, "rate", "once")
LINES = fact(_("Lines"), "", "order")
MAKING = total(_("Cost of making"), MONEY, "making")
OVERHEAD = rule(_("Overhead"), MONEY, "product", "overhead")
LINE_COST = total(_("Cost of a line"), MONEY)

# The whole order.
GLASS = total(_("Glass"), MONEY, "glass")
PIGMENT = total(_("Pigment and paint"), MONEY, "pigment")
FUEL = total(_("Fuel"), MONEY, "fuel")
LABOUR = total(_("Labour"), MONEY, "labour")
FINDINGS = total(_("Findings"), MONEY, "findings")
FROM_SHELF = total(_("From the shelf"), MONEY, "shelf")
COST = total(_("Cost of the order"), MONEY, "cost")
PRICE = total(_("Price of the order"), MONEY, "price")
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
    """What a line costs before the share of what comes once an order."""

    beads: Figure
    findings: Figure
    labour: Figure
    own: Figure


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
        made = _beads_by_line(lines, asked, beads)
        costs = [self._line_costs(line, parts) for line, parts in zip(lines, made, strict=True)]
        once = self._once()
        shares = self._shares_of_once(once, lines, costs)
        shelves = shelf_costs(lines, asked, [bead.figure("shelf_cost") for bead in beads])
        costed = [
            self._line(*of_line) for of_line in zip(lines, costs, shares, shelves, strict=True)
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
            return BeadCosting(**told, **NONE_MADE, cost=no_cost(facts))
        unit, pay = made.unit, []
        for rate in unit.rates:
            units = bead_units(rate, made, prepared)
            if units.value:
                pay.append(self._work(rate).add(units, longer_units(rate, made, units)))
        costs = cost_of_making(made, pay)
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
            labour_cost=costs.labour,
            cost=costs.cost,
        )

    def _work(self, rate: RateFacts) -> Work:
        work = self.work.get(rate.key)
        if work is None:
            work = self.work[rate.key] = Work(rate_figures(self.workshop, rate))
        return work

    # -- what a line costs -----------------------------------------------------------------

    def _line_costs(self, line: LineDraft, beads: Sequence[Figure]) -> _LineCosts:
        made = BEADS_OF_LINE(line.name, beads)
        findings = findings_cost(self.workshop, line)
        labour = STRINGING_OF_LINE(line.name, self._stringing(line))
        return _LineCosts(
            made, findings, labour, OWN(line.name, [made, findings, labour], line.key)
        )

    def _stringing(self, line: LineDraft) -> list[Figure]:
        """Pay for each step of stringing a line."""
        pay = []
        if line.strung is not None:
            for rate in line_rates(self.workshop):
                units = line_units(line, rate.basis)
                timed = timed_units(line, units) if rate.skill == STRINGING else units
                pay.append(self._work(rate).add(units, timed))
        return pay

    def _once(self) -> Figure:
        """Pay for what comes once an order, made or ready: its own steps, and the set-ups."""
        steps = {
            rate.key: self._work(rate).add(once_an_order(rate))
            for rate in order_rates(self.workshop)
        }
        parts = []
        for key, work in self.work.items():
            if work.rate.facts.basis == PER_ORDER:
                parts.append(steps[key])
            if work.rate.facts.setup_min:
                of, named = work.rate, f"rate {key} set-up"
                parts.append(ONCE_SETUP(of.facts.step, of.setup_min, of.hourly, key=named))
        return ONCE("", parts)

    def _shares_of_once(
        self, once: Figure, lines: Sequence[LineDraft], costs: Sequence[_LineCosts]
    ) -> list[Figure]:
        """Each line's share of it: by what else the line costs, evenly where nothing else does."""
        if not once.value:
            return [NOTHING_ONCE(ZERO, line.name) for line in lines]
        whole = OWN_OF_ALL("", [line.own for line in costs])
        if not whole.value:
            number = LINES(len(lines))
            return [ONCE_EVENLY(line.name, once, number) for line in lines]
        return [
            ONCE_SHARED(line.name, once, cost.own, whole)
            for line, cost in zip(lines, costs, strict=True)
        ]

    def _line(
        self, draft: LineDraft, costs: _LineCosts, once: Figure, shelf: Figure
    ) -> LineCosting:
        line, name = draft.line, draft.name
        making = MAKING(name, [costs.beads, costs.findings, costs.labour, once])
        overhead = self._overhead(making)
        cost = LINE_COST(name, [making, overhead, shelf], draft.key)
        price = price_line(self.facts, line, draft.asked, cost, name, draft.index + 1)
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
            order_cost=once,
            shelf_cost=shelf,
            overhead_cost=overhead,
            cost=cost,
            cost_each=price.cost_each,
            lowest=price.lowest,
            suggested=price.suggested,
            price_each=price.each,
            price_from=price.origin,
            price_total=price.total,
            margin=price.margin,
            margin_asked=price.margin_asked,
            off=price.off,
            listed=price.listed,
            off_listed=price.off_listed or ZERO,
            below_cost=price.below_cost,
        )

    def _overhead(self, making: Figure) -> Figure:
        return OVERHEAD("", making, price_book(self.workshop).overhead)

    # -- the whole order -------------------------------------------------------------------

    def _total(
        self,
        lines: Sequence[LineCosting],
        beads: Sequence[BeadCosting],
        glass: Sequence[GlassCosting],
        once: Figure,
    ) -> OrderCosting:
        firings = [firing for bead in beads for firing in bead.firings]
        made = [bead for bead in beads if bead.start]
        labour = _labour_of(list(self.work.values()))

        def of_all(parts: Sequence[Costed], figure: str) -> list[Figure]:
            return [part.figure(figure) for part in parts]

        # Glass and labour are added up bead by bead, and told colour by colour and step by step.
        paid = [*of_all(made, "labour_cost"), *of_all(lines, "labour_cost"), once]
        of_glass = GLASS("", of_all(made, "glass_cost"), told=lambda: of_all(glass, "cost"))
        of_pigment = PIGMENT("", of_all(made, "pigment_cost"))
        of_fuel = FUEL("", of_all(firings, "fuel_cost"))
        of_labour = LABOUR("", paid, told=lambda: of_all(labour(), "cost"))
        of_findings = FINDINGS("", of_all(lines, "findings_cost"))
        making = MAKING("", [of_glass, of_pigment, of_fuel, of_labour, of_findings])
        overhead = self._overhead(making)
        shelf = FROM_SHELF("", of_all(lines, "shelf_cost"))
        cost = COST("", [making, overhead, shelf])
        price = PRICE("", of_all(lines, "price_total"))
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
            labour_cost=of_labour,
            once_cost=once,
            findings_cost=of_findings,
            shelf_cost=shelf,
            overhead_cost=overhead,
            cost=cost,
            price_total=price,
            margin=MARGIN("", as_told(self.facts, cost), price) if price.value else None,
            needed_g=lambda _order: READY_GLASS("", of_all(glass, "needed_g")),
            short_g=lambda _order: SHORT_GLASS("", of_all(glass, "short_g")),
            kiln_min=lambda _order: KILN_MIN("", of_all(firings, "kiln_min")),
            loads_alone=lambda _order: LOADS_ALONE("", of_all(firings, "loads_alone")),
            labour_min=lambda _order: LABOUR_MIN("", of_all(labour(), "minutes")),
        )


def _labour_of(works: Sequence[Work]) -> Callable[[], tuple[LabourCosting, ...]]:
    """The steps of an order, each worked out when somebody first asks for them."""
    return cache(lambda: tuple([work.costing() for work in works]))


def _beads_by_line(
    lines: Sequence[LineDraft], asked: Sequence[BeadsAsked], beads: Sequence[BeadCosting]
) -> list[list[Figure]]:
    """For each line, its share of what making each kind of bead costs."""
    parts: list[list[Figure]] = [[] for _line in lines]
    for one, bead in zip(asked, beads, strict=True):
        name, key, cost = one.facts.name, f"bead {one.facts.key}", bead.figure("cost")
        for index, need in one.shares:
            parts[index].append(BEADS_FOR_LINE(name, cost, need, one.needed, key=key))
    return parts


def _needs(lines: Sequence[LineDraft]) -> dict[Key, list[tuple[int, Figure]]]:
    """Beads needed: for each kind of bead, which line needs how many."""
    needs: dict[Key, list[tuple[int, Figure]]] = {}
    for line in lines:
        for bead, need in line.needs.items():
            needs.setdefault(bead, []).append((line.index, need))
    return needs
