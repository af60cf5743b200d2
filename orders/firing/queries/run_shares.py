"""A run after the fact: its kiln minutes, shared out to the orders that lay in its rounds."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from orders.models import Order
from stock.models import KilnLoad, LoadTray
from workshop.costs.amounts import ZERO
from workshop.costs.kiln_share import LoggedRound, shares_of_run


@dataclass(frozen=True)
class OrderShare:
    """Kiln minutes of an order in a run, as logged; `order` is None for what goes to the shelf."""

    order: Order | None
    minutes: Decimal


@dataclass(frozen=True)
class Run:
    """One lighting of a kiln kept hot, with its rounds.

    whole_min   from lighting to the end of the last round, waiting included
    shared_min  warm-up and waiting, shared by the places filled in all rounds
    own_min     of the round asked about: change, turn of heat, hold, and piercing
    """

    lit_at: datetime
    rounds: int
    whole_min: int
    shared_min: int
    own_min: int
    shares: Sequence[OrderShare]


def run_of(load: KilnLoad) -> Run | None:
    """The run of a round that began, and what of it each order bears (5 queries).

    None in a closed kiln, and where the rounds do not tell when they ended.
    """
    if not load.kiln.is_kept_hot or load.started_at is None:
        return None
    rounds = _rounds_of(load)
    if not rounds or any(each.free_after_min is None for each in rounds):
        return None
    own = [_own_min(each) for each in rounds]
    first, last = rounds[0], rounds[-1]
    whole = _minutes(first.started_at, _free_at(last))
    orders, logged = _filled(rounds, own)
    shares = shares_of_run(Decimal(whole - sum(own)), logged)
    return Run(
        lit_at=first.started_at,
        rounds=len(rounds),
        whole_min=whole,
        shared_min=whole - sum(own),
        own_min=own[[each.pk for each in rounds].index(load.pk)],
        shares=[OrderShare(order, minutes) for order, minutes in zip(orders, shares, strict=True)],
    )


def _rounds_of(load: KilnLoad) -> list[KilnLoad]:
    """From the lighting before it to the round before the next lighting."""
    began = KilnLoad.objects.filter(kiln=load.kiln, started_at__isnull=False)
    lit = began.filter(lit=True)
    first = lit.filter(started_at__lte=load.started_at).order_by("started_at").last()
    if first is None:
        return []
    rounds = began.filter(started_at__gte=first.started_at)
    after = lit.filter(started_at__gt=first.started_at).order_by("started_at").first()
    if after is not None:
        rounds = rounds.filter(started_at__lt=after.started_at)
    found = rounds.order_by("started_at").select_related("kiln")
    return list(found.prefetch_related("trays__bead__mould", "trays__shares__job__order"))


def _own_min(each: KilnLoad) -> int:
    """A round's own minutes: all but the warm-up of the one that the kiln was lit for."""
    warm_up = (each.in_after_min or 0) if each.lit else 0
    return max(0, (each.free_after_min or 0) - warm_up)


def _free_at(each: KilnLoad) -> datetime:
    assert each.started_at is not None, "a round of a run began"
    return each.started_at + timedelta(minutes=each.free_after_min or 0)


def _minutes(start: datetime | None, end: datetime) -> int:
    assert start is not None, "a round of a run began"
    return round((end - start).total_seconds() / 60)


def _filled(
    rounds: Sequence[KilnLoad], own: Sequence[int]
) -> tuple[list[Order | None], list[LoggedRound]]:
    """The orders of a run, and places filled by each of them in each round."""
    found: dict[int, Order | None] = {}
    places = [_places(each.trays.all(), found) for each in rounds]
    keys = list(found)
    logged = [
        LoggedRound(Decimal(minutes), [row.get(key, ZERO) for key in keys])
        for minutes, row in zip(own, places, strict=True)
    ]
    return list(found.values()), logged


def _places(trays: Sequence[LoadTray], found: dict[int, Order | None]) -> dict[int, Decimal]:
    """Places by order key, 0 for the shelf; a mould shared by two orders is shared by its beads."""
    row: dict[int, Decimal] = {}
    for tray in trays:
        places = Decimal(tray.moulds * tray.bead.mould.places)
        left = tray.beads
        for share in tray.shares.all():
            order = share.job.order
            found[order.pk] = order
            row[order.pk] = row.get(order.pk, ZERO) + places * share.beads / tray.beads
            left -= share.beads
        if left > 0:
            found.setdefault(0, None)
            row[0] = row.get(0, ZERO) + places * left / tray.beads
    return row
