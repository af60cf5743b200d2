"""Strands that leave the shelf and stay ours, to a stall or a shop, and come back by a count."""

from collections.abc import Mapping
from datetime import date

from orders.counter.queries import free_strands
from orders.counter.services.selling import ShelfShort
from orders.models import StrandDesign
from stock.models import LocationKind, PostingKind, StockLocation
from stock.services.book import Move, post
from stock.services.places import usual_place
from workshop.models import Person


def off_the_shelf(
    wanted: Mapping[int, int], to: StockLocation
) -> tuple[list[Move], dict[int, StrandDesign]]:
    """What of the strand shelf goes to a place, by design; what is held for orders stays (2
    queries)."""
    designs = StrandDesign.objects.in_bulk(list(wanted))
    rows = free_strands([design.item_id for design in designs.values()])
    moves = []
    for key, count in wanted.items():
        design, left = designs[key], count
        own = [row for row in rows if row.item_id == design.item_id]
        for row in own:
            if piece := min(left, row.free_quantity):
                moves.append(Move(row.item, row.place, to, piece))
                left -= piece
        if left:
            raise ShelfShort(design, count, count - left, sum(row.reserved for row in own))
    return moves, designs


def bring_back(
    place: StockLocation,
    *,
    home: Mapping[int, int],
    missing: Mapping[int, int],
    why: tuple[str, str],
    on: date,
    person: Person,
    belongs: tuple[str, str],
) -> None:
    """Write down a count, by design: what is back lies on the shelf, what is gone is a difference.

    why  what the two postings say, of what is back and of what is missing
    """
    designs = StrandDesign.objects.in_bulk([*home, *missing])
    for kind, words, target, counts in (
        (PostingKind.MOVE, why[0], usual_place(LocationKind.STRAND_SHELF), home),
        (PostingKind.COUNT, why[1], usual_place(LocationKind.DIFFERENCE), missing),
    ):
        moves = [
            Move(item, place, target, count)
            for design, count in counts.items()
            if count and (item := designs[design].item) is not None
        ]
        if moves:
            post(kind, moves, on=on, person=person, why=words, belongs=belongs)


def named(designs: Mapping[int, StrandDesign], counts: Mapping[int, int]) -> dict[str, int]:
    """Counts by the names of their designs, for the log; none of 0."""
    return {designs[key].name: count for key, count in counts.items() if count}
