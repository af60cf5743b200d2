"""The one door to the glass book: post an event, or reverse one."""

import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from datetime import date

from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import Case, F, Q, Value, When
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Balance, ChargeName, LocationKind, Movement, Posting, PostingKind
from stock.services.charging import (
    charges_back,
    lay_back,
    lay_on,
    name_of,
    named_values,
    write_charges,
)
from stock.services.later_days import check_later_days, lowest_since
from stock.services.moves import (
    ZERO,
    Cost,
    GlassNotConserved,
    Move,
    NotEnough,
    Sharing,
    say_glass,
    say_quantity,
)
from stock.services.sharing import share_of, shared_out
from workshop.costs.amounts import six
from workshop.models import Person

__all__ = [
    "GlassNotConserved",
    "Move",
    "NotEnough",
    "hold",
    "hold_all",
    "let_go",
    "lock_balances",
    "lowest_since",
    "noted_postings",
    "post",
    "reverse_posting",
    "say_glass",
    "say_quantity",
]

Balances = dict[tuple[int, int], Balance]


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
    charges: Sequence[Cost] = (),
    share: Sharing | None = None,
    locked: Balances | None = None,
) -> Posting:
    """Write one event into the book and bring the balances along, or refuse it whole.

    charges  value that comes beside what moves (hands, fuel, …) or is expensed by name
    share    who bears the value that went into a work, where glass alone does not say it
    locked   balances that the caller holds already

    The same `key` again returns the posting made the first time. Raises NotEnough where a
    shelf would fall below nothing, today or, for a back-dated event, on any later day, and
    GlassNotConserved where work would give more or less glass than it took.
    """
    if key is not None and (made := Posting.objects.filter(key=key).first()):
        return made
    moves = [move for move in moves if move.quantity]
    charges = [cost for cost in charges if cost.amount or cost.minutes]
    _check_form(moves, charges, on)
    balances = _all_locked(moves, charges, locked)
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
    if reverses is not None:
        charges = lay_back(charges, balances)
    movements, more = _carry_out_all(posting, moves, balances, charges, share)
    if reverses is None:
        for cost in charges:
            lay_on(cost, balances)
    Movement.objects.bulk_create(movements)
    write_charges(posting, [*charges, *more])
    _keep(balances)
    _note(posting)
    return posting


@transaction.atomic
def reverse_posting(
    posting: Posting, *, person: Person, why: str, on: date | None = None
) -> Posting:
    """Undo a mistake by the opposite posting, which names it.

    Charges and expenses go back exactly as they came. What was given goes out at the value it came
    with, and what is left of that goes to the things taken, by the value they were taken at.
    """
    if posting.kind == PostingKind.REVERSAL:
        raise ValidationError(_("A reversal cannot be reversed; post what is right instead."))
    if not why.strip():
        raise ValidationError({"why": _("Say why it is taken back; the book keeps the reason.")})
    Posting.objects.select_for_update().get(pk=posting.pk)
    if Posting.objects.filter(reverses=posting).exists():
        raise ValidationError(_("This posting was reversed already."))
    movements = list(posting.movements.select_related("item", "from_place", "to_place"))
    moves = [
        Move(
            item=movement.item,
            from_place=movement.to_place,
            to_place=movement.from_place,
            quantity=movement.quantity,
            glass_mg=movement.glass_mg,
            value=movement.value,
            named=name_of(movement.from_place, movement.to_place, movement.loss),
        )
        for movement in movements
    ]
    return post(
        PostingKind.REVERSAL,
        moves,
        on=on or timezone.localdate(),
        person=person,
        why=why,
        belongs=(posting.belongs_kind, posting.belongs_ref),
        reverses=posting,
        charges=charges_back(posting, movements),
    )


def _check_form(moves: Sequence[Move], charges: Sequence[Cost], on: date) -> None:
    if not moves and not charges:
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


def _all_locked(
    moves: Sequence[Move], charges: Sequence[Cost], locked: Balances | None
) -> Balances:
    """The balances that a posting changes: those the caller holds, if they are all of them."""
    if locked is not None and all(
        (m.item.pk, p.pk) in locked for m in moves for p in (m.from_place, m.to_place)
    ):
        return locked
    lying = [
        Move(cost.item, cost.place, cost.place, 0)
        for cost in charges
        if cost.item is not None and cost.place is not None
    ]
    return lock_balances([*moves, *lying])


def _lock_rows(wanted: Sequence[tuple[int, int, bool]]) -> Balances:
    which = Q()
    for item, place, _inside in wanted:
        which |= Q(item_id=item, place_id=place)
    rows = Balance.objects.select_for_update().filter(which).order_by("item_id", "place_id")
    return {(row.item_id, row.place_id): row for row in rows}


def _carry_out_all(
    posting: Posting,
    moves: Sequence[Move],
    balances: Balances,
    charges: Sequence[Cost],
    share: Sharing | None,
) -> tuple[list[Movement], list[Cost]]:
    """First everything that is taken from somewhere, then what comes out of work.

    Gives the movements, and the charges that follow from them: what was sold, lost, expensed.
    """
    back = posting.reverses_id is not None
    into_work: list[Movement] = []
    written: list[Movement] = []
    named: list[Cost] = []
    for move in moves:
        if move.from_place.kind == LocationKind.IN_WORK:
            continue
        movement = _carry_out(posting, move, balances)
        written.append(movement)
        named += named_values(move, movement, back=back)
        if move.to_place.kind == LocationKind.IN_WORK:
            into_work.append(movement)
    out_of_work = [move for move in moves if move.from_place.kind == LocationKind.IN_WORK]
    if into_work or out_of_work:
        value = sum((movement.value for movement in into_work), ZERO)
        value += sum((cost.amount for cost in charges if cost.item is None), ZERO)
        if value < 0:  # what was made is worth less by now than its charges were
            named.append(Cost(ChargeName.REVERSAL, -value))
            value = ZERO
        shares = share(value) if share is not None else None
        if shares is not None:
            named += shares.expenses
            value += sum((cost.amount for cost in shares.expenses), ZERO)
        told = shared_out(into_work, out_of_work, value=value, shares=shares, as_taken=back)
        for asked, move in zip(out_of_work, told, strict=True):
            movement = _carry_out(posting, move, balances)
            written.append(movement)
            named += named_values(replace(move, value=asked.value), movement, back=back)
    return written, named


def _keep(balances: Balances) -> None:
    """Write the balances as they are now, in the order they were locked in."""
    rows = [
        (row.quantity, row.reserved, row.come, row.glass_mg, int(six(row.value).scaleb(6)), row.pk)
        for row in balances.values()
    ]
    with connection.cursor() as cursor:
        cursor.executemany(
            "UPDATE stock_balance SET quantity = %s, reserved = %s, come = %s, glass_mg = %s, "
            "value = %s WHERE id = %s",
            rows,
        )


def _carry_out(posting: Posting, move: Move, balances: Balances) -> Movement:
    source = balances[move.item.pk, move.from_place.pk]
    target = balances[move.item.pk, move.to_place.pk]
    free = source.quantity - source.reserved + move.from_hold
    if source.inside and (free < move.quantity or move.from_hold > source.reserved):
        raise NotEnough(move.item, move.from_place, move.quantity, max(free, 0))
    glass_mg, value = share_of(source, target, move)
    cumulative_out, cumulative_in = source.come - source.quantity, target.come
    source.quantity -= move.quantity
    source.reserved -= move.from_hold
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
        cumulative_out=cumulative_out,
        cumulative_in=cumulative_in,
        undoing=posting.reverses_id is not None,
    )


def hold(balance: Balance, quantity: int) -> None:
    """Promise part of a balance to somebody; refused when it is not free any more.

    One conditional UPDATE: of two counters that want the last bead, one gets it.
    """
    hold_all([(balance, quantity)])


def hold_all(parts: Iterable[tuple[Balance, int]]) -> None:
    """The same of several balances at once: all of it, or nothing (1 query)."""
    wanted: Counter[int] = Counter()
    for balance, quantity in parts:
        wanted[balance.pk] += quantity
    if not wanted:
        return
    more = Case(*(When(pk=pk, then=Value(n)) for pk, n in wanted.items()), default=Value(0))
    rows = Balance.objects.filter(pk__in=wanted, inside=True)
    several = len(wanted) > 1
    with transaction.atomic(savepoint=several):
        done = rows.filter(quantity__gte=F("reserved") + more).update(reserved=F("reserved") + more)
        if done == len(wanted):
            return
        if several:  # some of it is held: all of that is taken back
            transaction.set_rollback(True)
    for now in Balance.objects.select_related("item", "place").in_bulk(wanted).values():
        if not now.inside or now.free_quantity < wanted[now.pk]:
            raise NotEnough(now.item, now.place, wanted[now.pk], max(now.free_quantity, 0))


def let_go(balance: Balance, quantity: int) -> None:
    """Give a held quantity back to everybody."""
    done = Balance.objects.filter(pk=balance.pk, reserved__gte=quantity).update(
        reserved=F("reserved") - quantity
    )
    if not done:
        raise ValidationError(_("That hold was let go already."))


# --- what was written meanwhile ------------------------------------------------------------------

_noted: ContextVar[list[Posting] | None] = ContextVar("noted_postings", default=None)


@contextmanager
def noted_postings() -> Iterator[list[Posting]]:
    """A list that fills with every posting written inside the block, by this thread."""
    found: list[Posting] = []
    token = _noted.set(found)
    try:
        yield found
    finally:
        _noted.reset(token)


def _note(posting: Posting) -> None:
    if (found := _noted.get()) is not None:
        found.append(posting)
