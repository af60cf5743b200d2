"""Clasps, spacers and cord held for orders, and taken when their strands are strung.

What an order takes is written down beside it (`FindingNeed`); what lies free is held for those
that lack it, the first due in front, whenever some comes or is freed.
"""

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from orders.drawn.strands import Draughtsman
from orders.making.queries.findings import findings_lacking, findings_wanted
from orders.making.services.holds import release, use_up
from orders.models import Finding, FindingNeed, Order, StockReservation, StrandDesign
from stock.measures import say_quantity
from stock.models import Balance, Item, LocationKind, Posting
from stock.services.book import NotEnough, hold_all
from stock.services.convert import Taken
from stock.services.supplies import Wanted, from_shelf


@transaction.atomic
def fit_findings(*orders: Order) -> None:
    """Write down anew what orders take of the findings in stock, and hold what is there for them.

    Without any order, for all that are open: when something begins or ceases to be kept in stock.
    """
    if not _one_at_a_time() and not FindingNeed.objects.exists():
        return
    fitted = list(orders or Order.objects.filter(state=Order.State.CONFIRMED))
    wanted = findings_wanted([each for each in fitted if each.state == Order.State.CONFIRMED])
    rows = FindingNeed.objects.all()
    if orders:
        rows = rows.filter(order__in=orders)
    before = {(row.order_id, row.finding_id): row for row in rows}
    now = {(order, key): n for order, own in wanted.items() for key, n in own.items()}
    FindingNeed.objects.filter(
        pk__in=[r.pk for pair, r in before.items() if pair not in now]
    ).delete()
    FindingNeed.objects.bulk_create(
        (
            FindingNeed(order_id=order, finding_id=key, quantity=quantity)
            for (order, key), quantity in now.items()
            if (row := before.get((order, key))) is None or row.quantity != quantity
        ),
        update_conflicts=True, unique_fields=["order", "finding"], update_fields=["quantity"],
    )  # fmt: skip
    _release_beyond(fitted, now)
    share_out_findings()


def _one_at_a_time() -> bool:
    """Of two that hold findings for orders, the second waits and then sees what is left; whether
    any is kept in stock."""
    return bool(Finding.objects.select_for_update().filter(kept=True).order_by("pk"))


def _release_beyond(orders: Iterable[Order], now: dict[tuple[int, int], int]) -> None:
    """Let go of what these orders hold beyond what they take."""
    left = dict(now)
    holds = StockReservation.objects.filter(
        order__in=orders, balance__item__finding__isnull=False
    ).select_related("balance__item__finding")
    for hold in holds.order_by("pk"):
        pair = (hold.order_id, hold.balance.item.finding.pk)
        kept = min(hold.quantity, left.get(pair, 0))
        left[pair] = left.get(pair, 0) - kept
        if kept < hold.quantity:
            release(hold, hold.quantity - kept)


@transaction.atomic
def share_out_findings() -> None:
    """Hold what lies free for the orders that lack it, the first due in front (5 queries)."""
    lacking = findings_lacking()
    if not lacking:
        return
    items = {row.finding.item_id for row in lacking}
    free: dict[int, list[Balance]] = {}
    rows = Balance.objects.at(LocationKind.SUPPLIES).free().filter(item__in=items)
    for row in rows.select_for_update(of=("self",)).order_by("item_id", "place_id"):
        free.setdefault(row.item_id, []).append(row)
    holds = []
    for each in lacking:
        left = each.short
        for balance in free.get(each.finding.item_id or 0, ()):
            piece = min(left, balance.free_quantity)
            if piece > 0:
                holds.append(StockReservation(order=each.order, balance=balance, quantity=piece))
                balance.reserved += piece
                left -= piece
    hold_all((each.balance, each.quantity) for each in holds)
    StockReservation.objects.bulk_create(holds)


@transaction.atomic
def let_findings_go(item: Item, quantity: int, place: int | None) -> None:
    """Let go of holds on a finding until so much of it is free, those of the last due first."""
    for balance in Balance.objects.filter(item=item, place__kind=LocationKind.SUPPLIES):
        if place is not None and balance.place_id != place:
            continue
        missing = quantity - balance.free_quantity
        holds = StockReservation.objects.filter(balance=balance).select_related("order", "balance")
        for hold in holds.order_by(F("order__due_on").desc(nulls_first=True), "-pk"):
            if piece := min(max(0, missing), hold.quantity):
                release(hold, piece)
                missing -= piece


@transaction.atomic
def cease_to_keep(undone: Iterable[Posting]) -> None:
    """A finding of which nothing was ever bought or counted that still stands is not kept in stock.

    Called when postings were taken back: a purchase written down by mistake blocks nobody.
    """
    came = Q(item__movements__from_place__inside=False, item__movements__to_place__inside=True)
    stands = Q(
        item__movements__posting__reverses__isnull=True,
        item__movements__posting__reversed_by__isnull=True,
    )
    touched = Finding.objects.filter(kept=True, item__movements__posting__in=list(undone))
    still = touched.filter(came, stands).values("pk")
    gone = touched.exclude(pk__in=list(still.values_list("pk", flat=True)))
    if Finding.objects.filter(pk__in=list(gone.values_list("pk", flat=True))).update(kept=False):
        fit_findings()


Used = list[tuple[StockReservation, int]]


def findings_for(
    design: StrandDesign, strands: int, order: Order | None = None
) -> tuple[list[Taken], Used]:
    """The findings in stock that go onto strands: what is held for the order, then what is free.

    Gives what is taken, and of which holds. Refused where there is less.
    """
    each = Draughtsman([design]).findings(design.pk)
    kept = Finding.objects.filter(pk__in=each, kept=True).select_related("item").order_by("pk")
    taken: list[Taken] = []
    used: Used = []
    for finding in kept:
        assert finding.item is not None, "what is kept in stock has its item"
        wanted = each[finding.pk] * strands
        holds = _holds(order, finding.item)
        left = wanted
        for hold in holds:
            if piece := min(left, hold.quantity):
                used.append((hold, piece))
                left -= piece
        held = [(hold.balance, hold.quantity) for hold in holds]
        try:
            taken += from_shelf(Wanted(finding.item, wanted, held))
        except NotEnough as error:
            raise ValidationError(
                _(
                    "%(finding)s: %(needed)s are needed for these strands and %(found)s can be "
                    "taken. Write down what was bought, count the shelf, or string fewer."
                )
                % {
                    "finding": finding,
                    "needed": say_quantity(finding.item, wanted),
                    "found": say_quantity(finding.item, error.found),
                }
            ) from error
    return taken, used


def _holds(order: Order | None, item: Item) -> list[StockReservation]:
    if order is None:
        return []
    rows = order.allocations.filter(balance__item=item).select_related("balance__place")
    return list(rows.order_by("pk"))


def findings_used(order: Order, used: Used, taken: Iterable[Taken]) -> None:
    """Strands of an order took these; call after the posting that took them."""
    for hold, quantity in used:
        use_up(hold, quantity)
    for part in taken:
        need = FindingNeed.objects.filter(order=order, finding__item=part.item)
        if not need.filter(quantity__lte=part.quantity).delete()[0]:
            need.update(quantity=F("quantity") - part.quantity)
