"""Trays of a load: whether their beads are ready, and how a page or a sheet shows them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, Sum
from django.utils.translation import gettext as _

from orders.drawn.strands import bead_drawing
from orders.floor.glass_shelf import SharesByBead, shares_by_bead
from orders.floor.rows import see_where_painted_lie
from orders.models import LoadShare, Order, WorkOrder
from stock.models import Bead, BeadBatch, KilnLoad, LoadTray
from stock.services.places import PAINTED, TO_PAINT
from workshop.drawing import DrawnStrand
from workshop.models import Mould
from workshop.physics.shapes import ShapeError

DRAWN_BEADS = 5
Step = WorkOrder.Step


def trays_of(load: KilnLoad) -> list[LoadTray]:
    """A load's trays with bead, mould, batch and the orders they belong to (4 queries)."""
    trays = list(
        load.trays.select_related(
            "bead__mould", "bead__programme", "bead__second_programme", "batch__bead", "load__kiln"
        )
        .prefetch_related(
            Prefetch(
                "shares",
                LoadShare.objects.select_related("job__order__customer", "job__batch", "job__bead"),
            )
        )
        .order_by("pk")
    )
    see_where_painted_lie(trays)
    return trays


def waits_for(tray: LoadTray) -> str:
    """What a tray's beads wait for before they can go into the fire; "" when they are ready."""
    for share in tray.shares.all():
        step = share.job.step
        if step == (Step.SECOND if tray.is_second_firing else Step.FIRING):
            continue
        if tray.is_second_firing and step in {Step.GLASS, Step.MOULDING, Step.FIRING}:
            return _("not out of the first firing yet")
        return str(share.job.get_step_display())
    shares = list(tray.shares.all())
    moulded = shares[0].job.batch_id if shares else tray.batch_id
    if not moulded:
        return _("not moulded yet")
    return "" if shares or not tray.is_second_firing else _painted_waits(tray)


def most_ready(tray: LoadTray) -> int:
    """Beads of a tray that may go in now: of those for no order, no more than are painted."""
    item = getattr(tray.batch, "item", None)
    if tray.shares.all() or not tray.is_second_firing or item is None:
        return tray.beads
    painted = sum(row.quantity for row in item.balances.all() if row.place.spot == PAINTED)
    return min(tray.beads, painted)


def _painted_waits(tray: LoadTray) -> str:
    """What beads for no order wait for before their second firing; "" when any is painted."""
    item = getattr(tray.batch, "item", None)
    spots = {row.place.spot for row in item.balances.all()} if item is not None else set()
    if PAINTED in spots:
        return ""
    if TO_PAINT in spots:
        return str(Step.PAINTING.label)
    return _("not out of the first firing yet")


def not_ready(tray: LoadTray) -> str:
    """Why a tray's beads cannot go into the fire yet, as a sentence; "" when they can."""
    waits = waits_for(tray)
    if not waits:
        return ""
    shares = list(tray.shares.all())
    if not shares:
        return _("%(bead)s: %(waits)s.") % {"bead": tray.bead, "waits": waits}
    return _("%(bead)s for order %(number)s: %(waits)s.") % {
        "bead": tray.bead,
        "number": shares[0].job.order.number,
        "waits": waits,
    }


def moulds_in_kilns(moulds: Iterable[Mould], *, besides: Collection[int]) -> dict[int, int]:
    """How many of some moulds stand in kilns that burn, by the mould's key (1 query).

    besides  keys of kilns not asked about: out of one kept hot they come as the next round goes in
    """
    rows = (
        LoadTray.objects.filter(load__in_kiln=True, bead__mould__in=[each.pk for each in moulds])
        .exclude(load__kiln__in=besides)
        .values_list("bead__mould")
        .annotate(Sum("moulds"))
    )
    return dict(rows.order_by())


def batch_of(tray: LoadTray) -> BeadBatch | None:
    """The batch a tray's beads belong to: its own, else that of the order's beads."""
    shares = list(tray.shares.all())
    return shares[0].job.batch if shares else tray.batch


@dataclass(frozen=True)
class TrayRow:
    """A tray, the orders its beads belong to, and what it waits for before the fire."""

    tray: LoadTray
    orders: tuple[Order, ...]
    drawn: DrawnStrand | None
    waits: str

    @property
    def places(self) -> int:
        return self.tray.moulds * self.tray.bead.mould.places

    @property
    def reserved(self) -> bool:
        """Kept for its orders when they were confirmed, and not planned by the keeper since."""
        shares = self.tray.shares.all()
        return bool(shares) and all(share.reserved for share in shares)

    @property
    def lost(self) -> int:
        return self.tray.beads - (self.tray.good or 0) if self.tray.good is not None else 0


def drawn_rows(
    beads: Iterable[Bead], colours: SharesByBead | None = None
) -> dict[int, DrawnStrand]:
    """A few of each bead in a row, by the bead's key (1 query, none where colours are given)."""
    kinds = {bead.pk: bead for bead in beads}
    shares = shares_by_bead(kinds) if colours is None else colours
    found = {}
    for pk, bead in kinds.items():
        try:
            drawn = bead_drawing(bead, shares.get(pk, ()))
        except ShapeError:
            continue  # a bead without its sizes cannot be drawn; the bead's own page says so
        found[pk] = DrawnStrand(beads=(drawn,) * DRAWN_BEADS, ends="bare")
    return found


def tray_rows(trays: Sequence[LoadTray], colours: SharesByBead | None = None) -> list[TrayRow]:
    """Trays from `trays_of`, drawn (1 query, none where the colours of their beads are given)."""
    drawn = drawn_rows((tray.bead for tray in trays), colours)
    return [
        TrayRow(
            tray,
            tuple(share.job.order for share in tray.shares.all()),
            drawn.get(tray.bead_id),
            waits_for(tray),
        )
        for tray in trays
    ]
