"""A shelf to sell from: strands strung to stock, with what they are worth."""

from decimal import Decimal
from typing import Any

from orders.models import Sale, StrandDesign
from stock.models import Balance, LocationKind
from stock.services.places import strand_item
from tests.builders import _opening, make_design


def ready_strands(name: str = "Harbour bracelet", strands: int = 6, **given: Any) -> StrandDesign:
    """A design of which so many strands lie ready, 20 g of glass and 3.00 of value each."""
    design = StrandDesign.objects.filter(name=name).first() or make_design(name, **given)
    design.item = design.item or strand_item(name)
    design.save()
    _opening(design.item, LocationKind.STRAND_SHELF, strands, strands * 20_000, 3 * strands)
    return design


def at(design: StrandDesign, kind: str) -> tuple[int, Decimal]:
    """How many strands of a design lie in places of a kind, and what they are worth."""
    rows = Balance.objects.filter(item=design.item, place__kind=kind)
    return sum(row.quantity for row in rows), sum((row.value for row in rows), Decimal(0))


def sold(sale: Sale) -> list[tuple[str, int]]:
    """What was sold, by design."""
    return [(line.design.name, line.strands) for line in sale.order.lines.all()]
