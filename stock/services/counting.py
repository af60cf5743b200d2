"""Counting a shelf: what is found against what the book says, and the difference posted."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import (
    Balance,
    Item,
    ItemKind,
    LocationKind,
    Movement,
    Posting,
    PostingKind,
    StockCount,
    StockLocation,
)
from stock.services.book import Move, post
from stock.services.followers import FOLLOWERS
from stock.services.moves import say_quantity
from stock.services.places import usual_place
from stock.services.standard_beads import standard_value
from workshop.costs.amounts import six
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def count_shelf(
    place: StockLocation,
    found: Mapping[Item, int],
    *,
    person: Person,
    why: str,
    on: date | None = None,
    expected: Mapping[int, int] | None = None,
) -> Posting | None:
    """Post what a count found: differences go to or come from the count difference.

    Supplies that are missing are no longer held for anybody (see `FOLLOWERS`).

    found     quantity counted of each item, in its smallest unit
    expected  what the book said when the count began, by item key; if it moved since, the count
              is refused, for somebody took or brought some in between
    Returns None when everything was as the book says.
    """
    on = on or timezone.localdate()
    for follower in FOLLOWERS:
        follower.before_count(place, found)
    rows = {
        row.item_id: row
        for row in Balance.objects.select_for_update().filter(place=place, item__in=list(found))
    }
    for item, counted in found.items():
        _check(item, counted, rows.get(item.pk), expected)
    moves = [
        move
        for item, counted in found.items()
        if (move := _difference(item, counted, place, rows.get(item.pk))) is not None
    ]
    record_act(
        person, "count", place, after={str(item): counted for item, counted in found.items()}
    )
    if moves and not why.strip():
        raise ValidationError({"why": _("Say why the count differs; the book keeps the reason.")})
    posting = None
    if moves:
        belongs = ("place", str(place.pk))
        posting = post(PostingKind.COUNT, moves, on=on, person=person, why=why, belongs=belongs)
    StockCount.objects.bulk_create(
        StockCount(
            item=item, place=place, on=on, person=person, found=counted, posting=posting,
            booked=rows[item.pk].quantity if item.pk in rows else 0,
        )
        for item, counted in found.items()
    )  # fmt: skip
    for follower in FOLLOWERS:
        follower.after_count(place, found)
    return posting


def _last_value(item: Item, place: StockLocation, quantity: int) -> Decimal:
    """What was found on an empty shelf is worth what the last of it there was (1 query or 2).

    Never seen there, it is worth what one costs to make at standard.
    """
    last = (
        Movement.objects.filter(item=item)
        .filter(Q(from_place=place) | Q(to_place=place))
        .order_by("-pk")
        .first()
    )
    if last is not None:
        return six(last.value * quantity / last.quantity)
    return six(standard_value(item) * quantity)


def _check(
    item: Item, counted: int, row: Balance | None, expected: Mapping[int, int] | None
) -> None:
    """Refuse a count that cannot be, that is out of date, or that breaks a promise."""
    booked = row.quantity if row else 0
    if counted < 0:
        raise ValidationError(_("%(item)s: a count cannot be below 0.") % {"item": item})
    if expected is not None and expected.get(item.pk, 0) != booked:
        raise ValidationError(
            _(
                "%(item)s changed while it was counted: the book now says %(now)s. "
                "Count it once more."
            )
            % {"item": item, "now": say_quantity(item, booked)}
        )
    if row is not None and counted < row.reserved:
        raise ValidationError(
            _(
                "%(item)s: %(held)s are promised to orders and only %(found)s were counted. "
                "Let go of a hold first, then book the count."
            )
            % {
                "item": item,
                "held": say_quantity(item, row.reserved),
                "found": say_quantity(item, counted),
            }
        )


def _difference(item: Item, counted: int, place: StockLocation, row: Balance | None) -> Move | None:
    """What brings the book to the count; pieces found carry the average glass of those there."""
    booked = row.quantity if row else 0
    outside = usual_place(LocationKind.DIFFERENCE)
    if counted < booked:
        return Move(item, place, outside, booked - counted)
    if counted > booked:
        extra = counted - booked
        glass = extra * row.glass_mg // booked if row is not None and booked else 0
        value = None if booked else _last_value(item, place, extra)
        return Move(
            item, outside, place, extra, None if item.kind == ItemKind.GLASS else glass, value
        )
    return None
