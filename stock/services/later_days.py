"""Back-dated events: no day since may be left with less than nothing."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Balance, Movement
from stock.services.moves import Move, say_quantity
from workshop import formats


def check_later_days(moves: Sequence[Move], on: date) -> None:
    """A back-dated taking must not leave any day since then with less than nothing."""
    leaving: dict[tuple[int, int], int] = {}
    known: dict[tuple[int, int], Move] = {}
    for move in moves:
        if move.from_place.inside:
            pair = (move.item.pk, move.from_place.pk)
            leaving[pair] = leaving.get(pair, 0) + move.quantity
            known[pair] = move
        if move.to_place.inside:
            pair = (move.item.pk, move.to_place.pk)
            leaving[pair] = leaving.get(pair, 0) - move.quantity
    for (item_id, place_id), quantity in leaving.items():
        if quantity <= 0:
            continue
        lowest, lowest_on = lowest_since(item_id, place_id, on)
        if lowest < quantity:
            move = known[item_id, place_id]
            raise ValidationError(
                _(
                    "%(item)s needs %(needed)s on %(day)s, and on %(lowest_on)s only %(found)s "
                    "was at %(place)s. Choose a later day, or take less."
                )
                % {
                    "item": move.item.name,
                    "needed": say_quantity(move.item, quantity),
                    "day": formats.date_short(on),
                    "lowest_on": formats.date_short(lowest_on),
                    "found": say_quantity(move.item, max(lowest, 0)),
                    "place": move.from_place.name,
                }
            )


def lowest_since(item_id: int, place_id: int, on: date) -> tuple[int, date]:
    """The least a place held of an item at the end of any day since `on`, and when (3 queries)."""
    balance = Balance.objects.filter(item_id=item_id, place_id=place_id).first()
    level = balance.quantity if balance else 0
    lowest, lowest_on = level, timezone.localdate()
    changes: dict[date, int] = {}
    later = Movement.objects.filter(item_id=item_id, posting__on__gt=on)
    for field, sign in (("to_place_id", 1), ("from_place_id", -1)):
        rows = later.filter(**{field: place_id}).values("posting__on").annotate(sum=Sum("quantity"))
        for row in rows.order_by("posting__on"):
            day = row["posting__on"]
            changes[day] = changes.get(day, 0) + sign * int(row["sum"])
    for day in sorted(changes, reverse=True):
        level -= changes[day]
        if level < lowest:
            lowest, lowest_on = level, max(on, day - timedelta(days=1))
    return lowest, lowest_on
