"""A new plan's loads at the heat and for the time that their beads usually have."""

from orders.floor.floor import Floor
from orders.planning.instance import Load, Plan
from orders.planning.usual import as_usual


def usual_plan(floor: Floor, plan: Plan) -> Plan:
    """The plan as a keeper would fire it; the planner takes the coolest and shortest."""
    usual = {load: _usual(floor, load) for load in plan.loads}
    return Plan(tuple(as_usual(floor.instance, usual).values()))


def _usual(floor: Floor, load: Load) -> list[tuple[float, int]]:
    found = []
    for item in load.items:
        work = floor.work[item.job]
        programme = [work.bead.programme, work.bead.second_programme][item.firing + work.first - 2]
        assert programme is not None, "the planner places only firings that a bead has"
        found.append((float(programme.hold_c), programme.hold_min))
    return found
