"""The longer search: never worse, keeps every rule, and packs what one pass left loose."""

from dataclasses import replace

import pytest

from orders.planning.board import Board
from orders.planning.greedy import Style, greedy
from orders.planning.instance import PinnedLoad
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.measure import measure
from orders.planning.problem import Problem
from orders.planning.search import longer_search
from tests.planning.checker import measured, violations
from tests.planning.instances import workshop


def one_pass(instance):
    board = Board(Problem(instance))
    greedy(board, Style())
    return board.plan()


@pytest.mark.parametrize(
    "kind", [{}, {"past_closing": True}, {"moulds": (6, 14)}, {"mixed_kilns": True}], ids=str
)
def test_it_betters_one_plain_pass_and_keeps_every_rule(kind):
    data = workshop(40, 2, 5, **kind)
    instance = instance_from_json(data)
    plan = one_pass(instance)
    found = longer_search(instance, plan, rounds=2, seed=2)
    written = plan_to_json(found.plan)
    assert violations(data, written) == []
    assert measured(data, written) == tuple(found.key)
    assert found.key < measure(instance, plan)
    assert found.neighbourhoods >= 1


def test_pinned_loads_stay():
    data = workshop(40, 2, 6)
    instance = instance_from_json(data)
    plan = one_pass(instance)
    pins = tuple(PinnedLoad(load) for load in plan.loads[:3])
    found = longer_search(replace(instance, pinned=pins), plan, rounds=1)
    assert violations(data, plan_to_json(found.plan)) == []
    assert set(plan.loads[:3]) <= set(found.plan.loads)


def test_an_empty_plan_stays_empty():
    instance = instance_from_json({**workshop(1, 1, 1), "jobs": [], "orders": []})
    assert longer_search(instance, one_pass(instance), seconds=0.2).plan.loads == ()
