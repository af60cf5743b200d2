"""Which glass and which value a quantity carries with it (weighted average, IAS 2)."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from stock.models import Balance, Item, ItemKind, LossName, Movement, PlaceKind
from stock.services.moves import SIX_PLACES, GlassNotConserved, Move, split_whole

# Losses that are nobody's plan; their share of the value is written off with them, while the
# cost of every other loss stays in what came out good (IAS 2, paragraphs 13 and 16(a)).
ABNORMAL_LOSSES = frozenset({LossName.ACCIDENT})


def shared_out(into_work: Sequence[Movement], out_of_work: Sequence[Move]) -> list[Move]:
    """What comes out of work, with all the glass and all the value that went in."""
    glass_in = sum(movement.glass_mg for movement in into_work)
    value_in = sum((movement.value for movement in into_work), Decimal(0))
    glass = [
        move.quantity if move.item.kind == ItemKind.GLASS else move.glass_mg for move in out_of_work
    ]
    left = glass_in - sum(mg or 0 for mg in glass)
    sharers = [i for i, mg in enumerate(glass) if mg is None]
    if left < 0 or (left and not sharers):
        raise GlassNotConserved(glass_in, glass_in - left)
    parts = split_whole(left, [out_of_work[i].quantity for i in sharers])
    for i, part in zip(sharers, parts, strict=True):
        glass[i] = part
    weights = _value_weights(out_of_work, [mg or 0 for mg in glass])
    values = split_whole(int(value_in / SIX_PLACES), weights)
    return [
        replace(move, glass_mg=mg, value=millionths * SIX_PLACES)
        for move, mg, millionths in zip(out_of_work, glass, values, strict=True)
    ]


def _value_weights(moves: Sequence[Move], glass: Sequence[int]) -> list[int]:
    """How the value is shared: by glass; a normal loss bears nothing while anything is good."""
    if any(move.value for move in moves):
        return [int((move.value or 0) / SIX_PLACES) for move in moves]
    abnormal = [move.loss in ABNORMAL_LOSSES for move in moves]
    good = [mg if not move.loss else 0 for move, mg in zip(moves, glass, strict=True)]
    if not any(good):
        return list(glass)
    # An accident bears its share of all that went in; what came out good bears the rest.
    for_good = sum(mg for mg, lost in zip(glass, abnormal, strict=True) if not lost)
    return [
        mg * sum(good) if lost else keeps * for_good
        for mg, keeps, lost in zip(glass, good, abnormal, strict=True)
    ]


def glass_at(balance: Balance, item: Item, quantity: int) -> int:
    """Glass in a quantity taken from a shelf: the average, and the last piece takes the rest."""
    if item.kind == ItemKind.GLASS:
        return quantity
    if balance.quantity <= 0:
        return 0
    return balance.glass_mg * quantity // balance.quantity


def share_of(source: Balance, target: Balance, move: Move) -> tuple[int, Decimal]:
    """Glass and value that go with the quantity; an emptied shelf keeps neither."""
    if not source.inside:
        glass = move.quantity if move.item.kind == ItemKind.GLASS else move.glass_mg or 0
        return glass, _value_from_outside(target, move)
    glass = glass_at(source, move.item, move.quantity)
    value = _portion(source.value, move.quantity, source.quantity)
    if move.quantity < source.quantity and move.value is not None:
        value = min(move.value, source.value)
    if move.item.kind != ItemKind.GLASS and move.glass_mg is not None:
        glass = move.glass_mg
    left = source.glass_mg - glass
    if left < 0 or (move.quantity == source.quantity and left):
        raise ValidationError(
            _(
                "%(item)s at %(place)s has been mixed with others since, so its glass cannot be "
                "told apart any more. Count the shelf instead."
            )
            % {"item": move.item.name, "place": move.from_place.name}
        )
    return glass, value


def _value_from_outside(target: Balance, move: Move) -> Decimal:
    """What is found at a count is worth what lies there already; else what was said, or nothing."""
    if move.value is not None:
        return move.value
    if move.from_place.kind == PlaceKind.DIFFERENCE and target.inside and target.quantity > 0:
        return _portion(target.value, move.quantity, target.quantity)
    return Decimal(0)


def _portion(value: Decimal, quantity: int, of_quantity: int) -> Decimal:
    if quantity == of_quantity:
        return value
    return (value * quantity / of_quantity).quantize(SIX_PLACES)
