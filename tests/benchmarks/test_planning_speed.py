"""How fast the kilns are planned and dates are promised, and how near the bound.

Seconds are the planner's own budget, so what is measured there is quality: kiln minutes over
the covering bound. Sizes and limits are the project's targets for two cores.
"""

import os
import sys
from dataclasses import replace

import pytest

from orders.planning.bounds import bounds
from orders.planning.cover_bound import least_kiln_minutes_and_loads
from orders.planning.json_form import instance_from_json
from orders.planning.problem import Problem
from orders.planning.promise import Wanted, promise
from orders.planning.replan import replan
from orders.planning.search import longer_search
from tests.planning import round_instances
from tests.planning.instances import workshop
from tests.planning.small import over_bound_percent, planned


@pytest.mark.parametrize(
    ("jobs", "kilns", "seconds", "percent"), [(50, 1, 1, 15), (200, 2, 1, 8), (500, 3, 2, 8)]
)
def test_replanning_in_seconds_comes_near_the_bound(benchmark, jobs, kilns, seconds, percent):
    instance = instance_from_json(workshop(jobs, kilns, 1))
    least, _ = least_kiln_minutes_and_loads(Problem(instance), 10)
    seconds = seconds if benchmark.enabled else 0.2
    found = benchmark.pedantic(replan, (instance,), {"seconds": seconds}, rounds=1)
    over = over_bound_percent(found.key.kiln_minutes, least)
    benchmark.extra_info["percent over bound"] = round(over, 1)
    assert found.key.tardiness_min == 0
    # How far a search gets in a second depends on the machine, so only a measured run asks.
    if benchmark.enabled:
        assert over <= percent


@pytest.mark.parametrize(
    ("jobs", "hot", "seed", "seconds", "percent"), [(200, 2, 2, 1, 5), (500, 3, 1, 2, 8)]
)
def test_rounds_planned_in_seconds_come_near_the_bound(
    benchmark, jobs, hot, seed, seconds, percent
):
    instance = instance_from_json(round_instances.workshop(jobs, hot, 0, seed))
    seconds = seconds if benchmark.enabled else 0.2
    found = benchmark.pedantic(replan, (instance,), {"seconds": seconds}, rounds=1)
    if benchmark.enabled:
        assert found.key.tardiness_min == 0
        least = bounds(instance, seconds=20, no_later=0).punctual_minutes
        over = over_bound_percent(found.key.kiln_minutes, least)
        benchmark.extra_info["percent over bound"] = round(over, 1)
        assert over <= percent


def test_two_thousand_jobs_with_scarce_moulds_beat_one_pass(benchmark):
    instance = instance_from_json(workshop(2000, 4, 1))
    seconds = 10 if benchmark.enabled else 0.2
    found = benchmark.pedantic(replan, (instance,), {"seconds": seconds}, rounds=1)
    assert found.first_key is not None
    assert found.key.tardiness_min <= found.first_key.tardiness_min
    if benchmark.enabled:
        assert found.key.kiln_minutes <= 0.95 * found.first_key.kiln_minutes
    benchmark.extra_info["first"] = list(found.first_key)
    benchmark.extra_info["found"] = list(found.key)


@pytest.mark.parametrize(
    "kind", [{}, {"free_windows": True}, {"moulds": (12, 24), "slack_days": (0, 3)}], ids=str
)
def test_the_longer_search_goes_on_from_where_planning_again_stops(benchmark, kind):
    instance = instance_from_json(workshop(200, 2, 1, **kind))
    timed = 4.0 if benchmark.enabled else 0.1
    first = replan(instance, seconds=timed)
    found = benchmark.pedantic(
        longer_search, (instance, first.plan), {"seconds": 2 * timed}, rounds=1
    )
    benchmark.extra_info["planned again"] = list(first.key)
    benchmark.extra_info["searched longer"] = list(found.key)
    assert found.key <= first.key


@pytest.mark.parametrize(
    "kind", [{}, {"moulds": (12, 24)}, {"free_windows": True, "past_closing": True}], ids=str
)
def test_a_promise_with_five_hundred_open_jobs(benchmark, kind):
    instance = instance_from_json(workshop(501, 3, 1, **kind))
    open_jobs = replace(instance, jobs=instance.jobs[:500])
    base = planned(open_jobs, replan(open_jobs, steps=0).plan)
    asked = [Wanted(instance.jobs[500])]
    benchmark(promise, base, asked)
    if benchmark.enabled and not os.environ.get("CI"):
        # The target for a quiet machine; building the board is in it, the database is not.
        assert benchmark.stats.stats.median < 0.010


def test_no_solver_is_imported_on_the_way_to_a_promise():
    import subprocess

    code = (
        "import sys, orders.planning.promise, orders.planning.replan, orders.planning.bounds;"
        "sys.exit('highspy' in sys.modules or 'numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
