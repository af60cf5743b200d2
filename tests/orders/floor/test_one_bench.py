"""The bench as the counter sees it and as the plan replays it: the counter never sees more free."""

import math
from collections import Counter
from decimal import Decimal

import pytest

from orders.bench.services import mould_job
from orders.firing.services.plan import accept_plan, propose_plan
from orders.floor.hands import promised_minutes
from orders.floor.read_floor import read_floor
from tests.builders import make_bead, make_design, make_rate
from tests.orders.firing.conftest import make_workshop, waiting_job

pytestmark = pytest.mark.django_db


def promised() -> Counter:
    """Minutes by skill that a new promise stands back for."""
    found: Counter = Counter()
    for _day, skill, minutes in promised_minutes():
        found[skill] += minutes
    return found


def to_do() -> Counter:
    """Minutes by skill of all that the plan still has to do for orders."""
    bench = read_floor().bench
    found: Counter = Counter()
    for uses in bench.before.values():
        for use in uses:
            found[use.skill] += use.minutes
    for steps in bench.after.values():
        for step in steps:
            found[step.skill] += step.minutes
    for step in bench.between.values():
        found[step.skill] += step.minutes
    return found


def test_the_counter_stands_back_for_all_that_the_plan_has_to_do():
    workshop = make_workshop()
    make_rate("Moulding", skill="moulding", basis="mould", minutes_each=Decimal(4))
    make_rate("Polishing", skill="polishing", basis="bead", minutes_each=Decimal("0.2"))
    design = make_design("Quay strand", beads=make_bead("Quay bead"))
    jobs = [waiting_job(workshop, 3), waiting_job(workshop, 2, design=design, customer="Ilka Dorn")]
    accept_plan(
        propose_plan(person=workshop["keeper"], seconds=0.2, bound=False),
        person=workshop["keeper"],
    )
    before, plan = promised(), to_do()
    assert plan
    # A share of a day is whole minutes, rounded up: one more a day and skill at most.
    assert all(0 <= before[skill] - minutes < 10 for skill, minutes in plan.items())

    # Worked ahead of its day: the plan has it behind it, and so has the counter.
    mould_job(jobs[0], jobs[0].to_start, person=workshop["hand"])
    after, plan = promised(), to_do()
    assert sum(after.values()) < sum(before.values())
    assert all(after[skill] >= math.floor(minutes) for skill, minutes in plan.items())
