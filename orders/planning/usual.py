"""Heat and length of loads as a keeper would choose them.

Plan and promise take the coolest and shortest that all in a load allow; here each load is held as
its beads usually are, wherever that breaks no rule and makes nobody later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from orders.planning.faults import faults
from orders.planning.instance import Instance, Load, Plan
from orders.planning.measure import measure
from orders.planning.rounds.settle import at_usual_heat
from orders.planning.times import firings_in

MOST_LENGTHENED = 80  # beyond so many loads the shortest times are kept: our choice

Usual = Mapping[Load, Sequence[tuple[float, int]]]
"""°C and minutes that each thing in a load is usually fired at and for."""


def as_usual(instance: Instance, usual: Usual) -> dict[Load, Load]:
    """Each load (besides those pinned in the instance) at its beads' usual heat and for their
    usual time, where that can be."""
    if instance.has_rounds:
        return at_usual_heat(instance, usual)
    warm = {load: _at_usual_heat(instance, load, wanted) for load, wanted in usual.items()}
    return _at_usual_length(instance, warm, usual)


def _at_usual_heat(instance: Instance, load: Load, wanted: Sequence[tuple[float, int]]) -> Load:
    """As near the beads' usual temperatures as all in the load allow."""
    jobs = {job.id: job for job in instance.jobs}
    kiln = next(kiln for kiln in instance.kilns if kiln.id == load.kiln)
    windows = [firing.temp_c for _, firing in firings_in(jobs, load)]
    low = max([kiln.temp_min_c, *(low_c for low_c, _ in windows)])
    high = min([kiln.temp_max_c, *(high_c for _, high_c in windows)])
    if not wanted or low > high:
        return load
    usual = round(sum(heat_c for heat_c, _ in wanted) / len(wanted))
    return replace(load, temp_c=min(max(usual, low), high))


def _at_usual_length(instance: Instance, loads: dict[Load, Load], usual: Usual) -> dict[Load, Load]:
    """Held as long as the beads usually are."""
    if len(loads) > MOST_LENGTHENED:
        return loads
    jobs = {job.id: job for job in instance.jobs}
    late = measure(instance, _whole(instance, loads)).tardiness_min
    for first, load in list(loads.items()):
        longest = min((f.minutes[1] for _, f in firings_in(jobs, load)), default=0)
        minutes = min(max((each for _, each in usual[first]), default=0), longest)
        if minutes <= load.minutes:
            continue
        longer = replace(load, minutes=minutes)
        trial = {**loads, first: longer}
        whole = _whole(instance, trial)
        later = measure(instance, whole).tardiness_min > late
        if not later and not faults(instance, whole, longer):
            loads = trial
    return loads


def _whole(instance: Instance, loads: Mapping[Load, Load]) -> Plan:
    pinned = (pin.load for pin in instance.pinned)
    return Plan(tuple(sorted((*pinned, *loads.values()), key=lambda load: load.start_min)))
