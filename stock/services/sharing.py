"""Which glass and which value a quantity carries with it (weighted average, IAS 2)."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from stock.models import Balance, Item, ItemKind, LocationKind, LossName, Movement
from stock.services.moves import SIX_PLACES, ZERO, GlassNotConserved, Move, Shares, split_whole
from workshop.costs.amounts import six

# Losses that are nobody's plan; their share of the value is written off with them, while the
# cost of every other loss stays in what came out good (IAS 2, paragraphs 13 and 16(a)).
ABNORMAL_LOSSES = frozenset({LossName.ACCIDENT})


def shared_out(
    into_work: Sequence[Movement],
    out_of_work: Sequence[Move],
    *,
    value: Decimal,
    shares: Shares | None = None,
    as_taken: bool = False,
) -> list[Move]:
    """What comes out of work, with all the glass that went in and the value there is to share.

    shares    who bears what, where glass alone does not say it
    as_taken  a work taken back: by the value that each thing was taken at
    """
    glass = _glass_of(into_work, out_of_work)
    if shares is not None:
        fixed = list(shares.values)
    elif as_taken:
        fixed = [move.value for move in out_of_work]
    else:
        fixed = [None] * len(out_of_work)
    if as_taken:
        weights = [_millionths(worth or ZERO) for worth in fixed]
        fixed = [None] * len(out_of_work)
    else:
        weights = _value_weights(out_of_work, glass, value)
    open_places = [i for i, worth in enumerate(fixed) if worth is None]
    rest = _millionths(value - sum((worth for worth in fixed if worth is not None), ZERO))
    parts = split_whole(rest, [weights[i] for i in open_places])
    values = dict(zip(open_places, parts, strict=True))
    return [
        replace(move, glass_mg=mg, value=values[i] * SIX_PLACES if i in values else fixed[i])
        for i, (move, mg) in enumerate(zip(out_of_work, glass, strict=True))
    ]


def _millionths(amount: Decimal) -> int:
    return int(amount / SIX_PLACES)


def _glass_of(into_work: Sequence[Movement], out_of_work: Sequence[Move]) -> list[int]:
    """The glass in each thing that comes out; pieces whose glass is not said share what is left."""
    glass_in = sum(movement.glass_mg for movement in into_work)
    glass = [
        move.quantity if move.item.kind == ItemKind.GLASS else move.glass_mg for move in out_of_work
    ]
    left = glass_in - sum(mg or 0 for mg in glass)
    sharers = [i for i, mg in enumerate(glass) if mg is None]
    if left < 0 or (left and not sharers):
        raise GlassNotConserved(glass_in, glass_in - left)
    split = split_whole(left, [out_of_work[i].quantity for i in sharers])
    parts = dict(zip(sharers, split, strict=True))
    return [parts[i] if mg is None else mg for i, mg in enumerate(glass)]


def _value_weights(moves: Sequence[Move], glass: Sequence[int], value: Decimal) -> list[int]:
    """How the value is shared: by glass, and each bears its own charges besides.

    A normal loss bears nothing while anything is good; an accident bears its part of all that went
    in, as if it had come out good.
    """
    good = [0 if move.loss else mg for move, mg in zip(moves, glass, strict=True)]
    whole = sum(good)
    if not whole:
        return list(glass)
    own = [_millionths(move.own) for move in moves]
    whole_value = _millionths(value)
    shared = whole_value - sum(own)
    return [
        whole_value * mg if move.loss in ABNORMAL_LOSSES else mine * whole + shared * keeps
        for move, mg, keeps, mine in zip(moves, glass, good, own, strict=True)
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
    if move.from_place.kind == LocationKind.DIFFERENCE and target.inside and target.quantity > 0:
        return _portion(target.value, move.quantity, target.quantity)
    return Decimal(0)


def _portion(value: Decimal, quantity: int, of_quantity: int) -> Decimal:
    if quantity == of_quantity:
        return value
    return six(value * quantity / of_quantity)
