"""Kilns are lit on the whole five minutes, and no rule of the plan is broken by it.

The proof, by hand: with every length a whole five, each rule says "so many fives after", and
rounding down commutes with adding fives. The checker of the planner's own tests, written apart
from it, is asked as well.
"""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.floor.five_minutes import job_on_grid, lit_on_the_five, on_grid
from orders.planning.errors import PlanningError
from orders.planning.instance import Load, PinnedLoad, Plan
from orders.planning.json_form import instance_from_json, instance_to_json, plan_to_json
from orders.planning.measure import measure
from orders.planning.replan import replan
from tests.planning.checker import violations
from tests.planning.instances import workshop


def some_workshop(jobs: int, kilns: int, seed: int, odd: int):
    """A workshop whose kilns and gaps are off the five by some odd minutes."""
    data = workshop(jobs, kilns, seed)
    for kiln in data["kilns"]:
        kiln["turnaround_min"] += odd
        kiln["preheat_min"] += odd // 2
    for job in data["jobs"]:
        job["gap_min"] += odd
        job["release"] += odd
    return instance_from_json(data)


@given(st.integers(4, 30), st.integers(1, 3), st.integers(0, 50), st.integers(0, 7))
@settings(max_examples=12)
def test_every_load_is_lit_on_the_five_and_breaks_no_rule(jobs, kilns, seed, odd):
    instance = on_grid(some_workshop(jobs, kilns, seed, odd))
    try:
        plan = replan(instance, steps=15, seed=seed).plan
    except PlanningError:
        return
    lit = lit_on_the_five(instance, plan)
    assert {load.start_min % 5 for load in lit.loads} <= {0}
    assert violations(instance_to_json(instance), plan_to_json(lit)) == []
    before, after = measure(instance, plan), measure(instance, lit)
    assert after.tardiness_min <= before.tardiness_min
    assert (after.loads, after.kiln_minutes) == (before.loads, before.kiln_minutes)


@given(st.integers(4, 20), st.integers(0, 30), st.integers(1, 4))
@settings(max_examples=8)
def test_a_load_burning_since_an_odd_minute_is_not_run_into(jobs, seed, odd):
    plain = some_workshop(jobs, 1, seed, 0)
    kiln = plain.kilns[0].id
    start = plain.calendar.open[0][0] + odd
    burning = PinnedLoad(Load(kiln, start, 700, 31, ()))
    instance = on_grid(replace(plain, pinned=(burning,)))
    try:
        plan = replan(instance, steps=15, seed=seed).plan
    except PlanningError:
        return
    free = Plan(tuple(load for load in plan.loads if load.start_min != start))
    lit = lit_on_the_five(instance, free)
    whole = Plan(tuple(sorted((burning.load, *lit.loads), key=lambda load: load.start_min)))
    found = violations(instance_to_json(instance), plan_to_json(whole))
    assert [each for each in found if not each.endswith("is empty")] == []  # the burning one is
    assert all(load.start_min % 5 == 0 for load in lit.loads)


def test_what_is_rounded_is_never_made_shorter():
    instance = some_workshop(6, 2, 1, 3)
    grid = on_grid(instance)
    for old, new in zip(instance.kilns, grid.kilns, strict=True):
        assert (new.preheat_min + new.turnaround_min) % 5 == 0
        assert new.turnaround_min >= old.turnaround_min
    for old, new in zip(instance.jobs, grid.jobs, strict=True):
        assert new.release_min >= old.release_min and new.gap_min >= old.gap_min
        for a, b in zip(old.firings, new.firings, strict=True):
            assert a.minutes[0] <= b.minutes[0] <= b.minutes[1] == a.minutes[1]


@pytest.mark.parametrize(("window", "kept"), [((31, 34), (31, 34)), ((31, 35), (35, 35))])
def test_a_window_without_a_five_in_it_is_left_as_it_is(window, kept):
    job = some_workshop(2, 1, 1, 0).jobs[0]
    job = replace(job, firings=(replace(job.firings[0], minutes=window),))
    assert job_on_grid(job).firings[0].minutes == kept
