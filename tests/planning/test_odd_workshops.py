"""Workshops at the edges of the form: a plan that keeps every rule, or a sentence; never more.

`ODD_WORKSHOPS=5000 pytest tests/planning/test_odd_workshops.py` tries more of them.
"""

import json
import os

import pytest

from orders.planning.bounds import bounds
from orders.planning.errors import PlanningError
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.replan import replan
from tests.planning.checker import measured, violations
from tests.planning.odd_instances import odd_workshop

MANY = int(os.environ.get("ODD_WORKSHOPS", "60"))


@pytest.mark.parametrize("seed", range(MANY))
def test_a_plan_keeps_every_rule_and_no_bound_is_above_it(seed):
    data = json.loads(json.dumps(odd_workshop(seed)))
    instance = instance_from_json(data)
    try:
        found = replan(instance, steps=15, seed=seed)
    except PlanningError as error:
        assert str(error).endswith(".")
        assert str(error.job) in str(error)
        return
    plan = json.loads(json.dumps(plan_to_json(found.plan)))
    assert violations(data, plan) == []
    key = measured(data, plan)
    assert key == tuple(found.key)
    bound = bounds(instance, seconds=0.4)
    assert bound.tardiness_min <= key[0]
    assert bound.late_orders <= key[1]
    assert bound.kiln_minutes <= key[2]
    assert bound.loads <= key[3]
    assert bound.finish_min <= key[4]


def test_most_of_them_can_be_planned():
    """So that the test above does not run on refusals alone."""
    planned = 0
    for seed in range(20):
        try:
            replan(instance_from_json(odd_workshop(seed, jobs=6)), steps=0)
        except PlanningError:
            continue
        planned += 1
    assert planned >= 8
