"""Heat and length of a new plan's loads, as the keeper would choose them.

The planner takes the coolest and shortest that all in a load allow; here each load is held as its
beads usually are, wherever that breaks no rule and makes nobody later.
"""

from dataclasses import replace

from orders.floor.floor import Floor
from orders.planning.faults import faults
from orders.planning.instance import Load, Plan
from orders.planning.measure import measure
from orders.planning.rounds.settle import at_usual_heat
from workshop.models import Programme

MOST_LENGTHENED = 80  # beyond so many loads the shortest times are kept: our choice


def as_usual(floor: Floor, loads: list[Load]) -> list[Load]:
    """The loads at their beads' usual heat and for their usual time, where that can be."""
    if floor.instance.has_rounds:
        usual = {
            (name, number): (float(programme.hold_c), programme.hold_min)
            for name, work in floor.work.items()
            for number, programme in enumerate(
                [work.bead.programme, work.bead.second_programme][work.first - 1 :], 1
            )
            if programme
        }
        return list(at_usual_heat(floor.instance, Plan(tuple(loads)), usual).loads)
    return _at_usual_length(floor, [_at_usual_heat(floor, load) for load in loads])


def _programmes(floor: Floor, load: Load) -> list[Programme]:
    found = []
    for item in load.items:
        work = floor.work[item.job]
        programme = [work.bead.programme, work.bead.second_programme][item.firing + work.first - 2]
        assert programme is not None, "the planner places only firings that a bead has"
        found.append(programme)
    return found


def _at_usual_heat(floor: Floor, load: Load) -> Load:
    """As near the beads' usual temperatures as all in the load allow; the planner takes the
    coolest that does."""
    programmes = _programmes(floor, load)
    kiln = next(kiln for kiln in floor.instance.kilns if kiln.id == load.kiln)
    low = max([kiln.temp_min_c, *(p.from_c for p in programmes)])
    high = min([kiln.temp_max_c, *(p.to_c for p in programmes)])
    if not programmes or low > high:
        return load
    usual = round(sum(p.hold_c for p in programmes) / len(programmes))
    return replace(load, temp_c=min(max(usual, low), high))


def _at_usual_length(floor: Floor, loads: list[Load]) -> list[Load]:
    """Held as long as the beads usually are, wherever that breaks no rule and makes nobody later;
    the planner takes the shortest time that all in the load allow."""
    if len(loads) > MOST_LENGTHENED:
        return loads
    late = measure(floor.instance, floor.with_pinned(Plan(tuple(loads)))).tardiness_min
    for number, load in enumerate(loads):
        programmes = _programmes(floor, load)
        longest = min((p.to_min for p in programmes), default=0)
        minutes = min(max((p.hold_min for p in programmes), default=0), longest)
        if minutes <= load.minutes:
            continue
        longer = replace(load, minutes=minutes)
        trial = [*loads[:number], longer, *loads[number + 1 :]]
        whole = floor.with_pinned(Plan(tuple(trial)))
        if (
            not faults(floor.instance, whole, longer)
            and measure(floor.instance, whole).tardiness_min <= late
        ):
            loads = trial
    return loads
