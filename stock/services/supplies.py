"""What is bought in and used up: clasps, cord, spacers, paint, kiln wash, fuel.

Goods bear paint and wash at standard. Where they lie in stock, as much is taken off the shelf as
the standard charges, by what it cost on average; a count puts right what the hand took otherwise.
Fuel is taken as it was weighed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.measures import FUEL
from stock.models import Balance, BeadPaint, Item, ItemKind, LocationKind, Posting, PostingKind
from stock.services.book import lowest_since, post
from stock.services.convert import Taken
from stock.services.moves import Move, NotEnough
from stock.services.places import usual_place
from workshop.costs.amounts import ONE, ZERO
from workshop.models import Person
from workshop.services.acts import record_act

MG_PER_KG = 1_000_000


def supply_item(name: str, use: str) -> Item:
    """A new item for something bought in; whoever keeps its name and price keeps the item."""
    return Item.objects.create(kind=ItemKind.SUPPLY, name=name[:120], use=use)


@transaction.atomic
def take_in_supply(
    item: Item, quantity: int, value: Decimal, *, person: Person, on: date,
    belongs: tuple[str, str] = ("", ""), here_before: bool = False,
) -> Posting:  # fmt: skip
    """So much comes from its supplier onto the shelf; `here_before`: it lay here before the book
    began."""
    source = LocationKind.OPENING if here_before else LocationKind.SUPPLIERS
    words = _("%s was here before the book began") if here_before else _("%s bought")
    shelf = usual_place(LocationKind.SUPPLIES)
    posting = post(
        PostingKind.OPENING if here_before else PostingKind.PURCHASE,
        [Move(item, usual_place(source), shelf, quantity, value=value)],
        on=on, person=person, why=str(words % item.name)[:200], belongs=belongs,
    )  # fmt: skip
    act = "opening stock" if here_before else "take in purchase"
    record_act(person, act, posting, after={"item": item.name, "quantity": quantity})
    return posting


@dataclass(frozen=True)
class Wanted:
    """So much of a supply is taken; `held` of it from what is held for whoever takes it."""

    item: Item
    quantity: int
    held: Sequence[tuple[Balance, int]] = ()


def from_shelf(wanted: Wanted) -> list[Taken]:
    """Where it is taken from: what is held first, then what is free (1 query).

    Raises NotEnough where there is less.
    """
    left, parts = wanted.quantity, dict[int, Taken]()
    for row, held in wanted.held:
        if piece := min(left, held):
            _take(parts, row, piece, from_hold=piece)
            left -= piece
    rows = Balance.objects.at(LocationKind.SUPPLIES).free().filter(item=wanted.item)
    for row in rows.select_related("place").order_by("pk"):
        if piece := min(left, row.free_quantity):
            _take(parts, row, piece)
            left -= piece
    if left:
        shelf = usual_place(LocationKind.SUPPLIES)
        raise NotEnough(wanted.item, shelf, wanted.quantity, wanted.quantity - left)
    return list(parts.values())


def _take(parts: dict[int, Taken], row: Balance, piece: int, *, from_hold: int = 0) -> None:
    """So much more from a shelf, on top of what is taken there already."""
    before = parts.get(row.place_id)
    quantity, held = (before.quantity, before.from_hold) if before else (0, 0)
    parts[row.place_id] = Taken(row.item, row.place, quantity + piece, held + from_hold)


def used_by_worth(use: str, worth: Decimal, *, on: date) -> list[Move]:
    """Supplies of a use that cost so much, taken in proportion to what lies there.

    Less where less lies there; nothing where nobody keeps it in stock (1 query; of an earlier day
    3 more each).
    """
    return _by_worth(_lying(use), worth, on)


def used_paints(paints: Sequence[BeadPaint], beads: int, worth: Decimal, *, on: date) -> list[Move]:
    """The paint on so many beads: of each as much as is known, of the others by their worth.

    paints  of the bead; with none named, what the beads bear is taken of all that lies there
    worth   what the beads bear for paint at standard (1 query; of an earlier day 3 more each)
    """
    rows, named = _lying("paint"), {paint.item_id: paint.mg_each for paint in paints}
    if not named:
        return _by_worth(rows, worth, on)
    left = {item: _whole(beads * mg) for item, mg in named.items() if mg is not None}
    parts = []
    for row in rows:
        if piece := min(left.get(row.item_id, 0), row.free_quantity):
            left[row.item_id] -= piece
            parts.append((row, piece))
    spent = sum((row.value * piece / row.quantity for row, piece in parts), ZERO)
    unweighed = [row for row in rows if row.item_id in named and named[row.item_id] is None]
    return _used(parts, on) + _by_worth(unweighed, worth - spent, on)


def _by_worth(lying: Sequence[Balance], worth: Decimal, on: date) -> list[Move]:
    if worth <= ZERO:
        return []
    rows = [row for row in lying if row.value > ZERO]
    whole = sum((row.value for row in rows), ZERO)
    taken = [(row, _whole(row.quantity * min(ONE, worth / whole))) for row in rows]
    return _used(taken, on)


def used_by_weight(use: str, mg: int, *, on: date) -> list[Move]:
    """So many milligrams of a use, from what came first on; less where less lies there."""
    parts = []
    for row in _lying(use):
        parts.append((row, piece := min(mg, row.free_quantity)))
        mg -= piece
    return _used(parts, on)


def _lying(use: str) -> list[Balance]:
    rows = Balance.objects.at(LocationKind.SUPPLIES).free().filter(item__use=use)
    return list(rows.select_related("item", "place").order_by("pk"))


def _whole(amount: Decimal) -> int:
    return int(amount.to_integral_value(ROUND_HALF_UP))


def _used(parts: Sequence[tuple[Balance, int]], on: date) -> list[Move]:
    """Of each heap so much, and never more than lay there on any day since."""
    gone, found = usual_place(LocationKind.USED), []
    for row, quantity in parts:
        most = row.free_quantity
        if quantity and on < timezone.localdate():
            most = min(most, lowest_since(row.item_id, row.place_id, on)[0])
        if (piece := min(quantity, most)) > 0:
            found.append(Move(row.item, row.place, gone, piece))
    return found


@transaction.atomic
def use_at_load(
    load: str, fuel: str, *, used_kg: Decimal, wash: Decimal, person: Person, on: date
) -> Posting | None:
    """What a load was logged with leaves the shelf, as far as any is kept in stock.

    fuel, used_kg  what it burnt, as it was weighed
    wash           what the kiln wash of second fillings costs at standard
    """
    moves = used_by_weight(f"{FUEL} {fuel}", _whole(used_kg * MG_PER_KG), on=on)
    moves += used_by_worth("wash", wash, on=on)
    if not moves:
        return None
    return post(
        PostingKind.USE, moves, on=on, person=person,
        why=str(_("used in load %s") % load), belongs=("load", load),
    )  # fmt: skip
