"""When the moulds of each load of a plan go in and come out, closed loads and rounds alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from orders.planning.instance import Firing, Instance, Item, Job, Kiln, Load, Plan
from workshop.physics.kept_hot import PiercedRound, exact, round_times


@dataclass(frozen=True, slots=True)
class LoadTimes:
    """load       the load of the plan
    in_min     its moulds go in; of a closed load its start
    first_min  the first mould can come out
    end_min    the kiln is free
    done_min   the last bead is pierced; of a closed load its end
    run        of a kiln kept hot: the minute its run was lit at
    before     of a kiln kept hot: the round before it in its run
    slow_min   of a closed load: what soaking adds
    """

    load: Load
    in_min: int
    first_min: int
    end_min: int
    done_min: int
    run: int | None = None
    before: LoadTimes | None = None
    slow_min: int = 0


def firings_in(jobs: dict[str, Job], load: Load) -> Iterator[tuple[Item, Firing]]:
    """What lies in a load, with its firing; items of jobs that are not listed are left out."""
    for item in load.items:
        job = jobs.get(item.job)
        if job is not None and item.firing <= len(job.firings):
            yield item, job.firings[item.firing - 1]


def plan_times(instance: Instance, plan: Plan) -> list[LoadTimes]:
    """The times of every load, in the order of the plan."""
    kilns = {kiln.id: kiln for kiln in instance.kilns}
    jobs = {job.id: job for job in instance.jobs}
    last: dict[str, LoadTimes] = {}
    found: dict[int, LoadTimes] = {}
    for number, load in sorted(enumerate(plan.loads), key=lambda pair: pair[1].start_min):
        kiln = kilns[load.kiln]
        if kiln.hot is None:
            found[number] = _closed(kiln, jobs, load)
        else:
            before = None if load.lit else last.get(load.kiln)
            found[number] = last[load.kiln] = _round(kiln, jobs, load, before)
    return [found[number] for number in range(len(plan.loads))]


def _closed(kiln: Kiln, jobs: dict[str, Job], load: Load) -> LoadTimes:
    slow = max((firing.slow_min for _, firing in firings_in(jobs, load)), default=0)
    end = load.start_min + kiln.preheat_min + load.minutes + slow + kiln.turnaround_min
    return LoadTimes(load, load.start_min, end, end, end, slow_min=slow)


def _round(kiln: Kiln, jobs: dict[str, Job], load: Load, before: LoadTimes | None) -> LoadTimes:
    assert kiln.hot is not None
    pierced = pierced_of(jobs, load)
    # A run under way whose first rounds are no part of the plan: the kiln is hot already.
    before_c = None if load.lit else before.load.temp_c if before else load.temp_c
    times = round_times(
        kiln.hot, load.start_min, load.temp_c, load.minutes, before_c=before_c, pierced=pierced
    )
    run = before.run if before else load.start_min
    return LoadTimes(
        load, times.in_min, times.first_min, times.end_min, times.done_min, run, before
    )


def pierced_of(jobs: dict[str, Job], load: Load) -> PiercedRound | None:
    """What is pierced of a round, by the hands the plan gives it; None where nothing is."""
    pierced = [(i.moulds, f.pierce) for i, f in firings_in(jobs, load) if f.pierce]
    if not pierced:
        return None
    work = sum(moulds * exact(pierce.minutes_a_mould) for moulds, pierce in pierced)
    return PiercedRound(work, max(1, load.hands), pierced[0][1].one_by_one)


def tied_until(instance: Instance, times: LoadTimes, shape: str) -> int:
    """When the moulds of a shape in a load are free again."""
    mould = next(mould for mould in instance.moulds if mould.shape == shape)
    hold = mould.hold_min if times.run is None else mould.tied_up_hot_min
    return times.done_min + hold


def cold_min(times: LoadTimes, firing: Firing) -> int:
    """When the beads of a firing in a load are cold."""
    return times.done_min + (firing.anneal_min if times.run is not None else 0)


def kiln_minutes(times: list[LoadTimes]) -> int:
    """Occupancies of closed loads, and each run from lighting to the end of its last round."""
    total = 0
    for one in times:
        if one.run is None:
            total += one.end_min - one.load.start_min
        elif one.before is not None:
            total += one.end_min - one.before.end_min
        else:
            total += one.end_min - one.load.start_min
    return total
