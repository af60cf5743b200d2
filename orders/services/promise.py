"""The day an order can be collected: from the loads planned, the hours worked and the hands there.

Glass is prepared and moulded behind the orders already promised; the beads go into the kilns
beside the loads already planned, none of which moves; then they are finished and strung. The
planner finds the earliest date that keeps to all of it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Count, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.costing.results import BeadCosting, OrderCosting
from orders.models import Order, Stage
from orders.planning import promise as planner
from orders.planning.bench import Step as BenchStep
from orders.planning.doubt import MIN_DAYS, days_to_allow
from orders.planning.errors import PlanningError
from orders.promise_adapter import KilnBoard, kiln_board, wanted_job
from orders.queries.days import OpenDays, open_days
from stock.models import KilnLoad
from workshop import formats
from workshop.models import Business, Person, Role, Skill

BEFORE_FIRING = frozenset({Skill.PREPARING.value, Skill.MOULDING.value})
AT_THE_KILN = frozenset({Skill.FIRING.value})  # the kiln keeper's own time, not the bench's
HANDS = "hands"  # any bench hand may do any step
CAREFUL = 0.9  # the careful date holds nine times in ten, by the workshop's own records
SPARE_DAYS_PER_FIRING = 1  # without records; common practice, no source
RECORDS = timedelta(days=365)


@dataclass(frozen=True)
class Step:
    """One stage on the way to the date: what, until when, and how that was found."""

    name: str
    until: date
    how: str


@dataclass(frozen=True)
class Promise:
    """The likely day, the careful one, and the stages that led there.

    careful_how  how the careful day was found
    condition    what must happen first, such as glass that has to be collected; "" for nothing
    loads_used   planned loads that take some of the beads; loads_new those that come on top
    extra_min    kiln minutes the order really adds to what is planned
    """

    likely_on: date
    careful_on: date
    steps: tuple[Step, ...]
    careful_how: str = ""
    condition: str = ""
    loads_used: int = 0
    loads_new: int = 0
    extra_min: int = 0


def promise_for(costing: OrderCosting, *, today: date, business: Business | None = None) -> Promise:
    """When this order can be collected if it is taken now (10 queries)."""
    return _Reckoning(costing, today).promise()


def bench_minutes(costing: OrderCosting) -> int:
    """Whole minutes of preparing and moulding that an order puts into the queue."""
    minutes = costing.minutes_by_skill
    return int(sum((minutes.get(skill, Decimal(0)) for skill in BEFORE_FIRING), Decimal(0)))


class _Reckoning:
    def __init__(self, costing: OrderCosting, today: date) -> None:
        self.costing = costing
        self.today = today
        self.days = open_days(today)
        self.hands = max(1, Person.objects.filter(role=Role.BENCH, is_active=True).count())
        self.waiting = _minutes_waiting()
        self.to_make = [bead for bead in costing.beads if bead.start]

    def promise(self) -> Promise:
        if not self.costing.labour_min and not self.to_make:
            day = self.days.first_open(self.today)
            return Promise(day, day, ())
        board = kiln_board(self.days, self.today, self.costing.facts.workshop)
        now = max(board.clock.minute(timezone.now()), board.clock.start_of(self.today))
        try:
            found = planner.promise(
                board.instance,
                self._wanted(now),
                now_min=now,
                assembly=self._assembly(),
                free_bench_min=self._free_hands(board),
            )
        except PlanningError as error:
            # Nothing in the calendar fits: say so beside the last day the calendar knows.
            last = self.today + timedelta(days=200)
            return Promise(last, last, (), condition=str(error))
        return self._told(board, found)

    # --- what the planner is asked --------------------------------------------------------------

    def _wanted(self, now: int) -> list[planner.Wanted]:
        all_starts = sum(bead.start for bead in self.to_make)
        return [self._wanted_bead(bead, now, all_starts) for bead in self.to_make]

    def _wanted_bead(self, bead: BeadCosting, now: int, all_starts: int) -> planner.Wanted:
        """Bench minutes are known for the order; each bead gets its part by beads started."""
        part = bead.start / all_starts
        minutes = self.costing.minutes_by_skill
        painted = sum(other.start for other in self.to_make if len(other.firings) > 1)
        painting = float(minutes.get(Skill.PAINTING, 0))
        between = painting * bead.start / painted if painted and len(bead.firings) > 1 else 0.0
        after = sum(
            float(spent)
            for skill, spent in minutes.items()
            if skill not in BEFORE_FIRING | AT_THE_KILN
            and skill not in {Skill.PAINTING, Skill.STRINGING}
        )
        return planner.Wanted(
            wanted_job(self.costing.facts, bead, now),
            before=(BenchStep(HANDS, bench_minutes(self.costing) * part),),
            between=(BenchStep(HANDS, between),),
            after=(BenchStep(HANDS, after * part),),
        )

    def _assembly(self) -> tuple[BenchStep, ...]:
        minutes = self.costing.minutes_by_skill.get(Skill.STRINGING, Decimal(0))
        return (BenchStep(HANDS, float(minutes)),)

    def _free_hands(self, board: KilnBoard) -> dict[tuple[int, str], float]:
        """Hand minutes by day, the first ones spoken for by orders that wait to be moulded."""
        free = {}
        left = float(self.waiting)
        for ahead in range(200):
            day = self.today + timedelta(days=ahead)
            minutes = float(self.days.minutes(day) * self.hands)
            spoken_for = min(left, minutes)
            left -= spoken_for
            number = (day - board.clock.first_day).days
            free[number, HANDS] = minutes - spoken_for
        return free

    # --- what it answered -----------------------------------------------------------------------

    def _told(self, board: KilnBoard, found: planner.Promise) -> Promise:
        likely = max(board.clock.day(found.ready_min), self.days.first_open(self.today))
        new = sum(1 for place in found.reservations if place.new)
        used = len(found.reservations) - new
        firing_days = {board.clock.day(place.start_min) for place in found.reservations}
        spare, how = self._spare_days(len(firing_days))
        careful = likely
        for _again in range(spare):
            careful = self.days.first_open(careful + timedelta(days=1))
        return Promise(
            likely,
            careful,
            tuple(self._steps(board, found, used, new)),
            how,
            self._condition(),
            used,
            new,
            found.extra_kiln_min,
        )

    def _steps(
        self, board: KilnBoard, found: planner.Promise, used: int, new: int
    ) -> Iterable[Step]:
        """The last day of each stage over all kinds of bead."""
        ends: dict[str, int] = {}
        for term in found.terms:
            stage = term.name.rpartition(": ")[2]
            ends[stage] = max(ends.get(stage, 0), int(term.value))
        minutes = self.costing.minutes_by_skill
        words = {
            "moulded by": (_("Glass prepared and moulded"), self._work_words(self.waiting)),
            "out of firing 1": (_("Fired and cooled"), _load_words(used, new)),
            "painted by": (
                _("Painted"),
                _("%(own)s of work") % {"own": formats.hours(minutes.get(Skill.PAINTING, 0))},
            ),
            "out of firing 2": (_("Fired a second time"), ""),
            "finished by": (_("Finished"), ""),
            "ready to collect": (
                _("Strung"),
                _("%(own)s of work") % {"own": formats.hours(minutes.get(Skill.STRINGING, 0))},
            ),
        }
        steps = [
            Step(name, board.clock.day(ends[stage]), how)
            for stage, (name, how) in words.items()
            if stage in ends
        ]
        return sorted(steps, key=lambda step: step.until)

    def _work_words(self, waiting: Decimal) -> str:
        return ngettext(
            "%(own)s of work behind %(waiting)s that waits, %(hands)s pair of hands",
            "%(own)s of work behind %(waiting)s that waits, %(hands)s pairs of hands",
            self.hands,
        ) % {
            "own": formats.hours(bench_minutes(self.costing)),
            "waiting": formats.hours(waiting),
            "hands": self.hands,
        }

    def _spare_days(self, firing_days: int) -> tuple[int, str]:
        """Working days to add so that the date holds nine times in ten."""
        if not firing_days:
            return 0, ""
        loads, spoiled = _loads_on_record()
        if loads < MIN_DAYS:
            days = firing_days * SPARE_DAYS_PER_FIRING
            return days, ngettext(
                "%(n)s spare day a firing, until %(least)s loads are on record",
                "%(n)s spare days, one a firing, until %(least)s loads are on record",
                days,
            ) % {"n": days, "least": MIN_DAYS}
        spare = days_to_allow(firing_days, spoiled / loads, CAREFUL) - firing_days
        how = _("holds nine times in ten: of %(loads)s loads on record %(spoiled)s were spoiled")
        # A day in hand besides: a customer is told one date, not a distribution.
        return max(1, spare), how % {"loads": loads, "spoiled": spoiled}

    def _condition(self) -> str:
        short = [
            _("%(colour)s %(mass)s") % {"colour": glass.name, "mass": formats.mass(glass.short_g)}
            for glass in self.costing.glass
            if glass.short_g > 0
        ]
        if not short:
            return ""
        return _("once the missing glass is here: %(glass)s") % {"glass": ", ".join(short)}


def _load_words(used: int, new: int) -> str:
    planned = ngettext("%(n)s load already planned", "%(n)s loads already planned", used) % {
        "n": used
    }
    more = ngettext("%(n)s new load", "%(n)s new loads", new) % {"n": new}
    if used and new:
        return _("in %(planned)s and %(new)s") % {"planned": planned, "new": more}
    return _("in %(loads)s") % {"loads": planned if used else more}


def _loads_on_record() -> tuple[int, int]:
    """Loads of the last year that cooled or were spoiled, and the spoiled ones (1 query)."""
    since = timezone.now() - RECORDS
    over = Q(state=KilnLoad.State.SPOILED) | Q(state=KilnLoad.State.COOLED)
    found = KilnLoad.objects.filter(over, starts_at__gte=since).aggregate(
        loads=Count("pk"), spoiled=Count("pk", filter=Q(state=KilnLoad.State.SPOILED))
    )
    return found["loads"], found["spoiled"]


def _minutes_waiting() -> Decimal:
    """Bench minutes promised to open orders that still have beads to mould (1 query)."""
    found = (
        Order.objects.open()
        .filter(stage__lt=Stage.MOULDED)
        .aggregate(minutes=Sum("bench_min"))["minutes"]
    )
    return Decimal(found or 0)


__all__ = ["OpenDays", "Promise", "Step", "bench_minutes", "promise_for"]
