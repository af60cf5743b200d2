"""Prepared glass that orders hold by hand."""

from django.db.models import F, Sum

from orders.models import Order, StockReservation
from stock.models import ItemKind


def glass_held_by_order() -> dict[tuple[int, int, str], int]:
    """Prepared glass that open orders hold by hand, by order, colour and form (1 query)."""
    rows = (
        StockReservation.objects.filter(
            balance__item__kind=ItemKind.GLASS, order__state=Order.State.CONFIRMED
        )
        .order_by()
        .values("order", colour=F("balance__item__colour"), form=F("balance__item__form"))
        .annotate(mg=Sum("quantity"))
    )
    return {(row["order"], row["colour"], row["form"]): row["mg"] for row in rows}
