"""The one door to the glass book: post an event, or reverse one."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Balance, Item, ItemKind, Movement, Place, Posting, PostingKind
from workshop.models import Person

MG_PER_KG = Decimal(1_000_000)


class NotEnough(ValidationError):
    """A shelf holds less than is to be taken from it. Carries item, place, needed and found."""

    def __init__(self, item: Item, place: Place, needed: int, found: int) -> None:
        self.item, self.place, self.needed, self.found = item, place, needed, found
        super().__init__(
            _(
                "%(item)s needs %(needed)s and %(found)s is free at %(place)s. "
                "Bring %(missing)s more, or take less."
            )
            % {
                "item": item.name,
                "needed": say_quantity(item, needed),
                "found": say_quantity(item, found),
                "place": place.name,
                "missing": say_quantity(item, needed - found),
            }
        )


def say_quantity(item: Item, quantity: int) -> str:
    """A quantity in words: glass in kilograms, beads and strands in pieces."""
    if item.kind == ItemKind.GLASS:
        return f"{Decimal(quantity) / MG_PER_KG:.3f} kg"
    return f"{quantity:,}"


@dataclass(frozen=True)
class Move:
    """So much of an item from one place to another.

    quantity   in the item's smallest unit (mg of glass, pieces)
    glass_mg   glass carried; left out, it is the quantity itself for glass and the source
               shelf's average for pieces
    value      money carried; left out, the source shelf's weighted average (IAS 2)
    from_hold  how much of the quantity was held for an order and is now used
    loss       the name of a loss, when the place it goes to is `lost`
    """

    item: Item
    from_place: Place
    to_place: Place
    quantity: int
    glass_mg: int | None = None
    value: Decimal | None = None
    from_hold: int = 0
    loss: str = ""


@transaction.atomic
def post(
    kind: str,
    moves: Iterable[Move],
    *,
    on: date,
    person: Person,
    why: str,
    belongs: tuple[str, str] = ("", ""),
    key: uuid.UUID | None = None,
    reverses: Posting | None = None,
) -> Posting:
    """Write one event into the book and bring the balances along, or refuse it whole.

    The same `key` again returns the posting made the first time. Raises NotEnough where a
    shelf would fall below nothing, today or, for a back-dated event, on any later day.
    """
    if key is not None and (made := Posting.objects.filter(key=key).first()):
        return made
    moves = [move for move in moves if move.quantity]
    _check_form(moves, on)
    balances = _lock_balances(moves)
    posting = Posting.objects.create(
        key=key or uuid.uuid4(),
        kind=kind,
        on=on,
        person=person,
        why=why,
        belongs_kind=belongs[0],
        belongs_ref=belongs[1],
        reverses=reverses,
    )
    if on < timezone.localdate():
        _check_later_days(moves, on)
    Movement.objects.bulk_create([_carry_out(posting, move, balances) for move in moves])
    _save_balances(moves, balances)
    return posting


@transaction.atomic
def reverse_posting(
    posting: Posting, *, person: Person, why: str, on: date | None = None
) -> Posting:
    """Undo a mistake by the opposite posting, which names it."""
    if posting.kind == PostingKind.REVERSAL:
        raise ValidationError(_("A reversal cannot be reversed; post what is right instead."))
    if Posting.objects.filter(reverses=posting).exists():
        raise ValidationError(_("This posting was reversed already."))
    moves = [
        Move(
            item=movement.item,
            from_place=movement.to_place,
            to_place=movement.from_place,
            quantity=movement.quantity,
            glass_mg=movement.glass_mg,
            value=movement.value,
        )
        for movement in posting.movements.select_related("item", "from_place", "to_place")
    ]
    return post(
        PostingKind.REVERSAL,
        moves,
        on=on or timezone.localdate(),
        person=person,
        why=why,
        belongs=(posting.belongs_kind, posting.belongs_ref),
        reverses=posting,
    )


def _check_form(moves: Sequence[Move], on: date) -> None:
    if not moves:
        raise ValidationError(_("Nothing was moved; write at least one quantity above 0."))
    if on > timezone.localdate():
        raise ValidationError(_("The day lies in the future; the book records what has happened."))
    for move in moves:
        if move.quantity < 0:
            raise ValidationError(
                _("%(item)s: a quantity cannot be below 0.") % {"item": move.item.name}
            )
        if move.quantity > 10**15:
            raise ValidationError(
                _("%(item)s: that is more than any workshop holds.") % {"item": move.item.name}
            )


def _lock_balances(moves: Sequence[Move]) -> dict[tuple[int, int], Balance]:
    """The balance rows of every move, locked in one fixed order so that no two acts deadlock."""
    wanted = sorted(
        {(m.item.pk, p.pk, p.inside) for m in moves for p in (m.from_place, m.to_place)}
    )
    Balance.objects.bulk_create(
        [Balance(item_id=item, place_id=place, inside=inside) for item, place, inside in wanted],
        ignore_conflicts=True,
    )
    which = Q()
    for item, place, _inside in wanted:
        which |= Q(item_id=item, place_id=place)
    rows = Balance.objects.select_for_update().filter(which).order_by("item_id", "place_id")
    return {(row.item_id, row.place_id): row for row in rows}


def _carry_out(posting: Posting, move: Move, balances: dict[tuple[int, int], Balance]) -> Movement:
    source = balances[move.item.pk, move.from_place.pk]
    target = balances[move.item.pk, move.to_place.pk]
    free = source.quantity - source.held + move.from_hold
    if source.inside and (free < move.quantity or move.from_hold > source.held):
        raise NotEnough(move.item, move.from_place, move.quantity, max(free, 0))
    glass_mg, value = _share_of(source, move)
    source.quantity -= move.quantity
    source.held -= move.from_hold
    source.glass_mg -= glass_mg
    source.value -= value
    target.quantity += move.quantity
    target.glass_mg += glass_mg
    target.value += value
    return Movement(
        posting=posting,
        item=move.item,
        from_place=move.from_place,
        to_place=move.to_place,
        quantity=move.quantity,
        glass_mg=glass_mg,
        value=value,
        loss=move.loss,
    )


def _share_of(source: Balance, move: Move) -> tuple[int, Decimal]:
    """Glass and value that go with the quantity: the average, the last piece takes the rest."""
    if source.inside and source.quantity > 0:
        whole = move.quantity == source.quantity
        glass = source.glass_mg if whole else source.glass_mg * move.quantity // source.quantity
        value = (
            source.value
            if whole
            else (source.value * move.quantity / source.quantity).quantize(Decimal("0.000001"))
        )
    else:
        glass, value = 0, Decimal(0)
    if move.item.kind == ItemKind.GLASS:
        glass = move.quantity
    return (
        glass if move.glass_mg is None else move.glass_mg,
        value if move.value is None else move.value,
    )


def _save_balances(moves: Sequence[Move], balances: dict[tuple[int, int], Balance]) -> None:
    Balance.objects.bulk_update(balances.values(), ["quantity", "held", "glass_mg", "value"])


def _check_later_days(moves: Sequence[Move], on: date) -> None:
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
        lowest = lowest_since(item_id, place_id, on)
        if lowest < quantity:
            move = known[item_id, place_id]
            raise NotEnough(move.item, move.from_place, quantity, max(lowest, 0))


def lowest_since(item_id: int, place_id: int, on: date) -> int:
    """The least a place held of an item at the end of any day since `on` (3 queries)."""
    balance = Balance.objects.filter(item_id=item_id, place_id=place_id).first()
    level = lowest = balance.quantity if balance else 0
    changes: dict[date, int] = {}
    later = Movement.objects.filter(item_id=item_id, posting__on__gt=on)
    for field, sign in (("to_place_id", 1), ("from_place_id", -1)):
        rows = later.filter(**{field: place_id}).values("posting__on").annotate(sum=Sum("quantity"))
        for row in rows.order_by("posting__on"):
            day = row["posting__on"]
            changes[day] = changes.get(day, 0) + sign * int(row["sum"])
    for day in sorted(changes, reverse=True):
        level -= changes[day]
        lowest = min(lowest, level)
    return lowest


@transaction.atomic
def hold(balance: Balance, quantity: int) -> None:
    """Promise part of a balance to somebody; refused when it is not free any more.

    One conditional UPDATE: of two counters that want the last bead, one gets it.
    """
    done = Balance.objects.filter(
        pk=balance.pk, inside=True, quantity__gte=F("held") + quantity
    ).update(held=F("held") + quantity)
    if not done:
        now = Balance.objects.select_related("item", "place").get(pk=balance.pk)
        raise NotEnough(now.item, now.place, quantity, max(now.free_quantity, 0))


@transaction.atomic
def let_go(balance: Balance, quantity: int) -> None:
    """Give a held quantity back to everybody."""
    done = Balance.objects.filter(pk=balance.pk, held__gte=quantity).update(
        held=F("held") - quantity
    )
    if not done:
        raise ValidationError(_("That hold was let go already."))
