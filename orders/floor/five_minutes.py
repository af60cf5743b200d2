"""Kilns are lit on the whole five minutes: a keeper reads a wall clock.

On a grid, preheat, programme, cooling, holds, releases and gaps are whole fives. Then lighting
every load at the five minutes before its own minute keeps every rule and makes nothing later:
each rule says "so many fives after", and rounding down commutes with adding fives.
"""

from collections.abc import Iterable
from dataclasses import replace

from orders.planning.faults import faults
from orders.planning.instance import (
    Calendar,
    Firing,
    Instance,
    Job,
    Kiln,
    PinnedLoad,
    Plan,
    Span,
)

GRID_MIN = 5


def up(minutes: int) -> int:
    """
    >>> up(31), up(35)
    (35, 35)
    """
    return -(-minutes // GRID_MIN) * GRID_MIN


def down(minutes: int) -> int:
    return minutes // GRID_MIN * GRID_MIN


def on_grid(instance: Instance) -> Instance:
    """The instance with everything a start can hang on rounded to the careful side.

    Loads that burn or are pinned stay to the minute; their kiln is free again at the next five.
    """
    kilns = tuple(_kiln(kiln, instance.pinned) for kiln in instance.kilns)
    return replace(
        instance,
        calendar=_calendar(instance.calendar),
        kilns=kilns,
        moulds=tuple(replace(mould, hold_min=up(mould.hold_min)) for mould in instance.moulds),
        jobs=tuple(job_on_grid(job) for job in instance.jobs),
    )


def _calendar(calendar: Calendar) -> Calendar:
    spans = tuple((up(a), down(b)) for a, b in calendar.open if up(a) < down(b))
    return replace(calendar, open=spans)


def _kiln(kiln: Kiln, pinned: Iterable[PinnedLoad]) -> Kiln:
    if kiln.hot is not None:
        # Only its lighting is on the five; a round goes in when the one before is out.
        return kiln
    turnaround = up(kiln.preheat_min + kiln.turnaround_min) - kiln.preheat_min
    own = [pin.load for pin in pinned if pin.load.kiln == kiln.id]
    starts = [load.start_min for load in own]
    closed: list[Span] = list(kiln.closed)
    for load in own:
        end = load.start_min + kiln.preheat_min + load.minutes + turnaround
        if end % GRID_MIN and not any(end <= start < up(end) for start in starts):
            closed.append((end, up(end)))
    return replace(kiln, turnaround_min=turnaround, closed=tuple(closed))


def job_on_grid(job: Job) -> Job:
    """Released, dried and held for whole fives, never shorter than its own."""
    return replace(
        job,
        release_min=up(job.release_min),
        gap_min=up(job.gap_min),
        firings=tuple(firing_on_grid(firing) for firing in job.firings),
    )


def firing_on_grid(firing: Firing) -> Firing:
    """The shortest time a whole five, where the window holds one, and the soak."""
    low, high = firing.minutes
    if firing.slow_min % GRID_MIN:
        firing = replace(firing, slow_min=up(firing.slow_min))
    return replace(firing, minutes=(up(low), high)) if up(low) <= high else firing


def lit_on_the_five(instance: Instance, plan: Plan) -> Plan:
    """A plan of the instance's unpinned loads, each lit at the five minutes before its own.

    Where something off the grid (a burning load) does not allow that, at the five after; where
    that cannot be either, the load stays to its minute.
    """
    if any(kiln.hot for kiln in instance.kilns):
        # Rounds follow each other to the minute, and what waits for them does too.
        return plan
    loads = [replace(load, start_min=down(load.start_min)) for load in plan.loads]
    if _all_on_grid(instance, plan):
        return Plan(tuple(loads))
    fixed = tuple(pin.load for pin in instance.pinned)
    for number, load in enumerate(plan.loads):
        for start in (down(load.start_min), up(load.start_min), load.start_min):
            loads[number] = replace(load, start_min=start)
            if start == load.start_min:
                break
            if not faults(instance, Plan((*fixed, *loads)), loads[number]):
                break
    return Plan(tuple(loads))


def _all_on_grid(instance: Instance, plan: Plan) -> bool:
    base = {kiln.id: kiln.preheat_min + kiln.turnaround_min for kiln in instance.kilns}
    pinned = (pin.load for pin in instance.pinned)
    return all(
        not (load.start_min % GRID_MIN or (base[load.kiln] + load.minutes) % GRID_MIN)
        for load in pinned
    ) and all(not (base[load.kiln] + load.minutes) % GRID_MIN for load in plan.loads)
