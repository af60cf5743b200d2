"""Where stock came from and where it went, read from the book.

Glass of one colour and form lies in one heap, and beads of a batch in one tray; the book says
that the oldest leaves first (the same convention as netting). So the k-th milligram taken from a
place is the k-th that was put there, and each taking has exact layers behind it. Postings that
were reversed, and their reversals, cancel and are left out.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Q, QuerySet, Sum

from stock.models import Balance, Movement


@dataclass(frozen=True)
class Slice:
    """Part of a movement: so much of its quantity."""

    movement: Movement
    quantity: int


def standing() -> QuerySet[Movement]:
    """Movements that were not taken back."""
    return Movement.objects.filter(
        posting__reverses__isnull=True, posting__reversed_by__isnull=True
    )


def _before(movements: QuerySet[Movement], movement: Movement) -> int:
    return int(movements.filter(pk__lt=movement.pk).aggregate(sum=Sum("quantity"))["sum"] or 0)


def _window(movements: QuerySet[Movement], start: int, length: int) -> Iterator[Slice]:
    """The slices of a run of movements that cover [start, start + length)."""
    reached = 0
    for movement in movements.order_by("pk").iterator(chunk_size=500):
        begin, reached = reached, reached + movement.quantity
        if reached <= start:
            continue
        if begin >= start + length:
            return
        part = min(reached, start + length) - max(begin, start)
        yield Slice(movement, part)


def layers_behind(movement: Movement, quantity: int | None = None, skip: int = 0) -> list[Slice]:
    """What was put into a movement's source place that this movement took (oldest first)."""
    at = Q(item_id=movement.item_id)
    outs = standing().filter(at, from_place_id=movement.from_place_id)
    ins = (
        standing()
        .filter(at, to_place_id=movement.from_place_id)
        .select_related("posting", "item", "from_place", "to_place")
    )
    start = _before(outs, movement) + skip
    return list(_window(ins, start, movement.quantity if quantity is None else quantity))


def layers_after(movement: Movement, quantity: int | None = None, skip: int = 0) -> list[Slice]:
    """Where what a movement put into its target place went from there (oldest first)."""
    at = Q(item_id=movement.item_id)
    ins = standing().filter(at, to_place_id=movement.to_place_id)
    outs = (
        standing()
        .filter(at, from_place_id=movement.to_place_id)
        .select_related("posting", "item", "from_place", "to_place")
    )
    start = _before(ins, movement) + skip
    return list(_window(outs, start, movement.quantity if quantity is None else quantity))


def slices_behind(balance: Balance, quantity: int) -> list[tuple[int, int, int]]:
    """What the next `quantity` to leave a balance was put there by: (posting, part, whole)."""
    at = Q(item_id=balance.item_id)
    gone = standing().filter(at, from_place_id=balance.place_id)
    start = int(gone.aggregate(sum=Sum("quantity"))["sum"] or 0)
    ins = standing().filter(at, to_place_id=balance.place_id)
    return [
        (part.movement.posting_id, part.quantity, part.movement.quantity)
        for part in _window(ins, start, quantity)
    ]
