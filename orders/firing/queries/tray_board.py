"""The next loads with their trays side by side, to be looked at and moved."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from orders.firing.queries.burning import cools_apart
from orders.firing.queries.kilns import places_taken
from orders.firing.queries.piercing import to_pierce
from orders.firing.queries.trays import waits_for
from orders.models import Order
from stock.models import BeadColour, KilnLoad, LoadTray

MOST_LOADS = 9  # the others stand on the calendar; all of them when asked for


@dataclass(frozen=True)
class TrayChip:
    """One tray as a small thing to take hold of."""

    tray: LoadTray
    orders: tuple[Order, ...]
    colours: tuple[BeadColour, ...]
    waits: str
    reserved: bool


@dataclass(frozen=True)
class LoadCard:
    """One load, what of it is taken, and whether trays may be moved in and out."""

    load: KilnLoad
    starts: datetime
    taken: int
    trays: tuple[TrayChip, ...]
    late: bool
    burns: bool
    cools_apart: bool

    @property
    def movable(self) -> bool:
        return self.load.state == KilnLoad.State.PLANNED

    @property
    def free(self) -> int:
        return max(0, self.load.kiln.places - self.taken)

    @property
    def reserved(self) -> bool:
        """Nothing in it was planned by the keeper: all of it is room kept for orders."""
        return bool(self.trays) and all(chip.reserved for chip in self.trays)


def load_cards(
    loads: Sequence[KilnLoad],
    colours: Mapping[int, list[BeadColour]],
    late: Iterable[int],
    most: int | None,
) -> list[LoadCard]:
    """The earliest loads (trays, shares and orders with them), as cards (no queries).

    colours  the shares of each bead in them
    """
    shown = list(loads if most is None else loads[:most])
    hot = set(late)
    return [_card(load, colours, load.pk in hot) for load in shown]


def _card(load: KilnLoad, colours: Mapping[int, list[BeadColour]], late: bool) -> LoadCard:
    trays = list(load.trays.all())
    starts = timezone.localtime(load.started_at or load.starts_at)
    chips = tuple(_chip(tray, colours.get(tray.bead_id, [])) for tray in trays)
    cools = cools_apart(load, to_pierce=to_pierce(load, trays))
    burns = load.state == KilnLoad.State.FIRING and not cools
    return LoadCard(load, starts, places_taken(trays), chips, late, burns, cools)


def _chip(tray: LoadTray, colours: list[BeadColour]) -> TrayChip:
    shares = list(tray.shares.all())
    planned = tray.load.state == KilnLoad.State.PLANNED
    return TrayChip(
        tray,
        tuple(share.job.order for share in shares),
        tuple(colours),
        waits_for(tray) if planned else "",
        bool(shares) and all(share.reserved for share in shares),
    )
