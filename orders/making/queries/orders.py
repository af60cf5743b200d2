"""Orders as lists and pages show them."""

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.drawn.strands import Draughtsman
from orders.models import Order, OrderLine, Stage, StockReservation
from stock.models import ItemKind
from stock.services.moves import say_quantity
from workshop.drawing import DrawnStrand

Progress = list[tuple[str, str]]


def progress_of(order: Order) -> Progress:
    """The beads of an order's progress strand: done, now, late or todo."""
    today = timezone.localdate()
    # Once it is strung it waits for the customer, and is late no more.
    late = (
        order.is_open
        and order.stage < Stage.STRUNG
        and order.due_on is not None
        and order.due_on < today
    )
    reached = order.stage if order.state not in NOT_PROMISED else -1
    stages: Progress = []
    for stage in Stage:
        if stage <= reached:
            state = "done"
        elif stage == reached + 1 and order.state != Order.State.CANCELLED:
            state = "late" if late else "now"
        else:
            state = "todo"
        stages.append((str(stage.label), state))
    return stages


NOT_PROMISED = (Order.State.DRAFT, Order.State.QUOTED, Order.State.CANCELLED)


def progress_words(order: Order) -> str:
    """What is to happen next, in a few words."""
    if order.state == Order.State.COLLECTED:
        return _("collected")
    if order.state in NOT_PROMISED:
        return str(order.get_state_display())
    return {
        Stage.TAKEN: _("waits for glass"),
        Stage.GLASS: _("to be moulded"),
        Stage.MOULDED: _("waits on firing"),
        Stage.FIRED: _("to be finished"),
        Stage.FINISHED: _("to be strung"),
        Stage.STRUNG: _("ready to collect"),
    }.get(Stage(order.stage), str(Stage(order.stage).label))


def listed_orders() -> QuerySet[Order]:
    """Orders for a list, with customer and lines; the lines' designs come with them."""
    return Order.objects.select_related("customer").prefetch_related(
        Prefetch("lines", OrderLine.objects.with_designs())
    )


class OrderDrawings:
    """First lines of the orders on a page, drawn (2 queries for all of them)."""

    def __init__(self, orders) -> None:
        """`lines` must be prefetched with their designs."""
        designs = {line.design_id: line.design for order in orders for line in order.lines.all()}
        self.draughtsman = Draughtsman(list(designs.values()))

    def of(self, order: Order) -> DrawnStrand | None:
        lines = list(order.lines.all())
        return self.draughtsman.strand(lines[0].design_id) if lines else None

    def of_line(self, line: OrderLine) -> DrawnStrand:
        return self.draughtsman.strand(line.design_id)

    def length_of(self, line: OrderLine) -> str:
        """Its length in words, as strung."""
        return self.draughtsman.length(line.design_id)


@dataclass(frozen=True)
class Held:
    """Stock held for an order, one row a batch or design."""

    name: str
    what: str
    quantity: int
    place: str
    said: str


def holds_of(order: Order) -> list[Held]:
    """Everything held for an order, beads first (1 query)."""
    rows = (
        StockReservation.objects.filter(order=order)
        .select_related(
            "balance__item__batch__bead", "balance__place", "line__design", "balance__item"
        )
        .order_by("balance__item__kind", "balance__item__batch__made_on", "pk")
    )
    found = []
    for row in rows:
        item = row.balance.item
        if item.kind == ItemKind.BEADS and item.batch is not None:
            name, what = item.batch.bead.name, str(item.batch)
        else:
            name, what = item.name, str(item.get_kind_display())
        said = say_quantity(item, row.quantity)
        found.append(Held(name, what, row.quantity, row.balance.place.name, said))
    return found
