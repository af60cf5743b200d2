"""An order as it is beside the order as it would be. Nothing is written."""

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing import what_if as copies
from orders.costing.errors import CostingError
from orders.costing.what_if import Difference
from orders.costing.working.tree import order_tree
from orders.facts.order import order_facts
from orders.facts.wording import refusal
from orders.models import Order
from orders.reckoning.panel import Panel, panel_of
from orders.reckoning.reckon import with_its_loads
from orders.reckoning.working import KeptTerm, shown
from workshop import formats
from workshop.models import Business


@dataclass(frozen=True)
class Comparison:
    """Both panels, and every term that differs; or the sentence that says why there is none.

    working  the tree of the order as it would be, to be opened
    refused  the field and the subject that a refusal is about
    """

    before: Panel | None
    after: Panel | None
    differences: tuple["ShownDifference", ...] = ()
    refusal: str = ""
    refused: tuple[str, str] = ("", "")
    working: KeptTerm | None = None


def compare(order: Order, changes: dict[str, Any], *, business: Business) -> Comparison:
    """Cost the order under today's facts, and under changed ones, each with the loads it lights."""
    try:
        facts = order_facts(order, business=business)
        before, after = (
            with_its_loads(asked, today=timezone.localdate(), business=business, order=order)[0]
            for asked in (facts, copies.changed(facts, **changes))
        )
    except CostingError as error:
        return Comparison(None, None, refusal=refusal(error), refused=(error.field, error.subject))
    working = order_tree(after)
    told = tuple(_shown(each) for each in copies.compare(order_tree(before), working))
    return Comparison(panel_of(before), panel_of(after), told, working=shown(working))


@dataclass(frozen=True)
class ShownDifference:
    """One term before and after, in words; a side is a dash where the term does not stand."""

    name: str
    subject: str
    unit: str
    before: str
    after: str


def _shown(each: Difference) -> ShownDifference:
    unit = "" if each.unit == formats.habits().currency else each.unit
    return ShownDifference(
        _(each.name), each.subject, unit, _side(each.before, each), _side(each.after, each)
    )


def _side(value: Any, each: Difference) -> str:
    return "–" if value is None else formats.quantity(value, each.unit)
