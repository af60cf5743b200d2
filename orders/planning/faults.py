"""Why a load of a plan cannot stand as it is: one sentence for each rule it breaks.

The planner never makes such a load; a keeper who moves a tray by hand may.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from orders.planning.calendar import WorkingHours
from orders.planning.instance import Firing, Instance, Job, Kiln, Load, Plan
from orders.planning.times import LoadTimes, cold_min, plan_times, tied_until
from workshop.physics.kept_hot import KeptHot

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
RUN_BROKEN = (
    "%(kiln)s would stand hot for %(waits)s minutes before this round and may for %(most)s. "
    "Light it anew, or bring the round nearer."
)
NOT_LIT = "%(kiln)s is cold then: no round before it keeps it hot. Light it for this round."
WRONG_KIND = "%(job)s is not fired in a kiln of this kind. Choose another kiln."
TOO_FEW_HANDS = (
    "%(wanted)s hands would pierce this round and %(there)s are there. Choose fewer, or another "
    "time."
)
STIFF_BEFORE = (
    "%(job)s takes %(span)s minutes to pierce, and what lies in this round may stay %(spare)s "
    "minutes longer in the heat. Put fewer moulds in, or more hands to it."
)
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
    kiln = next(kiln for kiln in instance.kilns if kiln.id == load.kiln)
    times = {id(one.load): one for one in plan_times(instance, plan)}
    yield from _room(instance, load, kiln)
    yield from _windows(instance, load)
    yield from _kind(instance, load, kiln)
    yield from _time(instance, plan, load, kiln, times)
    yield from _moulds(instance, plan, load, times)
    yield from _second_after_first(instance, plan, load, times)
    if kiln.hot is not None:
        yield from _run(instance, plan, kiln, kiln.hot, times[id(load)])
        yield from _piercing(instance, plan, times, times[id(load)])


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


def _kind(instance: Instance, load: Load, kiln: Kiln) -> Iterator[Fault]:
    for job, firing in _firings(instance, load):
        wrong = "hot" if kiln.hot is None else "closed"
        if firing.way == wrong or (firing.pierce and kiln.hot is None):
            yield Fault(WRONG_KIND, {"job": job.id})


def _time(
    instance: Instance, plan: Plan, load: Load, kiln: Kiln, times: Mapping[int, LoadTimes]
) -> Iterator[Fault]:
    end = times[id(load)].end_min
    for other in plan.loads:
        if other is load or other.kiln != load.kiln:
            continue
        if other.start_min < end and load.start_min < times[id(other)].end_min:
            yield Fault(KILN_TAKEN, {"kiln": kiln.id})
            break
    if any(start < end and load.start_min < stop for start, stop in kiln.closed):
        yield Fault(KILN_SHUT, {"kiln": kiln.id})
    hours = WorkingHours(instance.calendar)
    if kiln.hot is not None:
        inside = times[id(load)].done_min - load.start_min
    else:
        firing = kiln.preheat_min + load.minutes
        inside = hours.inside_min(firing, end - load.start_min)
    if hours.earliest_start(load.start_min, inside, end - load.start_min) != load.start_min:
        yield Fault(OUT_OF_HOURS, {})


def _run(
    instance: Instance, plan: Plan, kiln: Kiln, hot: KeptHot, times: LoadTimes
) -> Iterator[Fault]:
    load, before = times.load, times.before
    if load.lit:
        return
    if before is None:
        # A run under way may have begun with rounds that are no part of the plan any more.
        if load not in [pin.load for pin in instance.pinned]:
            yield Fault(NOT_LIT, {"kiln": kiln.id})
        return
    waits = load.start_min - before.end_min
    if waits > hot.keep_hot_min:
        yield Fault(RUN_BROKEN, {"kiln": kiln.id, "waits": waits, "most": hot.keep_hot_min})


def _piercing(
    instance: Instance, plan: Plan, times: Mapping[int, LoadTimes], own: LoadTimes
) -> Iterator[Fault]:
    load, span = own.load, own.done_min - own.first_min
    pairs = list(_firings(instance, load))
    pierced = [(job, firing.pierce) for job, firing in pairs if firing.pierce]
    if not pierced:
        return
    job, pierce = pierced[0]
    there = next((h.count for h in instance.hands if h.skill == pierce.skill), 0)
    at_once = sum(
        one.load.hands
        for one in times.values()
        if one.first_min < own.done_min and own.first_min < one.done_min
    )
    if max(at_once, load.hands) > there:
        yield Fault(TOO_FEW_HANDS, {"wanted": max(at_once, load.hands), "there": there})
    if pierce.one_by_one:
        spare = min(firing.minutes[1] for _job, firing in pairs) - load.minutes
        if span > max(0, spare):
            yield Fault(STIFF_BEFORE, {"job": job.id, "span": span, "spare": max(0, spare)})


def _moulds(
    instance: Instance, plan: Plan, load: Load, times: Mapping[int, LoadTimes]
) -> Iterator[Fault]:
    own = _mould_use(instance, load)
    for mould in instance.moulds:
        if mould.shape not in own:
            continue
        spans = [
            (times[id(other)].in_min, tied_until(instance, times[id(other)], mould.shape), used)
            for other in plan.loads
            if (used := _mould_use(instance, other).get(mould.shape, 0))
        ]
        begins = times[id(load)].in_min
        ends = tied_until(instance, times[id(load)], mould.shape)
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
    instance: Instance, plan: Plan, load: Load, times: Mapping[int, LoadTimes]
) -> Iterator[Fault]:
    twice = {job.id: job for job in instance.jobs if len(job.firings) > 1}
    for item in load.items:
        job = twice.get(item.job)
        if job is None:
            continue
        firsts = [times[id(one)] for one in _loads_with(plan, item.job, 1)]
        seconds = [times[id(two)] for two in _loads_with(plan, item.job, 2)]
        over = max((cold_min(one, job.firings[0]) for one in firsts), default=None)
        begun = min((two.in_min for two in seconds), default=None)
        if over is not None and begun is not None and begun < over + job.gap_min:
            yield Fault(SECOND_TOO_SOON, {"job": item.job})
            return


def _loads_with(plan: Plan, job: str, firing: int) -> list[Load]:
    return [
        load
        for load in plan.loads
        if any(item.job == job and item.firing == firing for item in load.items)
    ]
