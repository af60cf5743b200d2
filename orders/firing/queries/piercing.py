"""Rounds whose beads are pierced while they glow: what comes out when, for how many hands."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from orders.firing.queries.kilns import times_of
from stock.models import Bead, KilnLoad, LoadTray
from workshop.models import WayOfWorking
from workshop.physics.piercing import soft_seconds
from workshop.physics.shapes import ShapeError

AHEAD = timedelta(days=2)  # what the bench wants to know of: today and tomorrow


@dataclass(frozen=True)
class RoundToPierce:
    """One round of a kiln kept hot with beads to be pierced.

    first_out, done  when the first mould comes out, and the last is pierced
    soft_s           seconds that the bead which stiffens soonest stays soft in the air
    mould_s          seconds that the beads in a whole mould do, by the beads' own watch
    """

    load: KilnLoad
    trays: Sequence[LoadTray]
    first_out: datetime
    done: datetime
    soft_s: int
    mould_s: int

    @property
    def moulds(self) -> int:
        return sum(tray.moulds for tray in self.trays)

    @property
    def beads(self) -> int:
        return sum(tray.beads for tray in self.trays)

    @property
    def hands(self) -> int:
        return max(1, self.load.hands)

    @property
    def burns(self) -> bool:
        return self.load.state == KilnLoad.State.FIRING

    @property
    def together(self) -> bool:
        return any(tray.bead.drawn_together for tray in self.trays)


def is_pierced(tray: LoadTray) -> bool:
    """Pierced at the kiln, while hot: the first firing of a bead that is, in a kiln kept hot."""
    return tray.bead.pierced_hot and tray.firing == 1 and tray.load.kiln.is_kept_hot


def to_pierce(load: KilnLoad, trays: Iterable[LoadTray]) -> bool:
    """Lit, with beads to be pierced as they come out, and nobody said yet that they were."""
    waits = load.state == KilnLoad.State.FIRING and load.pierced_until is None
    return waits and any(is_pierced(tray) for tray in trays)


def rounds_to_pierce() -> list[RoundToPierce]:
    """Rounds that burn and are not pierced yet, and those of two days to come (4 queries)."""
    loads = (
        KilnLoad.objects.filter(
            state__in=[KilnLoad.State.PLANNED, KilnLoad.State.FIRING],
            kiln__way=WayOfWorking.HOT,
            starts_at__lt=timezone.now() + AHEAD,
            trays__firing=1,
            trays__bead__pierced_hot=True,
            pierced_until__isnull=True,
        )
        .select_related("kiln")
        .prefetch_related("trays__bead__mould")
        .distinct()
    )
    found = [_round(load) for load in loads]
    return sorted(found, key=lambda each: each.first_out)


def _round(load: KilnLoad) -> RoundToPierce:
    trays = [tray for tray in load.trays.all() if is_pierced(tray)]
    times = times_of(load)
    soft = min(_soft_s(tray.bead, load.hold_c) for tray in trays)
    mould = min(int(tray.bead.soft_min * 60) for tray in trays)
    return RoundToPierce(load, trays, times.cooling, times.opened, soft, mould)


def _soft_s(bead: Bead, hold_c: int) -> int:
    """Seconds in the air until the pin goes in no more; 0 where it never was soft enough."""
    try:
        return round(soft_seconds(bead.measure().across_mm(), float(hold_c)))
    except ShapeError:
        return 0
