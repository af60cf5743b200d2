"""Tiny workshops, where every plan can be tried: the planner finds the best one."""

from random import Random

import pytest

from orders.planning.bounds import bounds
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.replan import replan
from orders.planning.rounds.due_cover import least_kiln_minutes_no_later
from orders.planning.rounds.problem import RoundProblem
from tests.planning.checker import measured, violations
from tests.planning.every_plan import best_key


def tiny_workshop(seed: int) -> dict:
    """Minutes are few, so that trying every minute stays quick. All numbers are invented."""
    rng = Random(seed)
    kilns = rng.choice([1, 1, 2])
    units = 4 if kilns == 1 else 3
    jobs = []
    orders = []
    while units > 0:
        firings = 2 if units >= 2 and rng.random() < 0.3 else 1
        moulds = rng.randint(1, max(1, min(2, units // firings)))
        units -= moulds * firings
        if not orders or rng.random() < 0.7:
            orders.append({"id": f"O{len(orders)}", "due": rng.randint(8, 40)})
        low, short = rng.choice([600, 650, 700]), rng.choice([2, 3, 4])
        jobs.append(
            {
                "id": f"J{len(jobs)}",
                "order": orders[-1]["id"],
                "qty": moulds * 10 - rng.choice([0, 3]),
                "release": rng.choice([0, 0, 3, 7]),
                "gap_min": rng.choice([0, 2, 9]),
                "firings": [
                    {
                        "shape": rng.choice(["a", "b"]),
                        "cavities": 10,
                        "temp": [low, low + rng.choice([20, 60, 120])],
                        "minutes": [short, short + rng.choice([0, 2])],
                    }
                    for _ in range(firings)
                ],
            }
        )
    return {
        "calendar": {
            "open": [[0, 14], [20, 34], [40, 54], [60, 90]],
            "cooling_may_run_past_closing": rng.random() < 0.3,
        },
        "kilns": [
            {
                "id": f"K{k}",
                "places": rng.choice([2, 3, 4]),
                "preheat_min": rng.choice([1, 2]),
                "turnaround_min": rng.choice([1, 3]),
                "temp_min": 500,
                "temp_max": 900,
            }
            for k in range(kilns)
        ],
        "moulds": [
            {"shape": "a", "places": 1, "count": rng.choice([1, 2, 3]), "hold_min": 0},
            {
                "shape": "b",
                "places": 2,
                "count": rng.choice([1, 2]),
                "hold_min": rng.choice([0, 3]),
            },
        ],
        "orders": orders,
        "jobs": jobs,
    }


@pytest.mark.parametrize("seed", range(40))
def test_the_planner_finds_the_best_of_every_plan_and_no_bound_is_above_it(seed):
    data = tiny_workshop(seed)
    best = best_key(data, horizon=90)
    found = replan(instance_from_json(data), steps=400, seed=1)
    plan = plan_to_json(found.plan)
    assert violations(data, plan) == []
    assert measured(data, plan) == tuple(found.key) == best
    bound = bounds(instance_from_json(data), seconds=4)
    assert bound.tardiness_min <= best[0]
    assert bound.late_orders <= best[1]
    assert bound.kiln_minutes <= best[2]
    assert bound.loads <= best[3]
    assert bound.finish_min <= best[4]
    problem = RoundProblem(instance_from_json(data))
    assert 0 < least_kiln_minutes_no_later(problem, best[0], 4) <= best[2]
