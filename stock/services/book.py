"""The one door to the glass book: post an event, or reverse one."""

import uuid
from collections.abc import Iterable, Sequence
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Balance, Movement, PlaceKind, Posting, PostingKind
from stock.services.later_days import check_later_days, lowest_since
from stock.services.moves import GlassNotConserved, Move, NotEnough, say_glass, say_quantity
from stock.services.sharing import share_of, shared_out
from workshop.models import Person

__all__ = [
    "GlassNotConserved",
    "Move",
    "NotEnough",
    "hold",
    "let_go",
    "lock_balances",
    "lowest_since",
    "post",
    "reverse_posting",
    "say_glass",
    "say_quantity",
]

Balances = dict[tuple[int, int], Balance]
CARRIED = ["quantity", "held", "come", "glass_mg", "value"]


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
    shelf would fall below nothing, today or, for a back-dated event, on any later day, and
    GlassNotConserved where work would give more or less glass than it took.
    """
    if key is not None and (made := Posting.objects.filter(key=key).first()):
        return made
    moves = [move for move in moves if move.quantity]
    _check_form(moves, on)
    balances = lock_balances(moves)
    posting = Posting.objects.create(
        key=key or uuid.uuid4(),
        kind=kind,
        on=on,
        person=person,
        why=why[:200],
        belongs_kind=belongs[0],
        belongs_ref=belongs[1],
        reverses=reverses,
    )
    if on < timezone.localdate():
        check_later_days(moves, on)
    Movement.objects.bulk_create(_carry_out_all(posting, moves, balances))
    Balance.objects.bulk_update(balances.values(), CARRIED)
    return posting


@transaction.atomic
def reverse_posting(
    posting: Posting, *, person: Person, why: str, on: date | None = None
) -> Posting:
    """Undo a mistake by the opposite posting, which names it."""
    if posting.kind == PostingKind.REVERSAL:
        raise ValidationError(_("A reversal cannot be reversed; post what is right instead."))
    if not why.strip():
        raise ValidationError({"why": _("Say why it is taken back; the book keeps the reason.")})
    Posting.objects.select_for_update().get(pk=posting.pk)
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


def lock_balances(moves: Sequence[Move]) -> Balances:
    """The balance rows of every move, locked in one fixed order so that no two acts deadlock."""
    wanted = sorted(
        {(m.item.pk, p.pk, p.inside) for m in moves for p in (m.from_place, m.to_place)}
    )
    found = _lock_rows(wanted)
    if missing := [each for each in wanted if each[:2] not in found]:
        Balance.objects.bulk_create(
            [
                Balance(item_id=item, place_id=place, inside=inside)
                for item, place, inside in missing
            ],
            ignore_conflicts=True,
        )
        found = _lock_rows(wanted)
    return found


def _lock_rows(wanted: Sequence[tuple[int, int, bool]]) -> Balances:
    which = Q()
    for item, place, _inside in wanted:
        which |= Q(item_id=item, place_id=place)
    rows = Balance.objects.select_for_update().filter(which).order_by("item_id", "place_id")
    return {(row.item_id, row.place_id): row for row in rows}


def _carry_out_all(posting: Posting, moves: Sequence[Move], balances: Balances) -> list[Movement]:
    """First everything that is taken from somewhere, then what comes out of work."""
    into_work: list[Movement] = []
    written: list[Movement] = []
    for move in moves:
        if move.from_place.kind == PlaceKind.IN_WORK:
            continue
        movement = _carry_out(posting, move, balances)
        written.append(movement)
        if move.to_place.kind == PlaceKind.IN_WORK:
            into_work.append(movement)
    out_of_work = [move for move in moves if move.from_place.kind == PlaceKind.IN_WORK]
    if into_work or out_of_work:
        for move in shared_out(into_work, out_of_work):
            written.append(_carry_out(posting, move, balances))
    return written


def _carry_out(posting: Posting, move: Move, balances: Balances) -> Movement:
    source = balances[move.item.pk, move.from_place.pk]
    target = balances[move.item.pk, move.to_place.pk]
    free = source.quantity - source.held + move.from_hold
    if source.inside and (free < move.quantity or move.from_hold > source.held):
        raise NotEnough(move.item, move.from_place, move.quantity, max(free, 0))
    glass_mg, value = share_of(source, target, move)
    gone_before, come_before = source.come - source.quantity, target.come
    source.quantity -= move.quantity
    source.held -= move.from_hold
    source.glass_mg -= glass_mg
    source.value -= value
    target.quantity += move.quantity
    target.come += move.quantity
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
        gone_before=gone_before,
        come_before=come_before,
        undoing=posting.reverses_id is not None,
    )


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
