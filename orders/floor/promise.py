"""The day an order can be collected: from the loads planned, the hours worked and the hands there.

Glass is prepared and moulded behind the orders already promised; the beads go into the kilns
beside the loads already planned, none of which moves; then they are finished and strung. The
planner finds the earliest date that keeps to all of it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.costing.facts import LoadPart, NewLoad
from orders.costing.findings import FindingNeed, findings_needed
from orders.costing.results import BeadCosting, OrderCosting
from orders.floor.doubt import firing_records, rounds_of
from orders.floor.facts import AHEAD_DAYS, GLASS_COMES_DAYS, PAINT_DRY_MIN, read_facts
from orders.floor.five_minutes import GRID_MIN
from orders.floor.hands import promised_minutes
from orders.floor.open_days import OpenDays
from orders.floor.promise_board import KilnBoard, kiln_board, wanted_job
from orders.models import Order
from orders.planning import promise as planner
from orders.planning.bench import BenchUse
from orders.planning.bench import Step as BenchStep
from orders.planning.doubt import MIN_BEADS, MIN_DAYS, Records, days_for
from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN, Job
from stock.measures import METRE, PIECE, say_in
from stock.models import KilnLoad
from workshop import formats
from workshop.models import Business, Skill

BEFORE_FIRING = (Skill.PREPARING.value, Skill.MOULDING.value)
AT_THE_KILN = Skill.FIRING.value  # the kiln keeper's own time, not the bench's
BETWEEN, LAST = Skill.PAINTING.value, Skill.STRINGING.value
STRUNG = "ready to collect"
LIKELY, CAREFUL = 0.5, 0.9  # the careful date holds nine times in ten, by the records
SPARE_DAYS_PER_FIRING = 1  # without records; common practice, no source


@dataclass(frozen=True)
class Step:
    """One stage on the way to the date: what, until when, and how that was found."""

    name: str
    until: date
    how: str


@dataclass(frozen=True)
class Room:
    """Kiln places and bench minutes that a promise stands on: what confirming reserves.

    wanted    the beads' keys by the names the planner knows them by
    jobs      those beads as the planner's jobs
    fired_by  beads out of the kiln by this minute keep the day
    spare_min of the bench, on the day that the order is ready
    """

    board: KilnBoard
    kilns: tuple[planner.Reservation, ...]
    bench: tuple[BenchUse, ...]
    wanted: dict[str, int]
    jobs: tuple[Job, ...]
    fired_by: int
    spare_min: int

    @property
    def new_loads(self) -> tuple[NewLoad, ...]:
        """Loads that do not stand on the board yet. Room kept for what waits is no new load."""
        kilns = {kiln.name: kiln.pk for kiln in self.board.facts.kilns}
        return tuple(
            NewLoad(
                kilns[place.kiln],
                tuple(
                    LoadPart(self.wanted[item.job], item.firing, item.moulds)
                    for item in place.items
                ),
            )
            for place in self.kilns
            if place.new
        )


@dataclass(frozen=True)
class Promise:
    """The likely day, the careful one, and the stages that led there.

    The trader is told `p90_on`; `likely_on` is what the workshop plans by.

    careful_how  how the careful day was found
    condition    what must happen first, such as glass that has to be collected; "" for nothing
    loads_used   planned loads that take some of the beads; loads_new those that come on top
    room         what is to be reserved; None when there is nothing to make or no room at all
    """

    likely_on: date
    p90_on: date
    steps: tuple[Step, ...]
    careful_how: str = ""
    condition: str = ""
    loads_used: int = 0
    loads_new: int = 0
    room: Room | None = None

    @property
    def may_come_sooner(self) -> bool:
        return self.p90_on != self.likely_on

    @property
    def new_loads(self) -> tuple[NewLoad, ...]:
        """The loads that are lit because of the order, and what of it stands in each."""
        return () if self.room is None else self.room.new_loads


def promise_for(
    costing: OrderCosting,
    *,
    today: date,
    business: Business | None = None,
    order: Order | None = None,
) -> Promise:
    """When this order can be collected if it is taken now (14 queries).

    order  the one asked about, if it is in the book: what it holds itself is not in its way
    """
    return _Reckoning(costing, today, order).promise()


@dataclass(frozen=True)
class JoinedLoad:
    """A load that stands on the board already; number None where it is not written down yet."""

    number: int | None
    day: date


@dataclass(frozen=True)
class Joining:
    """How an order could be fired without lighting anything for itself, and when it is ready."""

    ready_on: date
    loads: tuple[JoinedLoad, ...]


def joining_for(
    costing: OrderCosting, *, today: date, order: Order | None = None
) -> Joining | None:
    """The planned loads that have room for all of an order; None where they have not (15 queries).

    order  as for `promise_for`
    """
    return _Reckoning(costing, today, order).joining()


def bench_minutes(costing: OrderCosting) -> int:
    """Whole minutes of preparing and moulding that an order puts into the queue."""
    minutes = costing.minutes_by_skill
    return int(sum((minutes.get(skill, Decimal(0)) for skill in BEFORE_FIRING), Decimal(0)))


class _Reckoning:
    def __init__(self, costing: OrderCosting, today: date, order: Order | None) -> None:
        self.costing = costing
        self.today = today
        self.order = order
        zone = timezone.get_current_timezone()
        begins = datetime.combine(today, time(0), zone)
        self.facts = read_facts(max(timezone.now(), begins))
        self.days, self.hands = self.facts.days, self.facts.hands
        self.promised = promised_minutes(order)
        self.to_make = [bead for bead in costing.beads if bead.start]
        self.findings = findings_needed(costing)
        self.wanted: list[planner.Wanted] = []
        self.waiting = sum(
            minutes for _day, skill, minutes in self.promised if skill in BEFORE_FIRING
        )

    def promise(self) -> Promise:
        # What lies ready is handed over now: no work of the order waits behind anybody's.
        if not self.to_make and not any(line.to_string for line in self.costing.lines):
            day = self.days.first_open(self.today)
            return Promise(day, day, ())
        board = self._board()
        try:
            found = self._asked(board)
        except PlanningError as error:
            # Nothing in the calendar fits: say so beside the last day the calendar knows.
            last = self.today + timedelta(days=AHEAD_DAYS)
            return Promise(last, last, (), condition=str(error))
        return self._told(board, found)

    def joining(self) -> Joining | None:
        board = self._board()
        try:
            found = self._asked(board, joining=True)
        except PlanningError:
            return None
        places = [place for place in found.reservations if place.items]
        rows = [board.rows.get((place.kiln, place.start_min)) for place in places]
        numbers = dict(
            KilnLoad.objects.filter(pk__in=[pk for pk in rows if pk]).values_list("pk", "number")
        )
        loads = {
            JoinedLoad(
                None if pk is None else numbers.get(pk), self.facts.clock.day(place.start_min)
            ): None
            for place, pk in zip(places, rows, strict=True)
        }
        planned = max(self.facts.clock.day(found.ready_min), self.days.first_open(self.today))
        return Joining(planned, tuple(loads))

    # --- what the planner is asked --------------------------------------------------------------

    def _board(self) -> KilnBoard:
        return kiln_board(self.facts, self.order)

    def _asked(self, board: KilnBoard, *, joining: bool = False) -> planner.Promise:
        self.wanted = self._wanted(board)
        return planner.promise(
            board.instance,
            self.wanted,
            planner.Bounds(
                now_min=self.facts.now_min,
                free_bench_min=self.facts.free_minutes(self.promised),
                hands=self.hands.able,
                first_lit_min=self.facts.first_min,
                lit_on_min=GRID_MIN,
                joining=joining,
            ),
            assembly=self._assembly(),
        )

    def _assembly(self) -> tuple[BenchStep, ...]:
        """What is done once the beads lie ready: stringing; of an order that makes none, all."""
        if self.to_make:
            return (self._bench_step(LAST),)
        others = [skill for skill in self.costing.minutes_by_skill if skill != LAST]
        return (*(self._bench_step(skill) for skill in others), self._bench_step(LAST))

    def _wanted(self, board: KilnBoard) -> list[planner.Wanted]:
        all_starts = sum(bead.start for bead in self.to_make)
        painted = sum(bead.start for bead in self.to_make if len(bead.firings) > 1)
        short = {colour.key for colour in self.costing.glass if colour.short_g > 0}
        return [self._wanted_bead(bead, board, all_starts, painted, short) for bead in self.to_make]

    def _wanted_bead(
        self, bead: BeadCosting, board: KilnBoard, all_starts: int, painted: int, short: set
    ) -> planner.Wanted:
        """Bench minutes are known for the order; each bead gets its part by beads started."""
        part = Fraction(bead.start, all_starts)
        twice = len(bead.firings) > 1
        waits = any(colour in short for colour, _form, _g in bead.glass_g)
        now = self.facts.now_min
        release = now + GLASS_COMES_DAYS * DAY_MIN if waits else now
        at_the_kiln = {AT_THE_KILN}
        if self.facts.heat.any_hot:
            # Hands that pierce are kept with the round that they pierce.
            at_the_kiln.add(Skill.PIERCING.value)
        finishing = [
            skill
            for skill in self.costing.minutes_by_skill
            if skill not in {*BEFORE_FIRING, *at_the_kiln, BETWEEN, LAST}
        ]
        return planner.Wanted(
            wanted_job(board, bead, release),
            before=tuple(self._bench_step(skill, part) for skill in BEFORE_FIRING),
            between=(self._bench_step(BETWEEN, Fraction(bead.start, painted)),) if twice else (),
            dry_min=PAINT_DRY_MIN if twice else 0,
            after=tuple(self._bench_step(skill, part) for skill in finishing),
        )

    def _bench_step(self, skill: str, part: Fraction = Fraction(1)) -> BenchStep:
        minutes = self.costing.minutes_by_skill.get(skill, Decimal(0))
        return BenchStep(skill, float(Fraction(minutes) * part))

    # --- what it answered -----------------------------------------------------------------------

    def _findings_here(self) -> date | None:
        """The day from which the strands can be strung, as far as clasps and cord are still to
        come: the working day after they are here (our choice). None: nothing is awaited."""
        days = [need.days for need in self.findings if need.days]
        if not days:
            return None
        return self.days.first_open(self.today + timedelta(days=max(days) + 1))

    def _told(self, board: KilnBoard, found: planner.Promise) -> Promise:
        planned = max(self.facts.clock.day(found.ready_min), self.days.first_open(self.today))
        places = [place for place in found.reservations if place.items]
        new = sum(1 for place in places if place.new)
        used = len(places) - new
        firing_days = {self.facts.clock.day(place.start_min) for place in places}
        later, spare, how = self._spare_days(len(firing_days))
        here = self._findings_here() or planned
        return Promise(
            max(here, self._open_days_after(planned, later)),
            max(here, self._open_days_after(planned, spare)),
            tuple(self._steps(board, found, used, new)),
            how,
            self._condition(),
            used,
            new,
            Room(
                board,
                found.reservations,
                found.bench,
                {bead.name: int(bead.key) for bead in self.to_make},
                tuple(wanted.job for wanted in self.wanted),
                found.fired_min,
                self._spare_min(found.ready_min),
            ),
        )

    def _spare_min(self, ready_min: int) -> int:
        """Minutes left of the day on which everything is ready."""
        return max((b - ready_min for a, b in self.facts.windows if a <= ready_min <= b), default=0)

    def _open_days_after(self, day: date, many: int) -> date:
        for _again in range(many):
            day = self.days.first_open(day + timedelta(days=1))
        return day

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
            "moulded by": (_("Glass prepared and moulded"), self._work_words()),
            "out of firing 1": (_("Fired and cooled"), _load_words(used, new)),
            "painted by": (
                _("Painted"),
                _("%(own)s of work") % {"own": formats.hours(minutes.get(Skill.PAINTING, 0))},
            ),
            "out of firing 2": (_("Fired a second time"), ""),
            "finished by": (_("Finished"), ""),
            STRUNG: (
                _("Strung"),
                _("%(own)s of work") % {"own": formats.hours(minutes.get(Skill.STRINGING, 0))},
            ),
        }
        steps = [
            Step(name, self.facts.clock.day(ends[stage]), how)
            for stage, (name, how) in words.items()
            if stage in ends
        ]
        if (here := self._findings_here()) is not None:
            steps = [
                replace(step, until=max(step.until, here))
                if step.name == words[STRUNG][0]
                else step
                for step in steps
            ]
            awaited = [need for need in self.findings if need.days]
            come = self.today + timedelta(days=max(need.days or 0 for need in awaited))
            steps.append(Step(_("Clasps and cord here"), come, _short_words(awaited)))
        return sorted(steps, key=lambda step: step.until)

    def _work_words(self) -> str:
        return ngettext(
            "%(own)s of work behind %(waiting)s that waits, %(hands)s pair of hands",
            "%(own)s of work behind %(waiting)s that waits, %(hands)s pairs of hands",
            self.hands.all,
        ) % {
            "own": formats.hours(bench_minutes(self.costing)),
            "waiting": formats.hours(self.waiting),
            "hands": self.hands.all,
        }

    def _spare_days(self, firing_days: int) -> tuple[int, int, str]:
        """Working days to add for the likely and for the careful day, and how they were found."""
        if not firing_days:
            return 0, 0, ""
        records = firing_records(self.facts)
        if not records.enough or records.lost_days >= records.working_days:
            return 0, firing_days * SPARE_DAYS_PER_FIRING, self._few_words(firing_days, records)
        lost = records.lost_days / records.working_days
        reject = min(0.9, records.beads_rejected / records.beads_sorted)
        rounds = rounds_of([(bead.to_make, bead.start) for bead in self.to_make], reject)
        likely = days_for(firing_days, lost, rounds, LIKELY) - firing_days
        careful = days_for(firing_days, lost, rounds, CAREFUL) - firing_days
        how = _(
            "holds nine times in ten: of %(days)s working days on record %(lost)s were lost for "
            "firing, and %(rejects)s of the beads were rejects"
        ) % {
            "days": formats.count(records.working_days),
            "lost": formats.count(records.lost_days),
            "rejects": formats.percent(Decimal(str(round(reject, 4)))),
        }
        # A day in hand at least: a customer is told one date, not a distribution.
        return likely, max(1, careful), how

    def _few_words(self, firing_days: int, records: Records) -> str:
        days = firing_days * SPARE_DAYS_PER_FIRING
        return ngettext(
            "a range, with %(n)s spare day for the firing: %(days)s working days and %(beads)s "
            "sorted beads are on record, and %(least)s and %(fewest)s are needed to say more",
            "a range, with %(n)s spare days, one a firing: %(days)s working days and %(beads)s "
            "sorted beads are on record, and %(least)s and %(fewest)s are needed to say more",
            days,
        ) % {
            "n": days,
            "days": formats.count(records.working_days),
            "beads": formats.count(records.beads_sorted),
            "least": MIN_DAYS,
            "fewest": MIN_BEADS,
        }

    def _condition(self) -> str:
        return "; ".join(filter(None, (self._glass_condition(), self._findings_condition())))

    def _findings_condition(self) -> str:
        """Findings that somebody has to ask for: nobody wrote down how long they take to come."""
        asked = [need for need in self.findings if need.days is None]
        if not asked:
            return ""
        return _("once these are bought, ask when they come: %(findings)s") % {
            "findings": _short_words(asked)
        }

    def _glass_condition(self) -> str:
        short = [
            _("%(colour)s %(mass)s") % {"colour": glass.name, "mass": formats.mass(glass.short_g)}
            for glass in self.costing.glass
            if glass.short_g > 0
        ]
        if not short:
            return ""
        return _("once the missing glass is here: %(glass)s") % {"glass": ", ".join(short)}


def _short_words(needs: Iterable[FindingNeed]) -> str:
    """What is missing of some findings, such as “Hook clasp: 5 missing”."""
    return ", ".join(
        _("%(finding)s: %(short)s missing")
        % {
            "finding": need.kept.name,
            "short": say_in(METRE if need.kept.by_metre else PIECE, need.short),
        }
        for need in needs
    )


def _load_words(used: int, new: int) -> str:
    planned = ngettext("%(n)s load already planned", "%(n)s loads already planned", used) % {
        "n": used
    }
    more = ngettext("%(n)s new load", "%(n)s new loads", new) % {"n": new}
    if used and new:
        return _("in %(planned)s and %(new)s") % {"planned": planned, "new": more}
    return _("in %(loads)s") % {"loads": planned if used else more}


__all__ = ["OpenDays", "Promise", "Room", "Step", "bench_minutes", "promise_for"]
