"""What the records say of lost days and rejected beads, for the careful day of a promise."""

from collections.abc import Iterable
from datetime import timedelta
from functools import lru_cache

from django.db.models import Count, Min, Q, Sum
from django.db.models.functions import TruncDate
from django.utils import timezone

from orders.floor.facts import RECORDS, FloorFacts
from orders.planning.doubt import Records, extra_rounds
from stock.models import KilnLoad, LoadTray
from workshop.physics.chance import binomial_at_least

MANY_BEADS = 400  # beyond so many, one more round at most is reckoned with: the next is rare
OVER = (KilnLoad.State.COOLED, KilnLoad.State.SPOILED)


def firing_records(facts: FloorFacts) -> Records:
    """Working days of the last year, those on which a firing was lost, and beads sorted
    (2 queries).

    A day is lost when nothing could be fired on it or a load lit on it was spoiled.
    """
    since = timezone.now() - RECORDS
    loads = KilnLoad.objects.filter(state__in=OVER, starts_at__gte=since)
    spoiled = Q(state=KilnLoad.State.SPOILED)
    found = loads.aggregate(
        first=Min("starts_at"), lost=Count(TruncDate("starts_at"), filter=spoiled, distinct=True)
    )
    if found["first"] is None:
        return Records(0, 0, 0, 0)
    beads = LoadTray.objects.filter(
        load__state=KilnLoad.State.COOLED, load__starts_at__gte=since, good__isnull=False
    ).aggregate(good=Sum("good"), rejected=Sum("rejected"))
    first, today = timezone.localtime(found["first"]).date(), facts.today
    shut = sum(row.kiln_id is None and first <= row.day < today for row in facts.no_firing)
    working = sum(
        facts.days.is_open(first + timedelta(days=n)) for n in range((today - first).days)
    )
    rejected = beads["rejected"] or 0
    lost = min(working, found["lost"] + shut)
    return Records(working, lost, (beads["good"] or 0) + rejected, rejected)


def rounds_of(beads: Iterable[tuple[int, int]], reject_chance: float) -> list[float]:
    """Chance of each number of further firings until all kinds of bead have enough.

    beads  good ones needed and started, for each kind
    The order waits for its unluckiest kind: P(all within i) is the product over the kinds.
    """
    kinds = [_rounds(needed, started, round(reject_chance, 4)) for needed, started in beads]
    longest = max((len(kind) for kind in kinds), default=1)
    within, found = 0.0, []
    for most in range(longest):
        product = 1.0
        for kind in kinds:
            product *= sum(kind[: most + 1])
        found.append(product - within)
        within = product
    return found


@lru_cache(maxsize=512)
def _rounds(needed: int, started: int, reject_chance: float) -> tuple[float, ...]:
    if needed > MANY_BEADS:
        enough = binomial_at_least(started, 1 - reject_chance, needed)
        return enough, 1 - enough
    return tuple(extra_rounds(needed, started, reject_chance))
