"""Days promised and days kept: how many, why not, and what the kilns were used for."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import LoadShare, Order, Stage, WorkOrder
from stock.models import KilnLoad, LoadTray, Posting, PostingKind
from workshop.days import day_begins, soonest
from workshop.models import AuditEntry, Kiln

Step = WorkOrder.Step
PERIOD_DAYS = 180

SPOILED, TOO_FEW = "spoiled", "few"
CAUSES = {
    SPOILED: gettext_lazy("a load was spoiled"),
    TOO_FEW: gettext_lazy("too few came good, made again"),
    Step.GLASS: gettext_lazy("waited for glass"),
    Step.MOULDING: gettext_lazy("waited to be moulded"),
    Step.FIRING: gettext_lazy("waited for a kiln"),
    Step.PAINTING: gettext_lazy("waited to be painted"),
    Step.SECOND: gettext_lazy("waited for the second firing"),
    Step.FINISHING: gettext_lazy("waited to be finished"),
    Step.DONE: gettext_lazy("waited to be strung"),
}


@dataclass(frozen=True)
class Kept:
    """One order: the day promised and the day its last strand was strung."""

    order: Order
    ready_on: date

    @property
    def days_late(self) -> int:
        """Below 0 when it was ready early."""
        assert self.order.due_on is not None
        return (self.ready_on - self.order.due_on).days


@dataclass(frozen=True)
class KilnUse:
    """What one kiln was used for: share of places filled over its loads, and its hours."""

    kiln: Kiln
    loads: int
    spoiled: int
    filled: Decimal
    burning_min: int


def dates_kept(since: date) -> list[Kept]:
    """Orders ready since a day, the latest first (2 queries)."""
    orders = {
        str(order.number): order
        for order in Order.objects.filter(
            state__in=[Order.State.CONFIRMED, Order.State.COLLECTED],
            stage__gte=Stage.STRUNG,
            due_on__isnull=False,
            taken_on__gte=since - timedelta(days=PERIOD_DAYS),
        ).select_related("customer")
    }
    strung = (
        Posting.objects.filter(
            kind=PostingKind.STRINGING, belongs_kind="order", on__gte=since,
            reversed_by__isnull=True,
        )
        .order_by()
        .values("belongs_ref")
        .annotate(on=Max("on"))
    )  # fmt: skip
    found = [
        Kept(orders[row["belongs_ref"]], row["on"])
        for row in strung
        if row["belongs_ref"] in orders
    ]
    return sorted(found, key=lambda kept: (kept.ready_on, kept.order.number), reverse=True)


def open_and_late(today: date) -> list[Order]:
    """Orders past their day that are not strung yet, the longest late first (1 query)."""
    return list(
        Order.objects.open()
        .filter(due_on__lt=today, stage__lt=Stage.STRUNG)
        .select_related("customer")
        .order_by(soonest(), "number")
    )


def causes_of(late: Sequence[Kept]) -> dict[int, str]:
    """Why each late order was late, by its key: a spoiled load, too few good, or the step where
    its slowest beads waited longest (3 queries)."""
    jobs = list(WorkOrder.objects.filter(order__in=[kept.order.pk for kept in late]))
    spoiled = set(
        LoadShare.objects.filter(
            job__in=[job.pk for job in jobs], tray__load__state=KilnLoad.State.SPOILED
        ).values_list("job__order", flat=True)
    )
    acts = AuditEntry.objects.filter(
        act="move beads", subject_kind="workorder", subject_ref__in=[str(job.pk) for job in jobs]
    ).order_by("pk")
    moves: dict[str, list[AuditEntry]] = defaultdict(list)
    for act in acts:
        moves[act.subject_ref].append(act)
    by_order: dict[int, list[WorkOrder]] = defaultdict(list)
    for job in jobs:
        by_order[job.order_id].append(job)
    return {
        kept.order.pk: SPOILED
        if kept.order.pk in spoiled
        else _slowest(kept, by_order[kept.order.pk], moves)
        for kept in late
    }


def _slowest(kept: Kept, jobs: Iterable[WorkOrder], moves: dict[str, list[AuditEntry]]) -> str:
    """The step in which the order's beads stood longest, from the log of their moves."""
    waited: Counter[str] = Counter()
    last_done: datetime | None = None
    for job in jobs:
        since = kept.order.confirmed_at
        for act in moves.get(str(job.pk), []):
            before, after = (act.before or {}).get("step", ""), (act.after or {}).get("step", "")
            if before == Step.FINISHING and after == Step.MOULDING:
                return TOO_FEW
            if since is not None and before:
                waited[before] = max(waited[before], int((act.at - since).total_seconds()))
            since = act.at
        if since is not None:
            last_done = max(last_done or since, since)
    if last_done is not None:
        strung = timezone.make_aware(datetime.combine(kept.ready_on, datetime.max.time()))
        waited[Step.DONE] = max(0, int((strung - last_done).total_seconds()))
    return max(waited, key=lambda step: waited[step]) if waited else Step.DONE


def kiln_use(since: date) -> list[KilnUse]:
    """Each kiln's loads since a day (3 queries)."""
    start = day_begins(since)
    loads = list(
        KilnLoad.objects.filter(
            state__in=[KilnLoad.State.COOLED, KilnLoad.State.SPOILED], starts_at__gte=start
        ).select_related("kiln")
    )
    taken: Counter[int] = Counter()
    trays = LoadTray.objects.filter(load__in=[load.pk for load in loads])
    for tray in trays.select_related("bead__mould"):
        taken[tray.load_id] += tray.moulds * tray.bead.mould.places
    found = []
    for kiln in Kiln.objects.filter(in_use=True):
        own = [load for load in loads if load.kiln_id == kiln.pk]
        places = kiln.places * len(own)
        filled = sum(taken[load.pk] for load in own)
        found.append(
            KilnUse(
                kiln, len(own),
                sum(load.state == KilnLoad.State.SPOILED for load in own),
                Decimal(filled) / places if places else Decimal(0),
                sum(load.occupies_min for load in own),
            )
        )  # fmt: skip
    return found


def by_lateness(kept: Iterable[Kept]) -> list[tuple[str, int, bool]]:
    """How many orders were ready how early or late: name, number, whether that is late."""
    buckets = [
        (_("4 days early or more"), lambda n: n <= -4, False),
        (_("1 to 3 days early"), lambda n: -3 <= n <= -1, False),
        (_("on the day"), lambda n: n == 0, False),
        (_("1 to 3 days late"), lambda n: 1 <= n <= 3, True),
        (_("4 days late or more"), lambda n: n >= 4, True),
    ]
    days = [each.days_late for each in kept]
    return [(name, sum(map(test, days)), late) for name, test, late in buckets]
