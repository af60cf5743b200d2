"""What burns now: which kiln is lit, since when, with what heat, and when it may be opened."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from orders.firing.queries.kilns import times_of
from stock.models import KilnLoad


@dataclass(frozen=True)
class Burning:
    """A load in a lit kiln.

    opens_at  of a closed kiln when it is cool enough to open, of one kept hot when its first
              mould comes out
    """

    load: KilnLoad
    lit_at: datetime
    opens_at: datetime

    @property
    def may_be_opened(self) -> bool:
        return timezone.now() >= self.opens_at


def burning() -> list[Burning]:
    """Every load that burns, the first to be opened first (1 query)."""
    loads = KilnLoad.objects.filter(state=KilnLoad.State.FIRING).select_related("kiln", "keeper")
    found = []
    for load in loads:
        times = times_of(load)
        opens_at = times.cooling if load.kiln.is_kept_hot else times.opened
        found.append(Burning(load, times.lit, opens_at))
    return sorted(found, key=lambda each: (each.opens_at, each.load.number))
