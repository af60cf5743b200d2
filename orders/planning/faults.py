"""Why a load of a plan cannot stand as it is: one sentence for each rule it breaks.

The planner never makes such a load; a keeper who moves a tray by hand may.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from orders.planning.calendar import WorkingHours
from orders.planning.instance import Firing, Instance, Job, Kiln, Load, Plan

TOO_MANY_PLACES = (
    "%(kiln)s has %(has)s places and this load takes %(takes)s. Move a tray elsewhere."
)
KILN_TOO_COLD = (
    "%(kiln)s reaches %(low)s to %(high)s °C and this load is fired at %(temp)s °C. "
    "Choose another kiln."
)
NO_SHARED_TEMP = (
    "%(one)s is fired at %(one_low)s to %(one_high)s °C and %(two)s at %(two_low)s to "
    "%(two_high)s °C: no temperature suits both. Fire them in two loads."
)
NO_SHARED_TIME = (
    "%(one)s is fired %(one_low)s to %(one_high)s minutes and %(two)s %(two_low)s to "
    "%(two_high)s minutes: no time suits both. Fire them in two loads."
)
OUTSIDE_TEMP = "%(job)s is fired at %(low)s to %(high)s °C, and this load at %(temp)s °C."
OUTSIDE_TIME = "%(job)s is fired %(low)s to %(high)s minutes, and this load %(minutes)s."
KILN_TAKEN = "%(kiln)s is taken by another load at that time. Choose another time."
KILN_SHUT = "%(kiln)s is not fired on that day. Choose another day."
OUT_OF_HOURS = "Nobody is there to tend the kiln from lighting it to the end of the firing."
MOULDS_SHORT = (
    "%(owned)s moulds “%(shape)s” are owned and %(used)s would be in use at once. "
    "Choose a time when fewer are."
)
SECOND_TOO_SOON = "%(job)s would be fired the second time before the first firing is over."


@dataclass(frozen=True, slots=True)
class Fault:
    """A template and what it is about."""

    template: str
    params: dict[str, object]

    @property
    def sentence(self) -> str:
        return self.template % self.params


def shared_programme(instance: Instance, load: Load) -> tuple[float, int] | None:
    """Temperature and minutes nearest the load's own that suit all in it; None if none do."""
    firings = [firing for _job, firing in _firings(instance, load)]
    if not firings:
        return load.temp_c, load.minutes
    low, high = max(f.temp_c[0] for f in firings), min(f.temp_c[1] for f in firings)
    short, long = max(f.minutes[0] for f in firings), min(f.minutes[1] for f in firings)
    if low > high or short > long:
        return None
    return min(max(load.temp_c, low), high), min(max(load.minutes, short), long)


def faults(instance: Instance, plan: Plan, load: Load) -> list[Fault]:
    """What is wrong with one load of a plan; [] when nothing is."""
    return list(_faults(instance, plan, load))


def _faults(instance: Instance, plan: Plan, load: Load) -> Iterator[Fault]:
    kilns = {kiln.id: kiln for kiln in instance.kilns}
    kiln = kilns[load.kiln]
    yield from _room(instance, load, kiln)
    yield from _windows(instance, load)
    yield from _time(instance, plan, load, kilns)
    yield from _moulds(instance, plan, load, kilns)
    yield from _second_after_first(instance, plan, load, kilns)


def _firings(instance: Instance, load: Load) -> Iterator[tuple[Job, Firing]]:
    jobs = {job.id: job for job in instance.jobs}
    for item in load.items:
        job = jobs.get(item.job)
        if job is not None and item.firing <= len(job.firings):
            yield job, job.firings[item.firing - 1]


def _room(instance: Instance, load: Load, kiln: Kiln) -> Iterator[Fault]:
    places = {mould.shape: mould.places for mould in instance.moulds}
    jobs = {job.id: job for job in instance.jobs}
    takes = sum(
        item.moulds * places[jobs[item.job].firings[item.firing - 1].shape]
        for item in load.items
        if item.job in jobs
    )
    if takes > kiln.places:
        yield Fault(TOO_MANY_PLACES, {"kiln": kiln.id, "has": kiln.places, "takes": takes})
    if not kiln.temp_min_c <= load.temp_c <= kiln.temp_max_c:
        yield Fault(
            KILN_TOO_COLD,
            {
                "kiln": kiln.id,
                "low": f"{kiln.temp_min_c:g}",
                "high": f"{kiln.temp_max_c:g}",
                "temp": f"{load.temp_c:g}",
            },
        )


def _windows(instance: Instance, load: Load) -> Iterator[Fault]:
    pairs = list(_firings(instance, load))
    for n, (one, a) in enumerate(pairs):
        for two, b in pairs[n + 1 :]:
            for template, x, y in (
                (NO_SHARED_TEMP, a.temp_c, b.temp_c),
                (NO_SHARED_TIME, a.minutes, b.minutes),
            ):
                if max(x[0], y[0]) > min(x[1], y[1]):
                    yield Fault(template, _pair(one, x, two, y))
                    return
    for job, firing in pairs:
        low, high = firing.temp_c
        if not low <= load.temp_c <= high:
            yield Fault(
                OUTSIDE_TEMP,
                {"job": job.id, "low": f"{low:g}", "high": f"{high:g}", "temp": f"{load.temp_c:g}"},
            )
        short, long = firing.minutes
        if not short <= load.minutes <= long:
            yield Fault(
                OUTSIDE_TIME, {"job": job.id, "low": short, "high": long, "minutes": load.minutes}
            )


def _pair(one: Job, x: tuple[float, float], two: Job, y: tuple[float, float]) -> dict[str, object]:
    return {
        "one": one.id, "one_low": f"{x[0]:g}", "one_high": f"{x[1]:g}",
        "two": two.id, "two_low": f"{y[0]:g}", "two_high": f"{y[1]:g}",
    }  # fmt: skip


def _end(load: Load, kilns: dict[str, Kiln]) -> int:
    kiln = kilns[load.kiln]
    return load.start_min + kiln.preheat_min + load.minutes + kiln.turnaround_min


def _time(instance: Instance, plan: Plan, load: Load, kilns: dict[str, Kiln]) -> Iterator[Fault]:
    kiln, end = kilns[load.kiln], _end(load, kilns)
    for other in plan.loads:
        if other is load or other.kiln != load.kiln:
            continue
        if other.start_min < end and load.start_min < _end(other, kilns):
            yield Fault(KILN_TAKEN, {"kiln": kiln.id})
            break
    if any(start < end and load.start_min < stop for start, stop in kiln.closed):
        yield Fault(KILN_SHUT, {"kiln": kiln.id})
    hours = WorkingHours(instance.calendar)
    firing = kiln.preheat_min + load.minutes
    inside = hours.inside_min(firing, end - load.start_min)
    if hours.earliest_start(load.start_min, inside, end - load.start_min) != load.start_min:
        yield Fault(OUT_OF_HOURS, {})


def _moulds(instance: Instance, plan: Plan, load: Load, kilns: dict[str, Kiln]) -> Iterator[Fault]:
    own = _mould_use(instance, load)
    for mould in instance.moulds:
        if mould.shape not in own:
            continue
        spans = [
            (other.start_min, _end(other, kilns) + mould.hold_min, used)
            for other in plan.loads
            if (used := _mould_use(instance, other).get(mould.shape, 0))
        ]
        begins, ends = load.start_min, _end(load, kilns) + mould.hold_min
        moments = [begins] + [start for start, _stop, _n in spans if begins < start < ends]
        used = max(
            sum(n for start, stop, n in spans if start <= moment < stop) for moment in moments
        )
        if used > mould.count:
            yield Fault(MOULDS_SHORT, {"owned": mould.count, "shape": mould.shape, "used": used})


def _mould_use(instance: Instance, load: Load) -> dict[str, int]:
    jobs = {job.id: job for job in instance.jobs}
    found: dict[str, int] = {}
    for item in load.items:
        if item.job in jobs:
            shape = jobs[item.job].firings[item.firing - 1].shape
            found[shape] = found.get(shape, 0) + item.moulds
    return found


def _second_after_first(
    instance: Instance, plan: Plan, load: Load, kilns: dict[str, Kiln]
) -> Iterator[Fault]:
    gaps = {job.id: job.gap_min for job in instance.jobs if len(job.firings) > 1}
    for item in load.items:
        if item.job not in gaps:
            continue
        firsts = _loads_with(plan, item.job, 1)
        seconds = _loads_with(plan, item.job, 2)
        over = max((_end(one, kilns) for one in firsts), default=None)
        begun = min((two.start_min for two in seconds), default=None)
        if over is not None and begun is not None and begun < over + gaps[item.job]:
            yield Fault(SECOND_TOO_SOON, {"job": item.job})
            return


def _loads_with(plan: Plan, job: str, firing: int) -> list[Load]:
    return [
        load
        for load in plan.loads
        if any(item.job == job and item.firing == firing for item in load.items)
    ]
