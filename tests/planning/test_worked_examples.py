"""Worked examples by hand, each with the source of its rule. Their numbers are made up."""

from decimal import Decimal
from itertools import permutations
from random import Random

import pytest

from orders.costing.beads_to_start import beads_to_start
from orders.planning.bounds import moore_hodgson_late
from orders.planning.doubt import days_for
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.replan import replan
from tests.planning.checker import measured, violations
from tests.planning.small import firing, instance, job, kiln, mould, two_that_may_share
from workshop.physics.chance import binomial_at_least

MINUTES = [6, 4, 7, 8, 3, 5]
DUE = [8, 9, 15, 20, 21, 22]


def test_two_of_six_orders_must_be_late_on_one_kiln():
    # J. M. Moore (1968), Management Science 15(1), 102-109, with T. J. Hodgson's variant.
    # By due date: 6 is in time; 6+4=10>9 drops the 6; 4+7=11; 11+8=19; 19+3=22>21 drops the 8;
    # 14+5=19. Two dropped.
    assert moore_hodgson_late(list(zip(MINUTES, DUE, strict=True))) == 2


def test_no_order_of_the_six_has_fewer_late():
    fewest = min(
        sum(sum(m for m, _ in row[: n + 1]) > row[n][1] for n in range(6))
        for row in permutations(list(zip(MINUTES, DUE, strict=True)))
    )
    assert fewest == 2


def test_programmes_that_never_mix_go_full_by_due_date():
    # R. Uzsoy (1995), International Journal of Production Research 33(10), 2685-2708 (result
    # from memory): inside each programme fill loads by due date, run loads by earliest due.
    # A loads (10, 30), (35); B loads (12, 15), (50); ends 8, 13, 21, 26; greatest lateness 1.
    dues = {"A": [10, 30, 35], "B": [12, 15, 50]}
    windows = {"A": ((600, 610), (8, 8)), "B": ((800, 810), (5, 5))}
    jobs, orders = [], []
    for programme, due_list in dues.items():
        for n, due in enumerate(due_list):
            temp, minutes = windows[programme]
            name = f"{programme}{n}"
            orders.append({"id": name, "due": due})
            jobs.append(job(name, name, 1, 0, firings=[firing(programme, 1, temp, minutes)]))
    data = instance(
        jobs,
        orders=orders,
        windows=[[0, 200]],
        kilns=[{**kiln(places=2), "preheat_min": 0, "turnaround_min": 0}],
        moulds=[mould("A", count=9), mould("B", count=9)],
    )
    found = replan(instance_from_json(data), steps=300, seed=1)
    plan = plan_to_json(found.plan)
    assert violations(data, plan) == []
    loads = sorted(plan["loads"], key=lambda load: load["start"])
    assert [load["start"] + load["minutes"] for load in loads] == [8, 13, 21, 26]
    assert found.key.tardiness_min == 1
    assert found.key.loads == 4


def test_the_planner_needs_no_more_loads_than_temperatures():
    windows = [(600, 640), (630, 660), (650, 700), (690, 720), (610, 625), (710, 740), (635, 655)]
    jobs = [
        job(f"J{n}", f"O{n}", 12, firings=[firing(temp=window)]) for n, window in enumerate(windows)
    ]
    data = instance(jobs, kilns=[kiln(places=100)], moulds=[mould(count=100)])
    found = replan(instance_from_json(data), steps=200, seed=1)
    assert violations(data, plan_to_json(found.plan)) == []
    assert found.key.loads == 3


def test_split_mould_by_mould_two_loads_always_do():
    jobs = [job(f"J{n}", f"O{n}", 12 * moulds) for n, moulds in enumerate([5, 4, 3, 3, 3, 2])]
    data = instance(jobs, moulds=[mould(count=10)])
    found = replan(instance_from_json(data), steps=200, seed=1)
    assert violations(data, plan_to_json(found.plan)) == []
    assert found.key.loads == 2


@pytest.mark.parametrize(("assurance", "days", "beads"), [("0.5", 6, 108), ("0.9", 7, 113)])
def test_days_and_beads_to_allow_for_lost_days_and_rejects(assurance, days, beads):
    # Binomial sums: five firing days wanted, 15 % of days lost; 100 good beads, 8 % rejected.
    assert days_for(5, 0.15, [1.0], float(assurance)) == days
    assert beads_to_start(100, Decimal("0.08"), Decimal(assurance)) == beads


def test_the_binomial_sums_behind_them():
    assert binomial_at_least(6, 0.85, 5) == pytest.approx(0.776484, abs=5e-7)
    assert binomial_at_least(7, 0.85, 5) == pytest.approx(0.926235, abs=5e-7)
    assert binomial_at_least(107, 0.92, 100) == pytest.approx(0.369493, abs=5e-7)
    assert binomial_at_least(108, 0.92, 100) == pytest.approx(0.500307, abs=5e-7)
    assert binomial_at_least(112, 0.92, 100) == pytest.approx(0.887828, abs=5e-7)
    assert binomial_at_least(113, 0.92, 100) == pytest.approx(0.932509, abs=5e-7)


def test_two_jobs_that_may_share_go_in_one_load():
    # By hand: windows meet at 720-760 °C and 25-30 min; 5 + 3 moulds of 8; 60 + 25 + 90 = 175
    # minutes from 480 end at 655, before both due minutes.
    data = two_that_may_share()
    found = replan(instance_from_json(data), steps=50, seed=0)
    plan = plan_to_json(found.plan)
    assert violations(data, plan) == []
    assert measured(data, plan) == tuple(found.key) == (0, 0, 175, 1, 655)
    (load,) = plan["loads"]
    assert (load["kiln"], load["start"], load["temp"], load["minutes"]) == ("K1", 480, 720, 25)
    assert sorted((i["job"], i["moulds"], i["beads"]) for i in load["items"]) == [
        ("J1", 5, 60),
        ("J2", 3, 36),
    ]


@pytest.mark.parametrize("seed", range(8))
def test_full_loads_by_due_date_are_never_better_for_one_programme(seed):
    # One kiln, one programme, equal minutes, all released: full loads by due date are best for
    # the greatest lateness (Y. Ikura, M. Gimple (1986), Operations Research Letters 5, 61-65,
    # statement from memory), and, since ends are the same in every plan of full loads, sorted
    # against sorted due minutes are best for the sum of tardiness too.
    rng = Random(seed)
    dues = sorted(rng.randint(10, 70) for _ in range(9))
    jobs = [job(f"J{n}", f"O{n}", 1, 0, firings=[firing("A", 1)]) for n in range(9)]
    for one in jobs:
        one["firings"][0]["minutes"] = [8, 8]
    data = instance(
        jobs,
        orders=[{"id": f"O{n}", "due": due} for n, due in enumerate(dues)],
        windows=[[0, 200]],
        kilns=[{**kiln(places=3), "preheat_min": 0, "turnaround_min": 0}],
        moulds=[mould("A", count=9)],
    )
    found = replan(instance_from_json(data), steps=150, seed=1)
    by_due = sum(max(0, 8 * (n // 3 + 1) - due) for n, due in enumerate(dues))
    assert violations(data, plan_to_json(found.plan)) == []
    assert found.key.tardiness_min == by_due
    assert found.key.loads == 3
