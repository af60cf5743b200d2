"""The day an order can be collected: from the loads planned, the hours worked and the hands there.

Glass is prepared and moulded in the queue behind the orders already promised; the beads go into
the first room the kilns have, planned loads with places left before new ones; then they are
finished and strung. Each stage ends on an open day and the next begins the day after it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.costing.results import FiringCosting, OrderCosting
from orders.models import Order
from orders.queries.days import OpenDays, open_days
from stock.models import KilnLoad, LoadTray
from workshop import formats
from workshop.models import Business, Kiln, Person, Role, Skill

BEFORE_FIRING = frozenset({Skill.PREPARING, Skill.MOULDING})
# A kiln is opened once a day at most after a long cooling; a spoiled load costs a working day.
SPARE_DAYS_PER_FIRING = 1  # common practice, no source


@dataclass(frozen=True)
class Step:
    """One stage on the way to the date: what, until when, and how that was found."""

    name: str
    until: date
    how: str


@dataclass(frozen=True)
class Promise:
    """The likely day, the careful one, and the stages that led there.

    condition   what must happen first, such as glass that has to be collected; "" when nothing
    loads_used  planned loads with room that this order can share
    """

    likely_on: date
    careful_on: date
    steps: tuple[Step, ...]
    condition: str = ""
    loads_used: int = 0
    loads_new: int = 0


@dataclass(frozen=True)
class _PlannedLoad:
    kiln: int
    starts_at: datetime
    ends_at: datetime
    free_places: int
    hold_c: int


def promise_for(costing: OrderCosting, *, today: date, business: Business | None = None) -> Promise:
    """When this order can be collected if it is taken now (8 queries)."""
    return _Reckoning(costing, today).promise()


class _Reckoning:
    def __init__(self, costing: OrderCosting, today: date) -> None:
        self.costing = costing
        self.today = today
        self.days = open_days(today)
        self.hands = max(1, Person.objects.filter(role=Role.BENCH, is_active=True).count())
        self.kilns = {kiln.pk: kiln for kiln in Kiln.objects.filter(in_use=True)}
        self.loads = list(_planned_loads())
        self.steps: list[Step] = []
        self.used: set[int] = set()
        self.new_loads = 0

    def promise(self) -> Promise:
        minutes = self.costing.minutes_by_skill
        before = Decimal(bench_minutes(self.costing))
        stringing = minutes.get(Skill.STRINGING, Decimal(0))
        kiln_work = minutes.get(Skill.FIRING, Decimal(0))
        finishing = self.costing.labour_min - before - stringing - kiln_work
        day = self.days.first_open(self.today)
        firings = [firing for firing in self.costing.firings if firing.beads]
        if before and firings:
            waiting = _minutes_waiting()
            day = self._work(_("Glass prepared and moulded"), day, before, waiting)
        for number in sorted({firing.number for firing in firings}):
            own = [firing for firing in firings if firing.number == number]
            day = self._fire(number, own, self._next(day))
        if finishing > 0 and firings:
            day = self._work(_("Finished"), self._next(day), finishing, Decimal(0))
        if stringing:
            day = self._work(
                _("Strung"), self._next(day) if firings else day, stringing, Decimal(0)
            )
        spare = SPARE_DAYS_PER_FIRING * len({firing.number for firing in firings}) + 1
        likely = day
        careful = self._later(likely, spare if firings else (1 if stringing else 0))
        return Promise(
            likely, careful, tuple(self.steps), self._condition(), len(self.used), self.new_loads
        )

    def _next(self, day: date) -> date:
        return self.days.first_open(day + timedelta(days=1))

    def _later(self, day: date, open_days_more: int) -> date:
        for _again in range(open_days_more):
            day = self._next(day)
        return day

    def _work(self, name: str, day: date, minutes: Decimal, waiting: Decimal) -> date:
        """Hands work through what waits and then this; the last day they need."""
        left = minutes + waiting
        until = day
        for until in self.days.from_day(day):
            left -= self.days.minutes(until) * self.hands
            if left <= 0:
                break
        how = ngettext(
            "%(own)s of work, %(waiting)s waiting before it, %(hands)s pair of hands",
            "%(own)s of work, %(waiting)s waiting before it, %(hands)s pairs of hands",
            self.hands,
        ) % {
            "own": formats.hours(minutes),
            "waiting": formats.hours(waiting),
            "hands": self.hands,
        }
        self.steps.append(Step(name, until, how))
        return until

    def _fire(self, number: int, firings: Iterable[FiringCosting], day: date) -> date:
        """The last day on which one of these firings cools."""
        last = day
        for firing in firings:
            last = max(last, self._one_firing(firing, day))
        name = _("Fired") if number == 1 else _("Fired a second time")
        how = _("%(shared)s with room in loads already planned, %(new)s new") % {
            "shared": len(self.used),
            "new": self.new_loads,
        }
        self.steps.append(Step(name, last, how))
        return last

    def _one_firing(self, firing: FiringCosting, day: date) -> date:
        places, last = firing.places, day
        for index, load in enumerate(self.loads):
            starts = timezone.localtime(load.starts_at).date()
            if load.kiln == firing.kiln and load.free_places > 0 and starts >= day and places > 0:
                fitting = min(places, load.free_places)
                self.loads[index] = _PlannedLoad(
                    load.kiln, load.starts_at, load.ends_at, load.free_places - fitting, load.hold_c
                )
                places -= fitting
                self.used.add(index)
                last = max(last, timezone.localtime(load.ends_at).date())
        kiln_places = max(1, self.kilns[int(firing.kiln)].places)
        while places > 0:
            last = max(last, self._new_load(firing, day))
            places -= kiln_places
            self.new_loads += 1
        return last

    def _new_load(self, firing: FiringCosting, day: date) -> date:
        """Room for one more load in the kiln: as many in a day as the open hours allow."""
        kiln = int(firing.kiln)
        for candidate in self.days.from_day(day):
            taken = [
                load
                for load in self.loads
                if load.kiln == kiln and timezone.localtime(load.starts_at).date() == candidate
            ]
            room = max(1, int(self.days.minutes(candidate) // max(firing.load_min, Decimal(1))))
            if len(taken) < room:
                starts = timezone.make_aware(datetime.combine(candidate, datetime.min.time()))
                ends = starts + timedelta(minutes=float(firing.load_min))
                self.loads.append(_PlannedLoad(kiln, starts, ends, 0, 0))
                return candidate
        return day

    def _condition(self) -> str:
        short = [
            _("%(colour)s %(mass)s") % {"colour": glass.name, "mass": formats.mass(glass.short_g)}
            for glass in self.costing.glass
            if glass.short_g > 0
        ]
        if not short:
            return ""
        return _("once the missing glass is here: %(glass)s") % {"glass": ", ".join(short)}


def bench_minutes(costing: OrderCosting) -> int:
    """Whole minutes of preparing and moulding that an order puts into the queue."""
    minutes = costing.minutes_by_skill
    return int(sum((minutes.get(skill, Decimal(0)) for skill in BEFORE_FIRING), Decimal(0)))


def _planned_loads() -> Iterable[_PlannedLoad]:
    """Loads planned from today on, with the places they have left (2 queries)."""
    loads = list(
        KilnLoad.objects.filter(
            state__in=[KilnLoad.State.PLANNED, KilnLoad.State.FIRING],
            starts_at__gte=timezone.now() - timedelta(days=1),
        )
        .select_related("kiln")
        .order_by("starts_at")
    )
    taken: dict[int, int] = {}
    for tray in LoadTray.objects.filter(load__in=loads).select_related("bead__mould"):
        places = tray.moulds * tray.bead.mould.places
        taken[tray.load_id] = taken.get(tray.load_id, 0) + places
    for load in loads:
        free = load.kiln.places - taken.get(load.pk, 0) if not load.pinned else 0
        if load.state != KilnLoad.State.PLANNED:
            free = 0
        yield _PlannedLoad(
            load.kiln_id,
            load.starts_at,
            load.starts_at + timedelta(minutes=load.occupies_min),
            max(0, free),
            load.hold_c,
        )


def _minutes_waiting() -> Decimal:
    """Bench minutes promised to open orders that still have beads to mould (1 query)."""
    found = Order.objects.open().filter(stage__lt=2).aggregate(minutes=Sum("bench_min"))["minutes"]
    return Decimal(found or 0)


__all__ = ["OpenDays", "Promise", "Step", "promise_for"]
