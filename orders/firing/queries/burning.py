"""What burns now: which kiln is lit, since when, with what heat, and when it may be opened."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from orders.firing.queries.kilns import cold_at, times_of
from stock.models import KilnLoad


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
        """Out of a kiln kept hot, its beads cooling apart."""
        hot = self.load.kiln.is_kept_hot
        return hot and not self.to_pierce and (self.may_be_opened or bool(self.load.pierced_until))


def burning() -> list[Burning]:
    """Every load that burns, the first to be opened first (3 queries)."""
    loads = (
        KilnLoad.objects.filter(state=KilnLoad.State.FIRING)
        .select_related("kiln", "keeper")
        .prefetch_related("trays__bead")
    )
    found = []
    for load in loads:
        times = times_of(load)
        opens_at = times.cooling if load.kiln.is_kept_hot else times.opened
        trays = list(load.trays.all())
        pierced = load.kiln.is_kept_hot and any(
            tray.bead.pierced_hot and tray.firing == 1 for tray in trays
        )
        to_pierce = pierced and load.pierced_until is None
        found.append(Burning(load, times.lit, opens_at, cold_at(load, trays), to_pierce))
    return sorted(found, key=lambda each: (each.opens_at, each.load.number))
