"""Whether what the book holds is what the orders were promised."""

from collections.abc import Iterator

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from stock.models import Balance
from stock.services.check import MORE_CHECKS, Check
from stock.services.moves import say_quantity


def holds_differ() -> Iterator[str]:
    """Every balance holds exactly what the orders' holds on it add up to (1 query)."""
    rows = (
        Balance.objects.select_related("item", "place")
        .annotate(promised=Coalesce(Sum("allocations__quantity"), 0))
        .exclude(held=F("promised"))
        .order_by("pk")
    )
    for row in rows.iterator(chunk_size=500):
        yield (
            f"{row.item} at {row.place} holds {say_quantity(row.item, row.held)}, and the orders "
            f"were promised {say_quantity(row.item, row.promised)}."
        )


def keep_in_step() -> None:
    """Let `check_book` look at the orders' holds too; called once when the program starts."""
    check = Check("what is held is what orders were promised", holds_differ)
    if all(each.name != check.name for each in MORE_CHECKS):
        MORE_CHECKS.append(check)
