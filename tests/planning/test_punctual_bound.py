"""What plans with rounds that are no later than a given one can do with, at the least."""

import pytest

from orders.planning.json_form import instance_from_json
from orders.planning.replan import replan
from orders.planning.rounds.cover import least_kiln_minutes_and_loads
from orders.planning.rounds.due_cover import least_kiln_minutes_no_later
from orders.planning.rounds.problem import RoundProblem
from tests.planning import round_instances
from tests.planning.small import instance, job, mould


def no_later(form, tardiness_min):
    problem = RoundProblem(instance_from_json(form))
    return least_kiln_minutes_no_later(problem, tardiness_min, 5)


def hot(name, change_min):
    return {
        "id": name, "places": 6, "kept_hot": True, "warm_up_min": 0, "change_min": change_min,
        "keep_hot_min": 40, "hotter_c_per_min": 8, "cooler_c_per_min": 4, "temp_min": 500,
        "temp_max": 1000,
    }  # fmt: skip


def two_kilns(due):
    """20 rounds of work, of 25 minutes: 30 in one kiln, 40 in the other; days of 540 minutes."""
    return instance(
        [job("J1", "O1", 20 * 6 * 12)],
        orders=[{"id": "O1", "due": due}],
        kilns=[hot("quick", 5), hot("slow", 15)],
        moulds=[mould(count=1000)],
    )


def test_work_that_is_due_today_cannot_all_go_into_the_better_kiln():
    # 540 ÷ 30 = 18 rounds in the quick kiln, 2 of 40 in the other: 540 + 80. With time, 20 × 30.
    problem = RoundProblem(instance_from_json(two_kilns(due=1020)))
    assert least_kiln_minutes_and_loads(problem, 5)[0] == 600
    assert no_later(two_kilns(due=1020), 0) == 620
    assert no_later(two_kilns(due=2460), 0) == 600


def test_an_order_that_may_be_late_asks_for_no_more_than_the_covering_bound():
    # Late until the second day opens at 1920, that is 900 minutes, the order may take all its time.
    # With half of that a half of it, as far as this bound can see, may be late.
    assert no_later(two_kilns(due=1020), 900) == 600
    assert 600 <= no_later(two_kilns(due=1020), 450) <= 620


@pytest.mark.parametrize("seed", range(8))
def test_no_plan_of_an_odd_workshop_goes_below_the_bound_for_its_own_lateness(seed):
    jobs, kept_hot, closed = ((12, 1, 0), (15, 1, 1), (14, 2, 1))[seed % 3]
    form = round_instances.workshop(
        jobs, kept_hot, closed, 100 + seed, odd=True, moulds=(8, 40), slack_days=(0, 4)
    )
    key = replan(instance_from_json(form), steps=60, seed=seed).key
    assert 0 < no_later(form, key.tardiness_min) <= key.kiln_minutes
