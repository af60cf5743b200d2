"""The counter promise: the earliest honest date for one more order, nothing promised moving.

Moulding, firing, painting, second firing, finishing and stringing follow one another. Kilns
are taken as planned: room in loads already planned is mixed with new loads in what kiln time is
left. The answer says which loads to reserve, so that the next promise sees them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from random import Random

from orders.planning.bench import Bench, BenchUse, Step, StepTime
from orders.planning.board import Board
from orders.planning.calendar import NEVER
from orders.planning.errors import PlanningError
from orders.planning.insert import Inserter
from orders.planning.instance import DAY_MIN, Instance, Item, Job, Order
from orders.planning.moves import Slot
from orders.planning.problem import Problem
from orders.planning.reservation import Reservation
from orders.planning.rounds.counter import RoundCounter

PATIENCE = (0.0, 0.34, 0.67, 1.0)
"""A new load waits until moulds are free for this share of what it could hold; all are tried."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One job of the order asked about, with its bench steps (hand minutes).

    before   until it can be fired: preparing, moulding
    between  its first and its second firing: painting (beside the job's own gap)
    dry_min  from painted to its second firing
    after    its last firing: polishing, sorting
    """

    job: Job
    before: tuple[Step, ...] = ()
    between: tuple[Step, ...] = ()
    dry_min: int = 0
    after: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class Term:
    """One line of the working: what, how much, of what unit, and where it came from."""

    name: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class Promise:
    """ready_min   the minute the order is ready to be collected
    fired_min    the minute its last beads are out of the kiln
    reason       a sentence: what the date hangs on
    critical     "kiln", "moulds", "gap" or the skill that comes last
    extra_kiln_min  kiln minutes the order really adds to what is planned
    """

    ready_min: int
    fired_min: int
    reason: str
    critical: str
    extra_kiln_min: int
    reservations: tuple[Reservation, ...]
    bench: tuple[BenchUse, ...]
    terms: tuple[Term, ...]


def _with_wanted(instance: Instance, wanted: Sequence[Wanted]) -> Instance:
    order = Order("order asked about", 0)
    jobs = tuple(replace(w.job, order=order.id) for w in wanted)
    return replace(instance, orders=(*instance.orders, order), jobs=(*instance.jobs, *jobs))


class Counter:
    """The board as planned, ready for questions. Build it once, or afresh for each question.

    instance  all loads already planned are its pinned loads, and the jobs asked
              about are its last; open jobs that stand in no load are not seen
    """

    def __init__(self, instance: Instance) -> None:
        self.problem = Problem(instance)
        self.board = Board(self.problem)
        self.inserter = Inserter(self.board, Random(0))
        self.inserter.start()
        self.kiln_minutes_before = self.board.kiln_minutes

    def fire(self, task: int, ready_min: int) -> int:
        """Place one firing so that it ends as early as found; returns when its beads are out.

        Raises PlanningError if the calendar ends first.
        """
        board, inserter, problem = self.board, self.inserter, self.problem
        problem.release[task] = max(problem.release[task], ready_min)
        best = (NEVER, NEVER, 0.0)
        for patience in PATIENCE:
            placed = self._try(partial(inserter.earliest, task, NEVER, patience))
            if placed:
                end, minutes = placed
                best = min(best, (end, minutes, patience))
        if best[0] == NEVER:
            raise self._no_room(task)
        end, minutes, patience = best
        thrifty = self._try(lambda: self._room_first(task, end))
        if thrifty and thrifty <= (end, minutes):
            self._room_first(task, end)
        else:
            inserter.earliest(task, NEVER, patience)
        return problem.hours.out_at(board.end_of(task))

    def join(self, task: int, ready_min: int) -> int:
        """Place one firing in loads that are planned already; returns when its beads are out.

        Raises PlanningError if they have no room for all of it.
        """
        board, problem = self.board, self.problem
        problem.release[task] = max(problem.release[task], ready_min)
        if not self.inserter.into_room(task, NEVER, whole=True):
            raise self._no_room(task)
        return problem.hours.out_at(board.end_of(task))

    def _room_first(self, task: int, end: int) -> bool:
        """Fill planned loads that end by then first, then add new loads for the rest."""
        inserter = self.inserter
        return inserter.into_room(task, end) or any(
            inserter.earliest(task, end, patience) for patience in PATIENCE[-1:]
        )

    def _try(self, place: Callable[[], bool]) -> tuple[int, int] | None:
        """(end, kiln minutes) of a way to place a task, taken back again; None if it fails."""
        board, inserter = self.board, self.inserter
        slots, new = list(inserter.open_slots), list(inserter.new_slots)
        board.mark()
        found = None
        task_end = 0
        if place():
            touched = [entry[1] for entry in board.log if isinstance(entry[1], Slot)]
            task_end = max((slot.end for slot in touched), default=0)
            found = (task_end, board.kiln_minutes)
        board.undo()
        inserter.open_slots, inserter.new_slots = slots, new
        return found

    def _no_room(self, task: int) -> PlanningError:
        job = self.problem.job[task]
        return PlanningError(
            f"Job {job.id} finds no kiln time with free moulds before the calendar ends; "
            "open later working windows, or add moulds or a kiln.",
            job=job.id,
        )

    def why_waiting(self, task: int) -> str:
        """ "ready" if its last load starts as soon as the work is ready, "moulds" or "kiln"."""
        board, problem = self.board, self.problem
        ready = board.ready_at(task)
        last = max(board.where[task], key=lambda slot: slot.end, default=None)
        if last is None:
            return "ready"
        minutes = problem.lower_min[problem.box[task]]
        alone = NEVER
        with_kiln = NEVER
        for kiln in problem.task_kilns[task]:
            occupancy = problem.base_min[kiln] + minutes
            firing = problem.preheat[kiln] + minutes
            inside = problem.hours.inside_min(firing, occupancy)
            alone = min(alone, problem.hours.earliest_start(ready, inside, occupancy))
            with_kiln = min(with_kiln, board.first_gap(kiln, ready, firing, occupancy))
        if last.start <= alone:
            return "ready"
        return "moulds" if with_kiln < last.start else "kiln"

    def extra_kiln_min(self) -> int:
        """Kiln minutes by which the board has grown since it was built."""
        return self.board.kiln_minutes - self.kiln_minutes_before

    def reservations(self) -> tuple[Reservation, ...]:
        board, problem = self.board, self.problem
        beads_left = list(problem.open_beads)
        found = []
        for slot in board.slots():
            if not slot.items:
                continue
            items = []
            for task, moulds in slot.items.items():
                beads = min(beads_left[task], moulds * problem.what[task].cavities)
                beads_left[task] -= beads
                items.append(Item(problem.job[task].id, problem.firing[task], moulds, beads))
            found.append(
                Reservation(
                    kiln=problem.instance.kilns[slot.kiln].id,
                    start_min=slot.start,
                    minutes=slot.minutes,
                    temp_c=board.temperature(slot),
                    new=slot.pinned is None,
                    items=tuple(items),
                )
            )
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a promise keeps to beside the kilns.

    now_min         nothing starts earlier
    free_bench_min  free hand minutes by (day, skill) (see `bench.free_minutes`); None: no limit
    hands           groups of hands that can do each skill, when the minutes are free by group
    first_lit_min   nothing is lit earlier, though the bench may begin at once
    lit_on_min      kilns are lit on whole multiples of this, if loads and windows keep to it
    joining         nothing is lit: all of it goes into loads that are planned already
    """

    now_min: int = 0
    free_bench_min: Mapping[tuple[int, str], float] | None = None
    hands: Mapping[str, Sequence[str]] | None = None
    first_lit_min: int = 0
    lit_on_min: int = 1
    joining: bool = False


def promise(
    instance: Instance,
    wanted: Sequence[Wanted],
    bounds: Bounds = Bounds(),
    *,
    assembly: Sequence[Step] = (),
) -> Promise:
    """The earliest honest date for the jobs wanted, all together, and what to reserve.

    instance  the workshop, with every load already planned pinned
    wanted    the order's jobs; their `order` field is not used
    assembly  bench steps once all jobs are finished: stringing, tagging

    Honest: the placements keep every rule and move nothing. Earliest: as found by trying
    several ways of mixing planned and new loads; not proved to be the earliest there is.
    Raises PlanningError, naming the job, if the order cannot be made within the calendar.
    """
    bench = Bench(instance.calendar, bounds.free_bench_min or {}, bounds.hands)
    asked = _with_wanted(instance, wanted)
    counter = RoundCounter(asked) if asked.has_rounds else Counter(asked)
    making = _Making(counter, bench, bounds)
    ready_min = fired_min = max(0, bounds.now_min)
    critical, reason = "ready", "There is nothing to make."
    # The work that takes longest goes first, so that the rest can fill up beside it.
    for want in sorted(wanted, key=lambda w: (-len(w.job.firings), -w.job.beads)):
        out, finished, hold = making.make(want, max(bounds.now_min, want.job.release_min))
        fired_min = max(fired_min, out)
        if finished >= ready_min:
            ready_min, critical = finished, hold
            reason = _reason(want.job.id, hold, finished)
    done = making.work(assembly, ready_min)
    if done > ready_min + DAY_MIN and assembly:
        critical = assembly[-1].skill
        reason = f"The date hangs on the bench: {critical} is done on {_clock(done)}."
    making.tell("ready to collect", done, "the last of all steps")
    return Promise(
        ready_min=done,
        fired_min=fired_min,
        reason=reason,
        critical=critical,
        extra_kiln_min=making.counter.extra_kiln_min(),
        reservations=making.counter.reservations(),
        bench=tuple(use for time in making.bench_times for use in time.uses),
        terms=tuple(making.terms),
    )


class _Making:
    """Walks the jobs of one order through bench and kilns, and writes down what took how long."""

    def __init__(self, counter: Counter | RoundCounter, bench: Bench, bounds: Bounds) -> None:
        self.counter = counter
        self.place = counter.join if bounds.joining else counter.fire
        self.bench = bench
        self.first_lit_min, self.lit_on_min = bounds.first_lit_min, bounds.lit_on_min
        self.terms: list[Term] = []
        self.bench_times: list[StepTime] = []

    def tell(self, name: str, minute: int, source: str) -> None:
        self.terms.append(Term(name, minute, "min", source))

    def work(self, steps: Sequence[Step], from_min: int) -> int:
        done, times = self.bench.do_all(steps, from_min)
        self.bench_times.extend(times)
        return done

    def make(self, want: Wanted, from_min: int) -> tuple[int, int, str]:
        """(minute out of its last firing, minute finished, what held it up most)."""
        job = want.job
        at = self.work(want.before, from_min)
        self.tell(f"{job.id}: moulded by", at, "bench hours free")
        hold = want.before[-1].skill if want.before else "ready"
        for number in range(1, len(job.firings) + 1):
            task = self.counter.problem.task_index.get((job.id, number))
            if task is None:
                continue
            if number == 2:
                at, hold = self._paint(want, task)
            lit = -(-max(at, self.first_lit_min) // self.lit_on_min) * self.lit_on_min
            at = self.place(task, lit)
            self.tell(f"{job.id}: out of firing {number}", at, "kiln board")
            waits = self.counter.why_waiting(task)
            hold = waits if waits != "ready" else hold
        finished = self.work(want.after, at)
        self.tell(f"{job.id}: finished by", finished, "bench hours free")
        return at, finished, hold

    def _paint(self, want: Wanted, second: int) -> tuple[int, str]:
        """When the painted beads may be fired again, and whether gap or bench decides it."""
        counter, gap_min = self.counter, want.job.gap_min
        end = counter.board.end_of(second - 1)
        dry = self.work(want.between, counter.problem.hours.out_at(end)) + want.dry_min
        by_bench = want.between and dry > end + gap_min
        at = max(dry, end + gap_min)
        self.tell(f"{want.job.id}: painted by", at, "bench hours and gap")
        return at, want.between[-1].skill if by_bench else "gap"


_REASONS = {
    "kiln": "The date hangs on kiln time: job {job} is finished on {when}.",
    "moulds": "The date hangs on moulds in use elsewhere: job {job} is finished on {when}.",
    "gap": "The date hangs on the wait between two firings: job {job} is finished on {when}.",
    "ready": "Nothing stands in the way: job {job} is finished on {when}.",
}


def _reason(job: str, hold: str, at: int) -> str:
    text = _REASONS.get(hold, "The date hangs on the bench ({hold}): job {job} is done on {when}.")
    return text.format(job=job, hold=hold, when=_clock(at))


def _clock(minute: int) -> str:
    day, rest = divmod(minute, DAY_MIN)
    return f"day {day} at {rest // 60:02d}:{rest % 60:02d}"
