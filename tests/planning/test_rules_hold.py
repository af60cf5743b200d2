"""Whatever the workshop, a plan keeps every rule, or a sentence says why there is none."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.planning.errors import PlanningError
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.replan import replan
from tests.planning.checker import measured, violations
from tests.planning.instances import workshop


def assert_good_plan(data: dict, steps: int, seed: int = 0) -> None:
    found = replan(instance_from_json(data), steps=steps, seed=seed)
    plan = plan_to_json(found.plan)
    assert violations(data, plan) == []
    assert measured(data, plan) == tuple(found.key)
    if found.first_key is not None:
        assert tuple(found.key) <= tuple(found.first_key)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    "kind",
    [
        {},
        {"past_closing": True},
        {"free_windows": True},
        {"mixed_kilns": True},
        {"moulds": (5, 12)},
        {"moulds": (5, 12), "past_closing": True, "mixed_kilns": True},
    ],
    ids=str,
)
def test_a_workshop_of_sixty_jobs(seed, kind):
    assert_good_plan(workshop(60, 2, seed, **kind), steps=120, seed=seed)


def test_a_workshop_of_five_hundred_jobs_with_scarce_moulds():
    assert_good_plan(workshop(500, 3, 7, moulds=(10, 30), mixed_kilns=True), steps=40)


spans = st.tuples(st.integers(0, 40), st.integers(0, 30)).map(lambda p: [p[0], p[0] + p[1]])


@st.composite
def workshops(draw):
    """Odd workshops: windows that touch or overlap, no moulds, moulds too big, tight hours."""
    shapes = [
        {
            "shape": f"s{n}",
            "places": draw(st.integers(1, 4)),
            "count": draw(st.integers(0, 6)),
            "hold_min": draw(st.sampled_from([0, 0, 5, 40])),
        }
        for n in range(draw(st.integers(1, 3)))
    ]
    kilns = [
        {
            "id": f"K{n}",
            "places": draw(st.integers(1, 8)),
            "preheat_min": draw(st.integers(0, 5)),
            "turnaround_min": draw(st.integers(1, 8)),
            "temp_min": draw(st.integers(500, 600)),
            "temp_max": draw(st.integers(700, 1000)),
        }
        for n in range(draw(st.integers(1, 3)))
    ]
    opens = draw(st.lists(st.integers(0, 400), min_size=1, max_size=12))
    windows = [[a, a + draw(st.integers(10, 120))] for a in opens]
    orders = [
        {"id": f"O{n}", "due": draw(st.integers(0, 400))} for n in range(draw(st.integers(1, 4)))
    ]

    def firing():
        low = draw(st.integers(550, 850))
        short = draw(st.integers(1, 12))
        return {
            "shape": draw(st.sampled_from(shapes))["shape"],
            "cavities": draw(st.integers(1, 9)),
            "temp": [low, low + draw(st.integers(0, 150))],
            "minutes": [short, short + draw(st.integers(0, 10))],
        }

    jobs = [
        {
            "id": f"J{n}",
            "order": draw(st.sampled_from(orders))["id"],
            "qty": draw(st.integers(0, 40)),
            "release": draw(st.integers(0, 200)),
            "gap_min": draw(st.integers(0, 60)),
            "firings": [firing() for _ in range(draw(st.integers(1, 2)))],
        }
        for n in range(draw(st.integers(0, 8)))
    ]
    return {
        "calendar": {"open": windows, "cooling_may_run_past_closing": draw(st.booleans())},
        "kilns": kilns,
        "moulds": shapes,
        "orders": orders,
        "jobs": jobs,
    }


@given(data=workshops(), seed=st.integers(0, 3))
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_workshop_gets_a_plan_or_a_sentence(data, seed):
    try:
        assert_good_plan(data, steps=25, seed=seed)
    except PlanningError as error:
        assert str(error).endswith(".")
        assert error.job in {job["id"] for job in data["jobs"]}
        assert error.job in str(error)


@pytest.mark.parametrize("seed", range(3))
def test_the_same_seed_and_steps_give_the_same_plan(seed):
    instance = instance_from_json(workshop(80, 2, seed))
    first = replan(instance, steps=150, seed=seed)
    again = replan(instance, steps=150, seed=seed)
    assert first == again


def test_another_seed_may_give_another_plan_but_never_a_worse_start():
    instance = instance_from_json(workshop(80, 2, 5))
    plans = {replan(instance, steps=60, seed=seed).plan for seed in range(4)}
    assert len(plans) > 1


def test_the_clock_stops_the_planner():
    from time import process_time

    instance = instance_from_json(workshop(200, 2, 1))
    began = process_time()
    replan(instance, seconds=0.5)
    assert process_time() - began < 2.0
