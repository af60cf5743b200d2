"""The whole chain for a whole order in one call: `cost_order`.

strand layout → ready strands and free beads from the shelf → beads to start → glass by colour →
moulds, kiln and fuel → minutes of labour → cost → price. Beads of one kind are made together for
all lines of an order; what they cost is shared among the lines by the beads each needs.
"""

from collections.abc import Sequence
from decimal import Decimal, localcontext

from orders.costing.bead_unit import BeadUnit, bead_unit
from orders.costing.beads_to_start import beads_to_start, beads_to_start_scattered
from orders.costing.checks import check_lines
from orders.costing.drafts import BeadsDraft, LineDraft, shelf_value
from orders.costing.errors import CostingError
from orders.costing.facts import (
    PER_BEAD,
    PER_ORDER,
    STRINGING,
    DesignFacts,
    Key,
    LineFacts,
    OrderFacts,
    RateFacts,
    WorkshopFacts,
)
from orders.costing.glass import glass_of
from orders.costing.labour import learned_units, setup_pay
from orders.costing.layout import lay_out
from orders.costing.netting import Shelf, shelf_for, taken_count
from orders.costing.numbers import CONTEXT, MM_PER_M, ONE, ZERO
from orders.costing.pricing import line_total, price_book, price_line
from orders.costing.results import BeadCosting, GlassCosting, LineCosting, OrderCosting
from orders.costing.strand import StrandLayout
from orders.costing.work import Work, bead_units, labour_costing, line_rates, order_rates
from workshop.money import MoneyError, minor_digits


def cost_order(facts: OrderFacts) -> OrderCosting:
    """Cost an order: everything it takes, what it costs and what to ask for it.

    Raises CostingError, a whole sentence about one field of one thing, for facts with which
    nothing can be costed. Its figures are exact and unrounded; ``tree`` opens them up.

    Source of the chain: the workshop's own conventions; each step's formula and source stand in
    its own module (layout, beads_to_start, bead_unit, fuel, labour, pricing).
    """
    check_lines(facts)
    try:
        minor_digits(facts.workshop.currency)
    except MoneyError as error:
        raise CostingError("currency", str(error).replace("%", "%%")) from error
    with localcontext(CONTEXT):
        return _Chain(facts).costing()


class _Chain:
    """One order on its way through the chain."""

    def __init__(self, facts: OrderFacts) -> None:
        self.facts = facts
        self.workshop: WorkshopFacts = facts.workshop
        self.work: dict[Key, Work] = {}

    def costing(self) -> OrderCosting:
        shelf = shelf_for(self.facts)
        drafts = [self._draft(index, line, shelf) for index, line in enumerate(self.facts.lines)]
        made = [self._made(key, shares, shelf) for key, shares in self._needs(drafts).items()]
        glass, left = self._glass(made)
        beads = [self._bead(of_kind, left) for of_kind in made]
        for draft in drafts:
            self._line_work(draft)
        self._share_beads(drafts, beads)
        once_cost = self._once_work()
        self._share_once_cost(drafts, once_cost)
        lines = tuple(self._line(draft) for draft in drafts)
        return self._total(lines, beads, glass, once_cost)

    # -- lines, layouts and the shelf ------------------------------------------------------

    def _draft(self, index: int, line: LineFacts, shelf: Shelf) -> LineDraft:
        draft = LineDraft(index, line)
        if line.design is None:
            assert line.bead is not None
            draft.name = self.workshop.beads[line.bead].name
            return draft
        design = self.workshop.designs[line.design]
        draft.design, draft.name = design, design.name
        try:
            draft.layout = lay_out(self.workshop, line.design)
        except CostingError as error:
            error.line = index
            raise
        draft.ready = shelf.take_strands(line.design, design.name, line.quantity)
        draft.to_string = line.quantity - taken_count(draft.ready)
        draft.shelf_cost = shelf_value(draft.ready)
        draft.findings_cost = _findings_each(self.workshop, design, draft.layout) * draft.to_string
        return draft

    def _needs(self, drafts: Sequence[LineDraft]) -> dict[Key, list[tuple[int, int]]]:
        """Beads needed: for each kind of bead, which line needs how many."""
        needs: dict[Key, list[tuple[int, int]]] = {}
        for draft in drafts:
            if draft.layout is None:
                assert draft.line.bead is not None
                needs.setdefault(draft.line.bead, []).append((draft.index, draft.line.quantity))
            elif draft.to_string:
                for key, count in draft.layout.beads:
                    needs.setdefault(key, []).append((draft.index, count * draft.to_string))
        return needs

    # -- beads, glass and kiln -------------------------------------------------------------

    def _made(self, key: Key, shares: list[tuple[int, int]], shelf: Shelf) -> BeadsDraft:
        """Take what the shelf has of a bead, and start enough of the rest."""
        try:
            needed = sum([count for _line, count in shares])
            taken = shelf.take_beads(key, needed)
            to_make = needed - taken_count(taken)
            # Beads that all lie on the shelf ask for no mould, kiln or glass.
            unit = bead_unit(self.workshop, key) if to_make else None
            start = self._start(unit, to_make) if unit else 0
        except CostingError as error:
            if not error.subject:
                error.subject = self.workshop.beads[key].name
            if error.line is None:
                error.line = shares[0][0]
            raise
        return BeadsDraft(self.workshop.beads[key], unit, shares, needed, taken, to_make, start)

    def _start(self, unit: BeadUnit, to_make: int) -> int:
        choices = self.workshop.choices
        scatter = unit.scatter
        if scatter is not None:
            start = beads_to_start_scattered(
                to_make, scatter.alpha, scatter.beta, choices.assurance
            )
        else:
            start = beads_to_start(to_make, unit.reject_rate, choices.assurance)
        if choices.whole_moulds:
            cavities = unit.firings[0].mould.cavities
            start = -(-start // cavities) * cavities
        return start

    def _glass(
        self, made: Sequence[BeadsDraft]
    ) -> tuple[tuple[GlassCosting, ...], dict[tuple[Key, str], Decimal]]:
        """Glass by colour, and for each colour and form the share that is still to be prepared."""
        needs: dict[Key, dict[str, Decimal]] = {}
        for beads in made:
            for colour, form, glass_g in beads.glass_g:
                forms = needs.setdefault(colour, {})
                forms[form] = forms.get(form, ZERO) + glass_g
        left: dict[tuple[Key, str], Decimal] = {}
        glass = []
        for key, forms in needs.items():
            of_colour = glass_of(self.workshop.colours[key], forms)
            glass.append(of_colour)
            for prepared in of_colour.forms:
                if prepared.needed_g:
                    left[key, prepared.form] = prepared.to_prepare_g / prepared.needed_g
        return tuple(glass), left

    def _bead(self, made: BeadsDraft, left: dict[tuple[Key, str], Decimal]) -> BeadCosting:
        unit, start, facts = made.unit, made.start, made.facts
        paid = glass_cost = pigment_cost = ZERO
        if unit is not None:
            glass_cost = unit.glass_cost * start
            pigment_cost = unit.pigment_cost * start + facts.paint_price_each * made.painted
            for rate in unit.rates:
                units = bead_units(rate, made, left)
                if units:
                    paid += self._work(rate).add(units)
        return BeadCosting(
            key=facts.key,
            name=facts.name,
            kind=facts.kind,
            needed=made.needed,
            taken=made.taken,
            from_shelf=made.needed - made.to_make,
            to_make=made.to_make,
            reject_rate=unit.reject_rate if unit else ZERO,
            start=start,
            expected_good=start * (ONE - unit.reject_rate) if unit else ZERO,
            painted=made.painted,
            finished_g=unit.finished_g if unit else ZERO,
            fired_g=unit.fired_g if unit else ZERO,
            fill_g=made.fill_g,
            glass_g=made.glass_g,
            pigment_g=unit.pigment_g * start if unit else ZERO,
            firings=made.firings,
            glass_cost=glass_cost,
            pigment_cost=pigment_cost,
            fuel_cost=sum([firing.fuel_cost for firing in made.firings], ZERO),
            labour_cost=paid,
            shelf_cost=shelf_value(made.taken),
            share_by_line=tuple(made.shares),
        )

    def _work(self, rate: RateFacts) -> Work:
        work = self.work.get(rate.key)
        if work is None:
            work = self.work[rate.key] = Work(rate)
        return work

    # -- labour of stringing and of the order ------------------------------------------------

    def _line_work(self, draft: LineDraft) -> None:
        if not draft.to_string:
            return
        assert draft.design is not None and draft.layout is not None
        for rate in line_rates(self.workshop):
            units = draft.to_string
            if rate.basis == PER_BEAD:
                units *= draft.layout.bead_count
            timed = None
            if draft.design.learning and rate.skill == STRINGING:
                strands = learned_units(draft.design.learning, draft.to_string, draft.name)
                timed = strands * units / draft.to_string
            draft.labour_cost += self._work(rate).add(units, timed)

    def _once_work(self) -> Decimal:
        """Pay for what comes once an order, made or ready: its own steps, and the set-ups."""
        for rate in order_rates(self.workshop):
            self._work(rate).add(1)
        paid = ZERO
        for work in self.work.values():
            if work.rate.basis == PER_ORDER:
                paid += work.pay
            paid += setup_pay(work.rate)
        return paid

    # -- sharing among lines ---------------------------------------------------------------

    def _share_beads(self, drafts: Sequence[LineDraft], beads: Sequence[BeadCosting]) -> None:
        for bead in beads:
            cost, shelf_cost = bead.cost, bead.shelf_cost
            for index, count in bead.share_by_line:
                drafts[index].beads_cost += cost * count / bead.needed
                drafts[index].shelf_cost += shelf_cost * count / bead.needed

    def _share_once_cost(self, drafts: Sequence[LineDraft], once_cost: Decimal) -> None:
        """What comes once an order falls on its lines by what else they cost."""
        if not once_cost:
            return
        direct = [draft.beads_cost + draft.findings_cost + draft.labour_cost for draft in drafts]
        whole = sum(direct, ZERO)
        for draft, part in zip(drafts, direct, strict=True):
            if whole:
                draft.order_cost = once_cost * part / whole
            else:
                draft.order_cost = once_cost / len(drafts)

    def _line(self, draft: LineDraft) -> LineCosting:
        line = draft.line
        direct = draft.beads_cost + draft.findings_cost + draft.labour_cost + draft.order_cost
        overhead_cost = direct * price_book(self.workshop).overhead
        cost = direct + overhead_cost + draft.shelf_cost
        cost_each = cost / line.quantity
        price = price_line(self.facts, line, cost_each)
        total = line_total(self.workshop.currency, line.quantity, price.each)
        return LineCosting(
            index=draft.index,
            key=line.key,
            design=line.design,
            bead=line.bead,
            name=draft.name,
            quantity=line.quantity,
            ready_taken=taken_count(draft.ready),
            to_string=draft.to_string,
            layout=draft.layout,
            beads_cost=draft.beads_cost,
            findings_cost=draft.findings_cost,
            labour_cost=draft.labour_cost,
            order_cost=draft.order_cost,
            shelf_cost=draft.shelf_cost,
            overhead_cost=overhead_cost,
            cost=cost,
            cost_each=cost_each,
            lowest=price.lowest,
            suggested=price.suggested,
            price_each=price.each,
            price_from=price.origin,
            price_total=total,
            margin=1 - cost / total if total else None,
            margin_asked=price.margin_asked,
            off=price.off,
            listed=price.listed,
            off_listed=price.off_listed,
            below_cost=total < cost,
        )

    # -- totals ----------------------------------------------------------------------------

    def _total(
        self,
        lines: tuple[LineCosting, ...],
        beads: Sequence[BeadCosting],
        glass: tuple[GlassCosting, ...],
        once_cost: Decimal,
    ) -> OrderCosting:
        labour = tuple(labour_costing(work) for work in self.work.values())
        glass_cost = sum((bead.glass_cost for bead in beads), ZERO)
        pigment_cost = sum((bead.pigment_cost for bead in beads), ZERO)
        fuel_cost = sum((bead.fuel_cost for bead in beads), ZERO)
        labour_cost = sum((work.cost for work in labour), ZERO)
        findings_cost = sum((line.findings_cost for line in lines), ZERO)
        shelf_cost = sum((line.shelf_cost for line in lines), ZERO)
        direct = glass_cost + pigment_cost + fuel_cost + labour_cost + findings_cost
        overhead_cost = direct * price_book(self.workshop).overhead
        return OrderCosting(
            facts=self.facts,
            currency=self.workshop.currency,
            lines=lines,
            beads=tuple(beads),
            glass=glass,
            labour=labour,
            glass_cost=glass_cost,
            pigment_cost=pigment_cost,
            fuel_cost=fuel_cost,
            labour_cost=labour_cost,
            once_cost=once_cost,
            findings_cost=findings_cost,
            shelf_cost=shelf_cost,
            overhead_cost=overhead_cost,
            cost=direct + overhead_cost + shelf_cost,
            price_total=sum((line.price_total for line in lines), ZERO),
        )


def _findings_each(workshop: WorkshopFacts, design: DesignFacts, layout: StrandLayout) -> Decimal:
    """Clasps, spacers and cord of one piece."""
    kept = workshop._kept.get(("findings", design.key))
    if kept is None:
        kept = sum((finding.price * finding.count for finding in design.findings), ZERO)
        for key, count in layout.spacers:
            kept += workshop.spacers[key].price * count
        kept += layout.cord_mm / MM_PER_M * design.cord.price_per_m
        workshop._kept["findings", design.key] = kept
    return kept
