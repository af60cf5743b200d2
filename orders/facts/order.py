"""Rows into costing facts, in a fixed number of queries: at most 19, whatever the order's size.

Everything is keyed by primary key. The key of a batch on the shelf is that of its *balance*
row, because it is the balance that is held for an order.
"""

from collections.abc import Iterable, Sequence
from copy import copy
from datetime import date
from decimal import Decimal

from django.utils import timezone

from orders.costing.facts import (
    ChoiceFacts,
    KilnFacts,
    LineFacts,
    ListPrice,
    OrderFacts,
    PolicyFacts,
    WorkshopFacts,
)
from orders.facts.shelf import Shelves
from orders.facts.standing import Standing, prices_in_force, standing_facts
from orders.models import (
    BY_HAND,
    Customer,
    CustomerGroup,
    DesignPrice,
    Order,
    OrderLine,
    WantedLine,
    sees_tax,
)
from stock.runs import usual_runs
from stock.services.standards import Standards
from workshop import money
from workshop.costs.kiln_share import UsualRun
from workshop.models import Business, Kiln
from workshop.money import ZERO


def order_facts(
    order: Order, *, business: Business | None = None, on: date | None = None
) -> OrderFacts:
    """The facts of an order that is written down (19 queries at most).

    What the order itself holds and has claimed counts as free for it, so that a confirmed
    order can be costed again.
    """
    written = OrderLine.objects.filter(order=order).order_by("position", "id")
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
    )


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
    standing: Standing | None = None,
) -> OrderFacts:
    """The facts of lines that may not be written down yet (19 queries at most).

    with_tax  whether prices are told with VAT; left out, as the customer or group sees them
    standing  of designs that are only being typed; left out, they are read
    """
    on = on or timezone.localdate()
    business = business or Business.current()
    if standing is None:
        standing = standing_facts(dict.fromkeys(line.design for line in lines), on)
    if with_tax is None:
        with_tax = sees_tax(customer, business, group)
    with_tax = with_tax and business.tax_registered
    rate = standing.tax.rate if standing.tax is not None else ZERO
    written = list(standing.prices)
    if customer is not None and customer.pk:
        written += prices_in_force(standing.rows, customer, on)
    prices = [_told(price, with_tax, rate, business.currency) for price in written]
    workshop = _workshop(standing, prices, business, own_order)
    return OrderFacts(
        workshop=workshop,
        lines=tuple(
            LineFacts(quantity=line.strands, design=line.design, price=line.price, key=line.design)
            for line in lines
        ),
        reference=reference,
        group=customer.group if customer else group,
        agreed=tuple(_agreed(lines, prices)),
        tax=rate / 100 if with_tax else ZERO,
    )


# --- prices -----------------------------------------------------------------------------------


def _told(price: DesignPrice, with_tax: bool, rate: Decimal, currency: str) -> DesignPrice:
    """A price of the list in the form that an order is told in."""
    if price.with_tax == with_tax:
        return price
    told = copy(price)
    told.price = told_price(price, with_tax, rate, currency)
    return told


def told_price(price: DesignPrice, with_tax: bool, rate: Decimal, currency: str) -> Decimal:
    """A price of the list, with VAT or without."""
    if price.with_tax == with_tax:
        return price.price
    return (money.with_tax if with_tax else money.without_tax)(price.price, rate, currency)


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
    standing: Standing,
    prices: Sequence[DesignPrice],
    business: Business,
    own_order: Order | None = None,
) -> WorkshopFacts:
    stock, standards = Shelves(standing, own_order), standing.standards()
    return WorkshopFacts(
        currency=business.currency,
        colours=stock.colours(),
        beads=standing.beads,
        moulds=standing.moulds,
        programmes=standing.programmes,
        kilns=tuple(_kilns(standing, standards)),
        rates=standing.rates,
        spacers=standing.spacers,
        designs=standing.designs,
        kept_findings=stock.kept_findings(),
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
            breaks=standing.breaks,
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


def _kilns(standing: Standing, standards: Standards) -> Iterable[KilnFacts]:
    """The kilns and their usual fill (1 query until it is kept for the month).

    How runs usually go is read where one is kept hot (1 query more).
    """
    fills = standards.fills_read(standing.kilns)
    hot = [kiln for kiln in standing.kilns if kiln.is_kept_hot]
    runs = usual_runs(hot) if hot else {}
    for kiln in standing.kilns:
        yield _kiln(kiln, runs.get(kiln.pk), standing.hands, fills[kiln.pk].share)


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
