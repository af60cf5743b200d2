"""What is done once for a whole order, such as tags and packing, and is not told yet."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from orders.models import Order, Stage
from stock.models import WorkTicket
from workshop.days import soonest
from workshop.models import LabourRate
from workshop.rates import Rates


def ref_of(order: Order) -> str:
    """What tickets of an order's work belong to."""
    return f"order {order.number}"


@dataclass(frozen=True)
class ToPack:
    """An order that lies ready, and its steps that no ticket tells of yet."""

    order: Order
    steps: tuple[LabourRate, ...]

    @property
    def minutes(self) -> int:
        return sum(minutes_once(rate) for rate in self.steps)


def minutes_once(rate: LabourRate) -> int:
    """Standard minutes of a step that is done once an order, set-up and rest with it."""
    return round(rate.setup_min + rate.minutes_each * (1 + rate.allowance))


def may_be_packed(order: Order) -> bool:
    """Whether it lies strung or has left; a sale over the counter was never packed."""
    if order.state == Order.State.COLLECTED:
        return not hasattr(order, "sale")
    return order.is_open and order.stage >= Stage.STRUNG


def steps_to_pack(order: Order) -> tuple[LabourRate, ...]:
    """The steps of one order that are still to be told (at most 3 queries)."""
    found = _untold([order], Rates.in_force()) if may_be_packed(order) else []
    return found[0].steps if found else ()


def orders_to_pack(rates: Rates) -> list[ToPack]:
    """Orders that lie ready and are not packed, the soonest first (2 queries at most)."""
    if not rates.once_an_order():
        return []
    ready = Order.objects.open().filter(stage=Stage.STRUNG).select_related("customer")
    return _untold(list(ready.order_by(soonest("due_on"), "number")), rates)


def _untold(orders: Sequence[Order], rates: Rates) -> list[ToPack]:
    steps = rates.once_an_order()
    if not orders or not steps:
        return []
    # An order is packed after it was taken: so old tickets are not read.
    told = defaultdict[str, set[str]](set)
    tickets = WorkTicket.objects.filter(
        on__gte=min(order.taken_on for order in orders),
        step__in=[rate.step_id for rate in steps],
        belongs_ref__in=[ref_of(order) for order in orders],
    )
    for ref, step in tickets.order_by().values_list("belongs_ref", "step"):
        told[ref].add(step)
    left = (
        ToPack(order, tuple(r for r in steps if r.step_id not in told[ref_of(order)]))
        for order in orders
    )
    return [each for each in left if each.steps]
