"""What no plan can beat, to stand beside a plan.

Five bounds, each valid for every plan of the instance:
* kiln minutes and loads, by covering (`cover_bound`; with rounds `rounds.cover`, and for plans no
  later than a given one `rounds.due_cover`);
* tardiness, by the work that kilns and moulds can have finished at each minute;
* late orders, by Moore and Hodgson's rule;
* finish, by the same count of finished work.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from heapq import heappop, heappush

from orders.planning.calendar import NEVER
from orders.planning.cover_bound import least_kiln_minutes_and_loads
from orders.planning.instance import Instance, Order
from orders.planning.measure import Key
from orders.planning.problem import Problem, moulds_needed
from orders.planning.rounds import cover
from orders.planning.rounds.due_cover import least_kiln_minutes_no_later
from orders.planning.rounds.problem import RoundProblem, compiled


@dataclass(frozen=True, slots=True)
class Bounds:
    """No plan has less of any of these; each is a bound on its own, not all at once.

    punctual_minutes  kiln minutes of any plan that is no later than a given one; 0 where none was
    """

    tardiness_min: int
    late_orders: int
    kiln_minutes: int
    loads: int
    finish_min: int
    punctual_minutes: int = 0


@dataclass(frozen=True, slots=True)
class Supply:
    """How much of one scarce thing can be finished, at most, and what asks for it.

    slots  per working window: list of (minute, units) at which units can be finished
    work   per order (index): units it needs
    """

    slots: list[list[tuple[int, int]]]
    work: dict[int, int]


@dataclass(frozen=True)
class Turn:
    """One filling of kiln places or moulds.

    inside_min     of it within the working window; occupancy_min until they are free
    hold_min       before the next turn
    lead_min       before the first turn, from the opening
    cools_min      from the end of a turn until its beads are cold
    """

    inside_min: int
    occupancy_min: int
    hold_min: int = 0
    lead_min: int = 0
    cools_min: int = 0


def turns_in_windows(problem: Problem, turn: Turn, units: int) -> list[list[tuple[int, int]]]:
    """For each window, when `units` kiln places or moulds can come out, at the earliest.

    A mould's turns start at the opening and follow each other without a pause; each takes the
    occupancy and, before the next, the hold. A turn belongs to the window in which it starts.
    """
    found = []
    step = max(1, turn.occupancy_min + turn.hold_min)
    for opens, closes in zip(problem.hours.opens, problem.hours.closes, strict=True):
        ends = []
        start = opens + turn.lead_min
        while start + turn.inside_min <= closes:
            out_min = start + turn.occupancy_min + turn.cools_min
            ends.append((problem.hours.out_at(out_min), units))
            start += step
        found.append([end for end in ends if end[0] < NEVER])
    return found


def supplies(problem: Problem) -> list[Supply]:
    """One supply for all kiln places together, and one for the moulds of each shape."""
    tasks = range(len(problem.job))
    moulds = [moulds_needed(problem.beads[t], problem.what[t].cavities) for t in tasks]
    least = problem.least_minutes
    by_window: list[list[tuple[int, int]]] = [[] for _ in problem.hours.opens]
    for kiln, places in enumerate(problem.places):
        turn = Turn(
            problem.turn_inside(kiln, least),
            problem.turn(kiln, least),
            lead_min=problem.lead(kiln),
            cools_min=min((problem.cools(t, kiln) for t in tasks), default=0),
        )
        turns = turns_in_windows(problem, turn, places)
        for window, ends in zip(by_window, turns, strict=True):
            window.extend(ends)
    for window in by_window:
        window.sort()
    work: dict[int, int] = {}
    for t in tasks:
        order = problem.order[t]
        work[order] = work.get(order, 0) + moulds[t] * problem.each[t]
    found = [Supply(by_window, work)]
    for shape, owned in enumerate(problem.owned):
        mine = [t for t in tasks if problem.shape[t] == shape]
        if not mine:
            continue
        ways = [(problem.lower_min[problem.box[t]], k) for t in mine for k in problem.task_kilns[t]]
        occupancy = min(problem.turn(k, minutes) for minutes, k in ways)
        inside = min(problem.turn_inside(k, minutes) for minutes, k in ways)
        need: dict[int, int] = {}
        for t in mine:
            need[problem.order[t]] = need.get(problem.order[t], 0) + moulds[t]
        hold = problem.least_hold(shape)
        turns = turns_in_windows(problem, Turn(inside, occupancy, hold), owned)
        found.append(Supply(turns, need))
    return found


def completions(problem: Problem, supply: Supply) -> list[int]:
    """The minute the first, second, ... order can be done, at the earliest, in any plan.

    Least work first, interrupted whenever a smaller order is released, has at every minute the
    most orders done (L. Schrage (1968), Operations Research 16, 687-690, from memory). Orders
    count as released at the opening of the window of their release, so that any plan's work in
    a window can be matched, unit by unit, with this supply: a valid relaxation.
    """
    hours = problem.hours
    coming = []
    for order, units in supply.work.items():
        release = min(problem.release[t] for t in problem.order_tasks[order])
        coming.append((bisect_left(hours.closes, release), units))
    coming.sort()
    heap: list[int] = []
    done: list[int] = []
    at = 0
    for number, window in enumerate(supply.slots):
        while at < len(coming) and coming[at][0] <= number:
            heappush(heap, coming[at][1])
            at += 1
        for minute, units in window:
            while units and heap:
                first = heappop(heap)
                if first > units:
                    heappush(heap, first - units)
                    break
                units -= first
                done.append(minute)
    # What the calendar has no room for is never done.
    done.extend([NEVER] * (len(supply.work) - len(done)))
    return done


def alone_out(problem: Problem, order: int) -> int:
    """The earliest minute an order can be out if it had the workshop to itself."""
    hours = problem.hours
    last = 0
    for task in problem.order_tasks[order]:
        if problem.after[task] >= 0:
            continue
        ready = problem.release[task]
        before = problem.before[task]
        if before >= 0:
            ready = _alone_end(problem, before, problem.release[before]) + problem.gap[before]
        last = max(last, _alone_end(problem, task, ready))
    return hours.out_at(last) if last else 0


def late_in_every_plan(instance: Instance) -> list[tuple[Order, int]]:
    """Orders that not even an empty workshop can have out when due, and the earliest minute."""
    problem = compiled(replace(instance, pinned=()))
    found = []
    for number, order in enumerate(instance.orders):
        if problem.order_tasks[number]:
            out = alone_out(problem, number)
            if out > order.due_min:
                found.append((order, out))
    return found


def _alone_end(problem: Problem, task: int, ready: int) -> int:
    minutes = problem.lower_min[problem.box[task]]
    best = NEVER
    for kiln in problem.task_kilns[task]:
        lead, turn = problem.lead(kiln), problem.alone_turn(task, kiln)
        inside = lead + problem.turn_inside(kiln, minutes)
        # Lit ahead of the release, it is hot when the moulds come.
        lit = problem.hours.earliest_start(max(0, ready - lead), inside, lead + turn)
        best = min(best, lit + lead + turn + problem.cools(task, kiln))
    return best if best < NEVER else problem.hours.last


def moore_hodgson_late(times: list[tuple[int, int]]) -> int:
    """Fewest late jobs on one machine, from (processing time, due) pairs, all released at 0.

    >>> moore_hodgson_late([(6, 8), (4, 9), (7, 15), (8, 20), (3, 21), (5, 22)])
    2

    Source: J. M. Moore (1968), Management Science 15(1), 102-109.
    """
    taken: list[int] = []
    used = 0
    for minutes, due in sorted(times, key=lambda pair: pair[1]):
        heappush(taken, -minutes)
        used += minutes
        if used > due:
            used += heappop(taken)
    return len(times) - len(taken)


def least_tardiness(problem: Problem) -> int:
    """Minutes of tardiness, summed over orders, that no plan can avoid."""
    best = sum(
        max(0, alone_out(problem, order) - problem.due[order])
        for order in _orders(problem)
        if problem.order_tasks[order]
    )
    for supply in supplies(problem):
        done = sorted(completions(problem, supply))
        dues = sorted(problem.due[o] for o in supply.work)
        # Sorted against sorted is the cheapest matching of completions with due minutes.
        total = sum(
            max(0, min(minute, problem.hours.last) - due)
            for minute, due in zip(done, dues, strict=True)
        )
        best = max(best, total)
    return best


def _orders(problem: Problem) -> range:
    return range(len(problem.due))


def least_late_orders(problem: Problem) -> int:
    """Orders that are late in every plan: Moore-Hodgson with work as time, finished work as due."""
    alone_late = {
        o
        for o in _orders(problem)
        if problem.order_tasks[o] and alone_out(problem, o) > problem.due[o]
    }
    best = len(alone_late)
    for supply in supplies(problem):
        slots = sorted(slot for window in supply.slots for slot in window)
        minutes = [minute for minute, _ in slots]
        finished = [0]
        for _, units in slots:
            finished.append(finished[-1] + units)
        pairs = []
        for order, units in supply.work.items():
            due = problem.due[order]
            by_due = -1 if order in alone_late else finished[bisect_left(minutes, due + 1)]
            pairs.append((units, by_due))
        best = max(best, moore_hodgson_late(pairs))
    return best


def least_finish(problem: Problem) -> int:
    """The earliest minute the last beads can be out."""
    best = 0
    for order in _orders(problem):
        if problem.order_tasks[order]:
            best = max(best, alone_out(problem, order))
    for supply in supplies(problem):
        done = completions(problem, supply)
        if done and max(done) < NEVER:
            best = max(best, max(done))
    return best


def bounds(instance: Instance, *, seconds: float = 10.0, no_later: int | None = None) -> Bounds:
    """All bounds, pinned loads or not.

    no_later  tardiness of a plan [min]: what plans with rounds that are no later can do with

    Uses the HiGHS solver for at most about `seconds`; not for web requests.
    """
    problem = compiled(replace(instance, pinned=()))
    punctual = 0
    if isinstance(problem, RoundProblem):
        share = seconds if no_later is None else seconds / 2
        minutes, loads = cover.least_kiln_minutes_and_loads(problem, share)
        if no_later is not None:
            punctual = max(minutes, least_kiln_minutes_no_later(problem, no_later, share))
    else:
        minutes, loads = least_kiln_minutes_and_loads(problem, seconds)
    return Bounds(
        tardiness_min=least_tardiness(problem),
        late_orders=least_late_orders(problem),
        kiln_minutes=minutes,
        loads=loads,
        finish_min=least_finish(problem),
        punctual_minutes=punctual,
    )


def in_words(key: Key, bound: Bounds) -> str:
    """One sentence a keeper can read: the plan, and what no plan can do with less of."""
    loads = "1 load" if key.loads == 1 else f"{key.loads:,} loads"
    text = f"{loads}, {key.kiln_minutes:,} kiln minutes; no plan can do with less than "
    text += f"{bound.kiln_minutes:,}"
    if bound.punctual_minutes > bound.kiln_minutes:
        text += f", and none that is no later with less than {bound.punctual_minutes:,}"
    if key.late_orders:
        orders = "1 order is" if key.late_orders == 1 else f"{key.late_orders:,} orders are"
        text += f". {orders} late, {key.tardiness_min:,} minutes in all; "
        text += f"no plan can have fewer than {bound.late_orders:,} late or less than "
        text += f"{bound.tardiness_min:,} minutes"
    return text + "."
