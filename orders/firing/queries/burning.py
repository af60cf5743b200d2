"""What burns now: which kiln is lit, since when, with what heat, and when it may be opened."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from orders.firing.queries.kilns import cold_at, times_of
from orders.firing.queries.piercing import to_pierce
from stock.models import KilnLoad, LoadTray


@dataclass(frozen=True)
class Burning:
    """A load in a lit kiln.

    opens_at  of a closed kiln when it is cool enough to open, of one kept hot when its first
              mould comes out
    cold_at   when its beads are cold
    to_pierce its beads are pierced as they come out, and nobody said yet that they were
    """

    load: KilnLoad
    lit_at: datetime
    opens_at: datetime
    cold_at: datetime
    to_pierce: bool = False

    @property
    def may_be_opened(self) -> bool:
        return timezone.now() >= self.opens_at

    @property
    def is_out(self) -> bool:
        return cools_apart(self.load, to_pierce=self.to_pierce)


def cools_apart(load: KilnLoad, *, to_pierce: bool) -> bool:
    """Out of a kiln kept hot, and not cold yet.

    It is out when another round went in or the last bead is pierced; where nothing is to be
    pierced, as soon as the first mould comes out by the clock. `kiln` must come with the load.
    """
    if load.state != KilnLoad.State.FIRING or not load.kiln.is_kept_hot:
        return False
    return not load.in_kiln or (not to_pierce and timezone.now() >= times_of(load).cooling)


def burning() -> list[Burning]:
    """Every load that is lit and not logged, the first to be opened first (3 queries)."""
    loads = (
        KilnLoad.objects.filter(state=KilnLoad.State.FIRING)
        .select_related("kiln", "keeper")
        .prefetch_related("trays__bead")
    )
    found = [as_burning(load, list(load.trays.all())) for load in loads]
    return sorted(found, key=lambda each: (each.opens_at, each.load.number))


def as_burning(load: KilnLoad, trays: Sequence[LoadTray]) -> Burning:
    """One lit load; `kiln` must come with it, `bead` with its trays."""
    times = times_of(load)
    opens_at = times.cooling if load.kiln.is_kept_hot else times.opened
    return Burning(load, times.lit, opens_at, cold_at(load, trays), to_pierce(load, trays))
