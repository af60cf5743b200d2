"""Tags of ready strands: which strands of the shelf an order's tags name."""

from django.db import transaction
from django.db.models import Sum

from orders.models import Order, ShelfTag, StrandDesign
from stock.models import Balance, Item, LocationKind, Movement

Place = tuple[int, int]
"""A stringing and which of its strands."""


@transaction.atomic
def name_ready_strands(order: Order, design: StrandDesign, strands: int) -> list[Place]:
    """Codes for so many strands that came from the shelf, given when first asked for.

    Those of the oldest stringings to the shelf that may still lie there, for the oldest leave
    first. Fewer where fewer were strung here: strands from before the book have no stringing.
    (2 queries; where some are given for the first time, 4 more)
    """
    if design.item_id is None:
        return []
    Item.objects.select_for_update().get(pk=design.item_id)
    own = ShelfTag.objects.filter(order=order, posting__movements__item=design.item_id)
    given = list(own.distinct().values_list("posting", "place"))
    if len(given) < strands:
        fresh = _not_given(design.item_id)[: strands - len(given)]
        ShelfTag.objects.bulk_create(
            ShelfTag(order=order, posting_id=posting, place=place) for posting, place in fresh
        )
        given += fresh
    return given[:strands]


def _not_given(item: int) -> list[Place]:
    """Strands of a kind strung to the shelf that may lie there and that no tag names (3)."""
    strung = (
        Movement.objects.filter(
            item=item, from_place__kind=LocationKind.IN_WORK, posting__reversed_by__isnull=True
        )
        .exclude(posting__belongs_kind="order")
        .order_by("posting_id")
        .values_list("posting", "quantity")
    )
    places = [(posting, place) for posting, n in strung for place in range(1, n + 1)]
    there = Balance.objects.inside().filter(item=item).aggregate(all=Sum("quantity"))["all"] or 0
    taken = set(
        ShelfTag.objects.filter(posting__in={posting for posting, _place in places}).values_list(
            "posting", "place"
        )
    )
    lying = places[max(0, len(places) - there) :]
    return [place for place in lying if place not in taken]
