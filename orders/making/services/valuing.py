"""After an update: goods made before their making was counted are valued, once, by themselves."""

from decimal import Decimal
from typing import Any

from orders.costing.errors import CostingError
from orders.drawn.strands import findings_each
from orders.models import StrandDesign
from stock.models import Item
from stock.services.valuing import is_to_be_valued, somebody_who_may, value_anew


def value_old_goods(**_signal: Any) -> None:
    """Bring old goods to their standard cost; called when the book was brought up to date."""
    if is_to_be_valued() and (person := somebody_who_may()) is not None:
        value_anew(person=person, findings=findings_of)


def findings_of(item: Item) -> Decimal:
    """What clasp, spacers and cord of one strand cost; nothing for a design that cannot be laid."""
    design = StrandDesign.objects.with_findings().filter(item=item).first()
    if design is None:
        return Decimal(0)
    try:
        return findings_each(design)
    except CostingError:
        return Decimal(0)
