"""Rows into costing facts, in a fixed number of queries: at most 19, whatever the order's size.

Everything is keyed by primary key. The key of a batch on the shelf is that of its *balance*
row, because it is the balance that is held for an order.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q
from django.utils import timezone

from orders.costing import facts as told
from orders.costing.facts import (
    ChoiceFacts,
    DesignFacts,
    KilnFacts,
    LineFacts,
    ListPrice,
    OrderFacts,
    PolicyFacts,
    RateFacts,
    SpacerFacts,
    WorkshopFacts,
)
from orders.facts.beads import bead_facts, mould_facts, programme_facts
from orders.facts.designs import design_facts
from orders.facts.shelf import Shelves
from orders.models import (
    Customer,
    CustomerGroup,
    DesignPart,
    DesignPrice,
    Order,
    OrderLine,
    QuantityBreak,
    StrandDesign,
    WorkMinutes,
)
from orders.models.customers import sees_tax
from stock.agreement import clashes
from stock.models import Bead, BeadColour, GlassColour
from stock.runs import piercing_hands, usual_runs
from stock.services.standards import MinutesByBead, Standards, fills_of_month
from workshop import money
from workshop.costs.kiln_share import UsualRun
from workshop.models import Business, Kiln, LabourRate, TaxRate
from workshop.money import ZERO
from workshop.physics.advice import Advice


@dataclass(frozen=True)
class WantedLine:
    """So many strands of a design (its primary key); `price` only when somebody set it."""

    design: int
    strands: int
    price: Decimal | None = None


def order_facts(
    order: Order, *, business: Business | None = None, on: date | None = None
) -> OrderFacts:
    """The facts of an order that is written down (19 queries at most).

    What the order itself holds and has claimed counts as free for it, so that a confirmed
    order can be costed again.
    """
    rows = OrderLine.objects.filter(order=order).with_designs()
    written = list(rows.order_by("position", "id"))
    lines = [
        WantedLine(line.design_id, line.strands, line.price if line.price_from == BY_HAND else None)
        for line in written
    ]
    return facts_for(
        lines,
        customer=order.customer,
        reference=str(order.number),
        business=business,
        on=on,
        own_order=order,
        with_tax=order.prices_with_tax,
        designs=list({line.design_id: line.design for line in written}.values()),
    )


# What an order line's price_from says when somebody typed the price.
BY_HAND = "line"


def facts_for(
    lines: Sequence[WantedLine],
    *,
    customer: Customer | None = None,
    group: str = "",
    reference: str = "",
    business: Business | None = None,
    on: date | None = None,
    own_order: Order | None = None,
    with_tax: bool | None = None,
    designs: Sequence[StrandDesign] | None = None,
) -> OrderFacts:
    """The facts of lines that may not be written down yet (19 queries at most).

    with_tax  whether prices are told with VAT; left out, as the customer or group sees them
    designs   saves reading them again; they come with their clasp and cord
    """
    on = on or timezone.localdate()
    business = business or Business.current()
    designs = designs or list(
        StrandDesign.objects.filter(pk__in={line.design for line in lines}).with_findings()
    )
    if with_tax is None:
        with_tax = sees_tax(customer, business, group)
    prices = list(_prices_in_force(designs, customer, on))
    tax = _tell_prices(prices, with_tax and business.tax_registered, business.currency, on)
    workshop = _workshop(designs, prices, business, on, own_order)
    return OrderFacts(
        workshop=workshop,
        lines=tuple(
            LineFacts(quantity=line.strands, design=line.design, price=line.price, key=line.design)
            for line in lines
        ),
        reference=reference,
        group=customer.group if customer else group,
        agreed=tuple(_agreed(lines, prices)),
        tax=tax,
    )


def workshop_facts(
    design_ids: Iterable[int] | None = None,
    *,
    business: Business | None = None,
    on: date | None = None,
) -> WorkshopFacts:
    """The workshop's facts for some designs, or for all (16 queries)."""
    on = on or timezone.localdate()
    rows = StrandDesign.objects.with_findings()
    designs = list(rows if design_ids is None else rows.filter(pk__in=set(design_ids)))
    prices = list(_prices_in_force(designs, None, on))
    return _workshop(designs, prices, business or Business.current(), on, None)


# --- prices -----------------------------------------------------------------------------------


def _prices_in_force(
    designs: Sequence[StrandDesign], customer: Customer | None, on: date
) -> Iterable[DesignPrice]:
    """The newest price of each design, group or customer, and quantity (1 query)."""
    whose = Q(customer__isnull=True)
    if customer is not None and customer.pk:
        whose |= Q(customer=customer)
    newest: dict[tuple[int, str, int | None, int], DesignPrice] = {}
    rows = DesignPrice.objects.filter(whose, design__in=designs, valid_from__lte=on)
    for price in rows.order_by("valid_from", "id"):
        newest[price.design_id, price.group, price.customer_id, price.from_strands] = price
    return newest.values()


def _tell_prices(prices: Sequence[DesignPrice], with_tax: bool, currency: str, on: date) -> Decimal:
    """Bring prices to the form an order is told in; gives the share of VAT in them, 0 for none.

    A price of another form is changed by the standard rate of the day and rounded as money is; one
    that is told so already stays as it was written (1 query where any tax matters).
    """
    if not with_tax and not any(price.with_tax for price in prices):
        return ZERO
    standard = TaxRate.standard_on(on)
    rate = standard.rate if standard is not None else ZERO
    for price in prices:
        price.price = told_price(price, with_tax, rate, currency)
    return rate / 100 if with_tax else ZERO


def told_price(price: DesignPrice, with_tax: bool, rate: Decimal, currency: str) -> Decimal:
    """A price of the list, with VAT or without."""
    if price.with_tax == with_tax:
        return price.price
    return (money.with_tax if with_tax else money.without_tax)(price.price, rate, currency)


def breaks_in_force(on: date) -> Iterable[told.QuantityBreak]:
    """The newest quantity break of each group and number of strands (1 query).

    One of 0 stands too: it is how a group is kept out of what everybody gets.
    """
    newest: dict[tuple[str, int], QuantityBreak] = {}
    for row in QuantityBreak.objects.filter(valid_from__lte=on).order_by("valid_from", "id"):
        newest[row.group, row.from_strands] = row
    for row in newest.values():
        yield told.QuantityBreak(row.from_strands, row.off, row.group)


def _agreed(
    lines: Sequence[WantedLine], prices: Sequence[DesignPrice]
) -> Iterable[tuple[int, Decimal]]:
    """The price agreed with this customer for the quantity of each line."""
    for line in lines:
        fitting = [
            price
            for price in prices
            if price.customer_id is not None
            and price.design_id == line.design
            and price.from_strands <= line.strands
        ]
        if fitting:
            yield line.design, max(fitting, key=lambda price: price.from_strands).price


# --- the workshop -----------------------------------------------------------------------------


def _workshop(
    designs: Sequence[StrandDesign],
    prices: Sequence[DesignPrice],
    business: Business,
    on: date,
    own_order: Order | None,
) -> WorkshopFacts:
    parts = list(
        DesignPart.objects.filter(design__in=designs)
        .select_related("spacer", "bead__mould", "bead__programme", "bead__second_programme")
        .order_by("design_id", "position")
    )
    beads = {part.bead_id: part.bead for part in parts if part.bead is not None}
    shares = _shares(beads)
    used_colours = {share.colour_id for rows in shares.values() for share in rows}
    stock = Shelves(designs, beads, used_colours, own_order, on)
    programmes = {
        row.pk: row
        for bead in beads.values()
        for row in (bead.programme, bead.second_programme)
        if row is not None
    }
    clashing = _clashing(shares, stock.colour_rows)
    standards = Standards(on)
    minutes = MinutesByBead(standards)
    return WorkshopFacts(
        currency=business.currency,
        colours=stock.colours(),
        beads={
            pk: bead_facts(bead, shares.get(pk, ()), minutes.of(bead), clashing.get(pk))
            for pk, bead in beads.items()
        },
        moulds={bead.mould_id: mould_facts(bead.mould) for bead in beads.values()},
        programmes={pk: programme_facts(row) for pk, row in programmes.items()},
        kilns=tuple(_kilns(list(Kiln.objects.filter(in_use=True).order_by("pk")), on)),
        rates=tuple(_rates(standards)),
        spacers={
            part.spacer_id: SpacerFacts(
                part.spacer_id, part.spacer.name, part.spacer.length_mm, part.spacer.price
            )
            for part in parts
            if part.spacer is not None
        },
        designs=designs_facts(designs, parts, standards),
        stock=stock.facts(),
        policy=PolicyFacts(
            overhead=business.overhead,
            hours_when_worked=business.hours_when_worked,
            margin=business.margin,
            margins=group_margins(business),
            step=business.price_step,
            prices=tuple(
                ListPrice(price.design_id, price.price, price.group, price.from_strands)
                for price in prices
                if price.customer_id is None
            ),
            breaks=tuple(breaks_in_force(on)),
        ),
        workshop_minute=standards.workshop_minute_read,
        choices=ChoiceFacts(
            assurance=business.assurance,
            whole_moulds=business.whole_moulds,
            rejects_by_load=business.rejects_by_load,
            min_weighed=business.min_weighed,
        ),
    )


def group_margins(business: Business) -> tuple[tuple[str, Decimal], ...]:
    """The margins of groups of customers that have one of their own."""
    own = (
        (CustomerGroup.TRADER, business.margin_trader),
        (CustomerGroup.SHOP, business.margin_shop),
        (CustomerGroup.WALK_IN, business.margin_walk_in),
    )
    return tuple((group.value, margin) for group, margin in own if margin is not None)


def _shares(beads: dict[int, Bead]) -> dict[int, list[BeadColour]]:
    found: dict[int, list[BeadColour]] = {}
    for share in BeadColour.objects.filter(bead__in=beads).order_by("bead_id", "layer", "id"):
        found.setdefault(share.bead_id, []).append(share)
    return found


def _clashing(
    shares: dict[int, list[BeadColour]], colours: Iterable[GlassColour]
) -> dict[int, Advice]:
    """Beads whose glasses must not be mixed (1 query, where a bead is of several)."""
    by_key = {colour.pk: colour for colour in colours}
    return clashes({bead: [by_key[row.colour_id] for row in rows] for bead, rows in shares.items()})


def _kilns(kilns: list[Kiln], on: date) -> Iterable[KilnFacts]:
    """The kilns and their usual fill (1 query, or 2 until it is kept for the month).

    How runs usually go is read where one is kept hot (2 queries more).
    """
    fills = fills_of_month(kilns, on)
    hot = [kiln for kiln in kilns if kiln.is_kept_hot]
    runs = usual_runs(hot) if hot else {}
    hands = piercing_hands() if hot else 1
    for kiln in kilns:
        yield _kiln(kiln, runs.get(kiln.pk), hands, fills[kiln.pk].share)


def _kiln(kiln: Kiln, usual: UsualRun | None, hands: int, fill: Decimal) -> KilnFacts:
    return KilnFacts(
        key=kiln.pk,
        name=kiln.name,
        places=kiln.places,
        preheat_min=Decimal(kiln.preheat_min),
        cooling_min=Decimal(kiln.cooling_min),
        lowest_c=Decimal(kiln.lowest_c),
        highest_c=Decimal(kiln.highest_c),
        fuel=kiln.fuel,
        fuel_price=kiln.fuel_price,
        fuel_per_load=kiln.fuel_per_load,
        efficiency=kiln.efficiency,
        moisture=kiln.moisture,
        hot=kiln.as_hot,
        usual=usual,
        hands=hands,
        closed=None if kiln.is_kept_hot else kiln.as_closed,
        body_mj=kiln.body_mj,
        loss_kw=kiln.loss_kw,
        fire_efficiency=kiln.fire_efficiency,
        usual_fill=fill,
        wear_per_load=kiln.wear_per_load,
    )


def _rates(standards: Standards) -> Iterable[RateFacts]:
    """The newest rate of each step, kind and form, with the employer's share (2 queries)."""
    share = standards.standing.employer_share
    newest: dict[tuple[str, str, str], LabourRate] = {}
    held = LabourRate.objects.filter(valid_from__lte=standards.on)
    for rate in held.order_by("valid_from", "id"):
        newest[rate.step_id, rate.kind, rate.form] = rate
    for rate in sorted(newest.values(), key=lambda rate: rate.pk):
        yield RateFacts(
            key=rate.pk,
            step=rate.step_id,
            skill=rate.skill,
            basis=rate.basis,
            minutes_each=rate.minutes_each,
            hourly=rate.hourly,
            setup_min=rate.setup_min,
            allowance=rate.allowance,
            piece=rate.piece,
            kind=rate.kind,
            form=rate.form,
            employer_share=share,
        )


def designs_facts(
    designs: Sequence[StrandDesign], parts: Iterable[DesignPart], standards: Standards
) -> dict[int, DesignFacts]:
    """Each design with its own of the parts, which come in their order.

    Minutes of work on a piece are read where there is such a line (1 query).
    """
    work = [design.pk for design in designs if design.is_work]
    own_rates: dict[int, tuple[RateFacts, ...]] = {d.pk: () for d in designs if d.is_loose}
    if work:
        own_rates |= _work_rates(work, standards)
    own: dict[int, list[DesignPart]] = {design.pk: [] for design in designs}
    for part in parts:
        own[part.design_id].append(part)
    return {
        design.pk: design_facts(design, own[design.pk], own_rates.get(design.pk))
        for design in designs
    }


def _work_rates(designs: Sequence[int], standards: Standards) -> dict[int, tuple[RateFacts, ...]]:
    """A rate for each skill that works on a piece, at the dearest pay an hour of that skill.

    The minutes are written for this very work, so no allowance is laid on them.
    """
    found: dict[int, list[RateFacts]] = {pk: [] for pk in designs}
    for row in WorkMinutes.objects.filter(design__in=designs).select_related("design"):
        hourly = max((rate.hourly for rate in standards.rates.of(row.skill)), default=ZERO)
        found[row.design_id].append(
            RateFacts(
                key=f"work {row.pk}",
                step=row.design.name,
                skill=row.skill,
                basis=told.PER_STRAND,
                minutes_each=row.minutes,
                hourly=hourly,
                employer_share=standards.standing.employer_share,
            )
        )
    return {pk: tuple(rates) for pk, rates in found.items()}
