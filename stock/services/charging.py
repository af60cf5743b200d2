"""Charges in the book: by what name value comes to goods in a posting, and by what it leaves."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from django.db import connection

from stock.models import (
    Balance,
    ChargeName,
    LocationKind,
    LossName,
    Movement,
    Posting,
    StockLocation,
)
from stock.services.moves import ZERO, Cost, Move
from workshop.costs.amounts import six

OUTSIDE = {
    LocationKind.COLLECTORS: ChargeName.GLASS,
    LocationKind.OPENING: ChargeName.OPENING,
    LocationKind.DIFFERENCE: ChargeName.COUNT,
    LocationKind.SOLD: ChargeName.SOLD,
    LocationKind.SUPPLIERS: ChargeName.BOUGHT,
    LocationKind.USED: ChargeName.USED,
    LocationKind.LOST: ChargeName.LOST,
}


def name_of(from_place: StockLocation, to_place: StockLocation, loss: str) -> str:
    """By what name value comes in or goes out with a movement; "" where it stays within."""
    comes, goes = _within(from_place), _within(to_place)
    if comes == goes:
        return ""
    if loss == LossName.ACCIDENT:
        return str(ChargeName.ACCIDENT)
    return str(OUTSIDE[LocationKind((to_place if comes else from_place).kind)])


def _within(place: StockLocation) -> bool:
    """Inside the walls, or being turned into something else."""
    return place.inside or place.kind == LocationKind.IN_WORK


def named_values(move: Move, movement: Movement, *, back: bool) -> list[Cost]:
    """What a movement brings to the goods or takes from them, by its name.

    A movement taken back counts as it came; what it is worth more or less by now is a line of
    its own.
    """
    name = move.named or name_of(move.from_place, move.to_place, move.loss)
    if not name:
        return []
    sign = 1 if _within(move.to_place) else -1
    value = sign * movement.value
    if not back or move.value is None:
        return [Cost(name, value)] if value else []
    as_it_came = sign * move.value
    return [
        cost
        for cost in (Cost(name, as_it_came), Cost(ChargeName.REVERSAL, value - as_it_came))
        if cost.amount
    ]


def charges_back(posting: Posting, movements: Sequence[Movement]) -> list[Cost]:
    """The charges of a posting, the other way, less what its movements carry back themselves."""
    carried: dict[str, Decimal] = {}
    for m in movements:
        if name := name_of(m.from_place, m.to_place, m.loss):
            value = m.value if _within(m.to_place) else -m.value
            carried[name] = carried.get(name, ZERO) + value
    found = []
    for charge in posting.charges.select_related("item", "place"):
        amount = charge.amount
        if charge.item_id is None:
            amount -= carried.pop(charge.name, ZERO)
        if amount or charge.minutes:
            found.append(
                Cost(
                    charge.name, -amount, charge.step, -charge.units, -charge.setup_min,
                    -charge.minutes, charge.rate, charge.item, charge.place,
                )
            )  # fmt: skip
    return found


Balances = Mapping[tuple[int, int], Balance]


def lay_on(cost: Cost, balances: Balances) -> None:
    """Value that a thing bears where it lies."""
    if cost.item is not None and cost.place is not None:
        balances[cost.item.pk, cost.place.pk].value += cost.amount


def lay_back(charges: Sequence[Cost], balances: Balances) -> list[Cost]:
    """Take charges off the things that bear them; what is no longer there is a line of its own."""
    found = list(charges)
    for cost in charges:
        lay_on(cost, balances)
        if cost.item is None or cost.place is None:
            continue
        row = balances[cost.item.pk, cost.place.pk]
        if row.value < 0:
            found.append(
                replace(
                    cost, name=ChargeName.REVERSAL, amount=-row.value, step="", units=ZERO,
                    setup_min=ZERO, minutes=ZERO, rate=ZERO,
                )
            )  # fmt: skip
            row.value = ZERO
    return found


def write_charges(posting: Posting, costs: Sequence[Cost]) -> None:
    """Write the charges of a posting; those without a step and a place add up by name (1 query)."""
    plain: dict[str, Cost] = {}
    rows = []
    for cost in costs:
        if cost.step or cost.item is not None or cost.minutes:
            rows.append(cost)
        else:
            before = plain.get(cost.name)
            plain[cost.name] = replace(cost, amount=cost.amount + before.amount) if before else cost
    rows += [cost for cost in plain.values() if cost.amount]
    if not rows:
        return
    with connection.cursor() as cursor:
        cursor.executemany(_INSERT, [_row(posting, cost) for cost in rows])


# Written by itself: a posting is made at every bench all day, and this takes a third of the time.
_INSERT = (
    'INSERT INTO stock_charge (posting_id, "on", name, step, units, setup_min, minutes, rate, '
    "amount, item_id, place_id) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"
)


def _row(posting: Posting, cost: Cost) -> list[int | str | None]:
    figures = (cost.units, cost.setup_min, cost.minutes, cost.rate, cost.amount)
    return [
        posting.pk,
        posting.on.isoformat(),
        str(cost.name),
        cost.step[:40],
        *(_millionths(figure) for figure in figures),
        cost.item.pk if cost.item else None,
        cost.place.pk if cost.place else None,
    ]


def _millionths(amount: Decimal) -> int:
    return int(six(amount).scaleb(6))


__all__ = ["charges_back", "lay_back", "lay_on", "name_of", "named_values", "write_charges"]
