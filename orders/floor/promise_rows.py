"""The rows a promise is worked out from, as plain tuples: loads, beads, and what waits."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from django.db.models import F, Q, Sum
from django.utils import timezone

from orders.models import Order, WorkOrder
from orders.planning.instance import Firing
from stock.models import Bead, KilnLoad

ACTIVE = (KilnLoad.State.PLANNED, KilnLoad.State.FIRING)
# Beads whose glass is not there wait for it, not for the kiln.
TO_BE_FIRED = (
    WorkOrder.Step.MOULDING,
    WorkOrder.Step.FIRING,
    WorkOrder.Step.PAINTING,
    WorkOrder.Step.SECOND,
)


class LoadRow(NamedTuple):
    pk: int
    kiln: int
    state: str
    starts_at: datetime
    started_at: datetime | None
    hold_c: int
    hold_min: int
    pinned: bool
    lit: bool
    hands: int

    @property
    def is_fixed(self) -> bool:
        return self.pinned or self.state != KilnLoad.State.PLANNED


class BeadRow(NamedTuple):
    """The mould of a bead and its firing windows; the second's are None for beads fired once."""

    mould: int
    cavities: int
    from_c: int
    to_c: int
    from_min: int
    to_min: int
    second_from_c: int | None
    second_to_c: int | None
    second_from_min: int | None
    second_to_min: int | None
    soak_c: int | None = None
    second_soak_c: int | None = None

    @property
    def soaks(self) -> bool:
        return self.soak_c is not None or self.second_soak_c is not None

    def firing(self, number: int) -> Firing | None:
        return _firing_of(self, number)


class WaitingRow(NamedTuple):
    """Beads of one job that stand in no load.

    first  the number of its next firing
    left   beads that find their next firing in no load
    more   beads that find only their second firing in none
    """

    job: int
    order: int
    bead: int
    due: date | None
    first: int
    left: int
    more: int


@lru_cache(maxsize=4096)
def _firing_of(row: BeadRow, number: int) -> Firing | None:
    windows: Sequence[int | None] = row[2:6] if number == 1 else row[6:10]
    low_c, high_c, low_min, high_min = windows
    if low_c is None or high_c is None or low_min is None or high_min is None:
        return None
    return Firing(str(row.mould), row.cavities, (float(low_c), float(high_c)), (low_min, high_min))


def load_rows() -> list[LoadRow]:
    rows = KilnLoad.objects.filter(
        state__in=ACTIVE, starts_at__gte=timezone.now() - timedelta(days=2)
    )
    return [
        LoadRow(*row)
        for row in rows.order_by("starts_at", "pk").values_list(
            "pk",
            "kiln_id",
            "state",
            "starts_at",
            "started_at",
            "hold_c",
            "hold_min",
            "pinned",
            "lit",
            "hands",
        )
    ]


def bead_rows() -> dict[int, BeadRow]:
    rows = Bead.objects.order_by().values_list(
        "pk", "mould_id", "mould__cavities",
        "programme__from_c", "programme__to_c", "programme__from_min", "programme__to_min",
        "second_programme__from_c", "second_programme__to_c",
        "second_programme__from_min", "second_programme__to_min",
        "programme__soak_c", "second_programme__soak_c",
    )  # fmt: skip
    return {row[0]: BeadRow(*row[1:]) for row in rows}


def waiting_rows(asking: Order | None) -> list[WaitingRow]:
    """Beads to be fired that stand in no load, but for those of one order (1 query)."""

    def placed(number: int) -> Sum:
        here = Q(shares__tray__firing=number)
        active = Q(shares__tray__load__state__in=ACTIVE)
        done = Q(shares__tray__load__state=KilnLoad.State.COOLED) & Q(
            shares__tray__batch=F("batch")
        )
        return Sum("shares__beads", filter=here & (active | done), default=0)

    rows = WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step__in=TO_BE_FIRED)
    if asking is not None and asking.pk:
        rows = rows.exclude(order=asking.pk)
    counted = rows.annotate(once=placed(1), twice=placed(2)).filter(
        Q(step__in=(WorkOrder.Step.MOULDING, WorkOrder.Step.FIRING), once__lt=F("to_start"))
        | Q(bead__second_programme__isnull=False, twice__lt=F("to_start"))
    )
    found = []
    for pk, order, bead, due, step, start, once, twice, second, whole, lost in counted.order_by(
        "pk"
    ).values_list(
        "pk", "order__number", "bead_id", "order__due_on", "step", "to_start", "once", "twice",
        "bead__second_programme_id", "batch__started", "batch__rejected",
    ):  # fmt: skip
        if step in {WorkOrder.Step.PAINTING, WorkOrder.Step.SECOND}:
            sound = whole - lost if whole is not None else start
            found.append(WaitingRow(pk, order, bead, due, 2, sound - twice, 0))
            continue
        left = max(0, start - once)
        more = max(0, start - twice - left) if second is not None else 0
        found.append(WaitingRow(pk, order, bead, due, 1, left, more))
    return found
