"""What an order would take and cost, and when it could be collected: nothing is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.notices import order_notices
from orders.costing.results import OrderCosting
from orders.facts.order import WantedLine, facts_for
from orders.facts.wording import notice, refusal
from orders.floor.promise import Promise, promise_for
from orders.models import Customer, Order, StrandDesign
from workshop.models import Business


@dataclass(frozen=True)
class Reckoning:
    """Costing and promise; or, where nothing can be costed, the sentence that says why."""

    costing: OrderCosting | None
    promise: Promise | None
    refusal: str = ""
    notices: tuple[str, ...] = ()


# Said on the lines and bars themselves, so not once more below them.
SHOWN_ELSEWHERE = {"below_cost", "glass_short", "length_off"}


def reckon(
    lines: Sequence[WantedLine],
    *,
    customer: Customer | None,
    business: Business,
    today: date,
    group: str = "",
    designs: Sequence[StrandDesign] | None = None,
    order: Order | None = None,
) -> Reckoning:
    """Cost lines that may be no more than typed (19 queries at most, whatever their number)."""
    if not lines:
        return Reckoning(None, None)
    try:
        costing = cost_order(
            facts_for(
                lines,
                customer=customer,
                group=group,
                designs=designs,
                business=business,
                on=today,
                own_order=order,
            )
        )
    except CostingError as error:
        return Reckoning(None, None, refusal(error))
    told = tuple(
        notice(each) for each in order_notices(costing) if each.code not in SHOWN_ELSEWHERE
    )
    return Reckoning(
        costing, promise_for(costing, today=today, business=business, order=order), "", told
    )
