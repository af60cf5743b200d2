"""What an order would take and cost, and when it could be collected: nothing is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import OrderFacts
from orders.costing.new_loads import with_new_loads
from orders.costing.notices import order_notices
from orders.costing.results import OrderCosting
from orders.facts.order import facts_for, order_facts
from orders.facts.standing import Standing
from orders.facts.wording import notice, refusal
from orders.floor.promise import Promise, joining_for, promise_for
from orders.models import Customer, Order, WantedLine
from orders.reckoning.floors import FloorWord, floor_words, ways_lower
from workshop.models import Business


@dataclass(frozen=True)
class Reckoning:
    """Costing and promise; or, where nothing can be costed, the sentence that says why.

    words   of each line whose price stands below a floor
    lower   what would lower the floor of lines that light loads for themselves
    """

    costing: OrderCosting | None
    promise: Promise | None
    refusal: str = ""
    notices: tuple[str, ...] = ()
    words: tuple[FloorWord, ...] = ()
    lower: tuple[str, ...] = ()


# Said on the lines and bars themselves, so not once more below them.
SHOWN_ELSEWHERE = {"below_cost", "glass_short", "length_off"}


def reckon(
    lines: Sequence[WantedLine],
    *,
    customer: Customer | None,
    business: Business,
    today: date,
    group: str = "",
    order: Order | None = None,
    standing: Standing | None = None,
) -> Reckoning:
    """Cost lines that may be no more than typed, in a fixed number of queries.

    standing  of a design that is itself only being typed
    """
    if not lines:
        return Reckoning(None, None)
    facts = facts_for(
        lines,
        customer=customer,
        group=group,
        business=business,
        on=today,
        own_order=order,
        standing=standing,
    )
    return _reckoned(facts, today, business, order)


def reckon_order(order: Order, *, business: Business, today: date) -> Reckoning:
    """The same for an order that is written down, as things stand today."""
    return _reckoned(order_facts(order, business=business, on=today), today, business, order)


def with_its_loads(
    facts: OrderFacts, *, today: date, business: Business, order: Order | None = None
) -> tuple[OrderCosting, Promise]:
    """An order costed, its day found, and the loads that are lit for it priced.

    Raises CostingError for facts with which nothing can be costed.
    """
    costing = cost_order(facts)
    promise = promise_for(costing, today=today, business=business, order=order)
    return with_new_loads(costing, promise.new_loads), promise


def _reckoned(facts: OrderFacts, today: date, business: Business, order: Order | None) -> Reckoning:
    try:
        costing, promise = with_its_loads(facts, today=today, business=business, order=order)
    except CostingError as error:
        return Reckoning(None, None, refusal(error))
    told = tuple(
        notice(each) for each in order_notices(costing) if each.code not in SHOWN_ELSEWHERE
    )
    words = tuple(floor_words(costing))
    lower: tuple[str, ...] = ()
    if any(line.pocket_rules and line.loads_cost for line in costing.lines):
        joining = joining_for(costing, today=today, order=order)
        lower = tuple(ways_lower(costing, joining))
    return Reckoning(costing, promise, "", told, words, lower)
