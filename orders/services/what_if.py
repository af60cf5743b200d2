"""An order as it is beside the order as it would be. Nothing is written."""

from dataclasses import dataclass
from typing import Any

from orders.adapter import order_facts
from orders.costing import what_if as copies
from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.what_if import Difference
from orders.models import Order
from orders.queries.panel import Panel, panel_of
from orders.services.wording import refusal
from workshop.models import Business


@dataclass(frozen=True)
class Comparison:
    """Both panels, and every term that differs; or the sentence that says why there is none."""

    before: Panel | None
    after: Panel | None
    differences: tuple[Difference, ...] = ()
    refusal: str = ""


def compare(order: Order, changes: dict[str, Any], *, business: Business) -> Comparison:
    """Cost the order under today's facts, and under changed ones (12 queries)."""
    try:
        facts = order_facts(order, business=business)
        before = cost_order(facts)
        after = copies.what_if(facts, **changes)
    except CostingError as error:
        return Comparison(None, None, refusal=refusal(error))
    return Comparison(panel_of(before), panel_of(after), copies.compare(before, after))
