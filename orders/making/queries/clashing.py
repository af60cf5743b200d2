"""Glasses that an order would mix and should not."""

from django.utils.translation import gettext as _

from orders.floor.glass_shelf import shares_by_bead
from orders.models import DesignPart, Order, WorkOrder
from stock.agreement import clashes

UNMOULDED = (WorkOrder.Step.GLASS, WorkOrder.Step.MOULDING)


def clashes_of(order: Order) -> list[str]:
    """Sentences about beads of an order that are not moulded yet (3 queries at most)."""
    if order.is_over:
        return []
    if order.is_open:
        waits = order.jobs.filter(step__in=UNMOULDED)
        beads = set(waits.values_list("bead", flat=True))
    else:
        parts = DesignPart.objects.filter(design__in=order.lines.values("design"))
        beads = set(parts.exclude(bead=None).values_list("bead", flat=True))
    colours = {
        bead: [share.colour for share in shares] for bead, shares in shares_by_bead(beads).items()
    }
    return sorted({advice.said(_) for advice in clashes(colours).values()})
