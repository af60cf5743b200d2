"""Turning stock into other stock, so that no gram of glass appears or vanishes unnamed."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from stock.models import (
    ChargeName,
    GlassForm,
    Item,
    ItemKind,
    LocationKind,
    LossName,
    Posting,
    StockLocation,
)
from stock.services.book import Move, lock_balances, post
from stock.services.moves import ZERO, Cost, GlassNotConserved, NotEnough, Shares, split_whole
from stock.services.places import glass_item, usual_places
from stock.services.sharing import glass_at
from workshop.models import Person


@dataclass(frozen=True)
class Taken:
    """What goes into the work: a quantity of an item from a shelf."""

    item: Item
    place: StockLocation
    quantity: int
    from_hold: int = 0


@dataclass(frozen=True)
class Made:
    """What comes out; pieces whose glass is not said share what is left of it.

    own  charges that this thing alone bears
    """

    item: Item
    place: StockLocation
    quantity: int
    glass_mg: int | None = None
    own: Decimal = ZERO


@dataclass(frozen=True)
class Loss:
    """Glass gone, by its name; without an item it is counted against what went in."""

    name: str
    glass_mg: int
    item: Item | None = None


@dataclass(frozen=True)
class Told:
    """The value of a work, told apart: what was made, what is lost by its name, what is expensed.

    made      in the order of what was made; None: its part of the rest, by glass
    """

    made: Sequence[Decimal | None]
    lost: Mapping[str, Decimal] = field(default_factory=dict)
    expenses: Sequence[Cost] = ()


@transaction.atomic
def convert(
    kind: str,
    taken: Sequence[Taken],
    made: Sequence[Made],
    losses: Sequence[Loss] = (),
    *,
    rest: str = "",
    on: date,
    person: Person,
    why: str,
    belongs: tuple[str, str] = ("", ""),
    key: uuid.UUID | None = None,
    charges: Sequence[Cost] = (),
    told: Callable[[Decimal], Told] | None = None,
    beside: Sequence[Move] = (),
) -> Posting:
    """Post one piece of work: everything taken, made and lost, with the glass conserved.

    beside  what moves along with it and is no part of the work, such as kiln wash used up

    `rest` names the loss that takes whatever is not accounted for. `charges` go into the work
    beside the glass; `told` says who bears the value, where glass alone does not. Raises
    GlassNotConserved when more comes out than went in, or when something is left over and
    `rest` is empty; NotEnough when a shelf has less than is taken.
    """
    if key is not None and (done := Posting.objects.filter(key=key).first()):
        return done
    taken = [part for part in taken if part.quantity]
    wanted, made = list(made), [part for part in made if part.quantity]
    if not taken:
        raise ValidationError(_("Nothing went in; write at least one quantity that was taken."))
    work, lost = usual_places(LocationKind.IN_WORK, LocationKind.LOST)
    going_in = [Move(t.item, t.place, work, t.quantity, from_hold=t.from_hold) for t in taken]
    coming_out = [Move(m.item, work, m.place, m.quantity, m.glass_mg, own=m.own) for m in made]
    likely = [Move(item, work, lost, 1) for item in _loss_items(taken)]
    balances = lock_balances([*going_in, *coming_out, *likely, *beside])
    for part in taken:
        there = balances[part.item.pk, part.place.pk]
        if part.place.inside and there.quantity < part.quantity:
            raise NotEnough(part.item, part.place, part.quantity, max(there.free_quantity, 0))
    glass_in = [glass_at(balances[t.item.pk, t.place.pk], t.item, t.quantity) for t in taken]
    losses = _with_rest(list(losses), made, sum(glass_in), rest)
    gone = [
        Move(item, work, lost, mg, loss=loss.name)
        for loss in losses
        for item, mg in _lost_from(loss, taken, glass_in, made)
    ]

    def share(value: Decimal) -> Shares:
        assert told is not None
        found = told(value)
        kept = [worth for part, worth in zip(wanted, found.made, strict=True) if part.quantity]
        return _shares(kept, gone, found)

    return post(
        kind, [*going_in, *coming_out, *gone, *beside], on=on, person=person, why=why,
        belongs=belongs, key=key, charges=charges, share=share if told is not None else None,
        locked=balances,
    )  # fmt: skip


def _shares(made: Sequence[Decimal | None], gone: Sequence[Move], told: Told) -> Shares:
    """The value of each thing that comes out; a loss that weighs nothing is an expense by name."""
    left = dict(told.lost)
    lost = [left.pop(move.loss, ZERO) for move in gone]
    expenses = list(told.expenses)
    for name, worth in left.items():
        if worth:
            accident = name == LossName.ACCIDENT
            named = ChargeName.ACCIDENT if accident else ChargeName.LOST
            expenses.append(Cost(named, -worth))
    return Shares([*made, *lost], expenses)


def _glass_of(part: Made) -> int | None:
    return part.quantity if part.item.kind == ItemKind.GLASS else part.glass_mg


def _with_rest(losses: list[Loss], made: Sequence[Made], glass_in: int, rest: str) -> list[Loss]:
    known = sum(_glass_of(part) or 0 for part in made) + sum(loss.glass_mg for loss in losses)
    left = glass_in - known
    if left < 0:
        raise GlassNotConserved(glass_in, known)
    if left and rest and all(_glass_of(part) is not None for part in made):
        losses.append(Loss(rest, left))
    return [loss for loss in losses if loss.glass_mg]


def _own_glass(item: Item) -> Item:
    """The glass a lost part of an item is counted as: itself, or what the beads were made of."""
    if item.kind == ItemKind.GLASS:
        return item
    if item.batch is None:
        return glass_item(None, GlassForm.REJECTS)
    colours = list(item.batch.bead.colours.all())
    return glass_item(colours[0].colour if len(colours) == 1 else None, item.batch.bead.form)


def _loss_items(taken: Sequence[Taken]) -> list[Item]:
    of_glass = (part.item for part in taken if part.item.kind != ItemKind.SUPPLY)
    return list({own.pk: own for own in map(_own_glass, of_glass)}.values())


def _lost_from(
    loss: Loss, taken: Sequence[Taken], glass_in: Sequence[int], made: Sequence[Made]
) -> list[tuple[Item, int]]:
    """The items a loss is counted against: by colour where what is missing tells, else by mass."""
    if loss.item is not None:
        return [(loss.item, loss.glass_mg)]
    went_in: dict[Item, int] = {}
    items = {p.item.pk: _own_glass(p.item) for p in taken if p.item.kind != ItemKind.SUPPLY}
    for part, glass in zip(taken, glass_in, strict=True):
        if part.item.pk not in items:
            continue
        own = items[part.item.pk]
        went_in[own] = went_in.get(own, 0) + glass
    missing = dict(went_in)
    by_colour = {(own.colour_id, own.mark): own for own in went_in}
    for output in made:
        heap = (output.item.colour_id, output.item.mark)
        if output.item.kind == ItemKind.GLASS and heap in by_colour:
            missing[by_colour[heap]] -= output.quantity
    # A colour that weighs less coming out than going in has lost that much.
    tells = len(by_colour) == len(went_in) and all(mg >= 0 for mg in missing.values())
    weights = missing if tells and any(missing.values()) else went_in
    shares = split_whole(loss.glass_mg, list(weights.values()))
    return [(own, mg) for own, mg in zip(weights, shares, strict=True) if mg]
