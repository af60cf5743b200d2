"""An instance and a plan as JSON: read and written without loss, refused with a sentence."""

import copy
import json

import pytest

from orders.planning.errors import PlanningError
from orders.planning.json_form import (
    instance_from_json,
    instance_to_json,
    plan_from_json,
    plan_to_json,
)
from orders.planning.replan import replan
from tests.planning.instances import workshop
from tests.planning.small import two_that_may_share


def test_an_instance_comes_back_as_it_was():
    data = json.loads(json.dumps(workshop(30, 2, 1)))
    assert instance_to_json(instance_from_json(data)) == data


def test_a_job_that_says_no_day_and_no_gap_may_begin_at_once_and_dries_for_nothing():
    data = two_that_may_share()
    job, firing = data["jobs"][0], data["jobs"][0]["firings"][0]
    for left_out in ("release", "gap_min"):
        job.pop(left_out, None)
    for left_out in ("anneal_min", "slow_min"):
        firing.pop(left_out, None)
    read = instance_from_json(data).jobs[0]
    assert (read.release_min, read.gap_min) == (0, 0)
    assert (read.firings[0].anneal_min, read.firings[0].slow_min) == (0, 0)


def test_a_plan_comes_back_as_it_was():
    plan = replan(instance_from_json(two_that_may_share()), steps=10).plan
    written = json.loads(json.dumps(plan_to_json(plan)))
    assert plan_from_json(written) == plan


def test_a_load_is_written_with_the_five_fields_of_the_form():
    plan = plan_to_json(replan(instance_from_json(two_that_may_share()), steps=10).plan)
    assert list(plan) == ["loads"]
    assert set(plan["loads"][0]) == {"kiln", "start", "temp", "minutes", "items"}
    assert set(plan["loads"][0]["items"][0]) == {"job", "firing", "moulds", "beads"}


def test_numbers_as_names_stay_numbers():
    data = two_that_may_share()
    data["jobs"][0]["id"] = 7
    plan = plan_to_json(replan(instance_from_json(data), steps=10).plan)
    assert 7 in {item["job"] for load in plan["loads"] for item in load["items"]}


BAD = {
    "no jobs at all": (lambda d: d.pop("jobs"), '"jobs"'),
    "a job without beads": (lambda d: d["jobs"][0].pop("qty"), '"qty"'),
    "half a bead": (lambda d: d["jobs"][0].update(qty=1.5), '"qty" of job J1'),
    "fewer than no beads": (lambda d: d["jobs"][0].update(qty=-1), "from 0 to"),
    "beads in words": (lambda d: d["jobs"][0].update(qty="sixty"), "whole number"),
    "endless beads": (lambda d: d["jobs"][0].update(qty=float("inf")), "whole number"),
    "a number of 400 digits": (lambda d: d["orders"][0].update(due=10**400), '"due" of order O1'),
    "no firing": (lambda d: d["jobs"][0].update(firings=[]), "once or twice"),
    "three firings": (
        lambda d: d["jobs"][0].update(firings=d["jobs"][0]["firings"] * 3),
        "once or twice",
    ),
    "a mould without a cavity": (
        lambda d: d["jobs"][0]["firings"][0].update(cavities=0),
        '"cavities" of firing 1 of job J1',
    ),
    "a window backwards": (
        lambda d: d["jobs"][0]["firings"][0].update(temp=[760, 700]),
        "lower one first",
    ),
    "a window of one number": (
        lambda d: d["jobs"][0]["firings"][0].update(minutes=[25]),
        "two numbers",
    ),
    "a kiln without a name": (lambda d: d["kilns"][0].update(id=None), "should be a name"),
    "a day that closes before it opens": (
        lambda d: d["calendar"].update(open=[[1020, 480]]),
        "lower one first",
    ),
    "a list where an object should be": (lambda d: d.update(calendar=[]), "calendar"),
    "yes in words": (
        lambda d: d["calendar"].update(cooling_may_run_past_closing="yes"),
        "true or false",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_a_wrong_file_gets_a_sentence(case):
    spoil, words = BAD[case]
    data = copy.deepcopy(two_that_may_share())
    spoil(data)
    with pytest.raises(PlanningError) as caught:
        instance_from_json(data)
    assert words in str(caught.value)
    assert str(caught.value).endswith(".")


@pytest.mark.parametrize("data", [None, [], 3, "plan", {"loads": 1}, {"loads": [{"kiln": "K1"}]}])
def test_a_wrong_plan_gets_a_sentence(data):
    with pytest.raises(PlanningError):
        plan_from_json(data)
