"""The working: every figure follows from its children, down to facts, for any order."""

import json
from decimal import Decimal

from hypothesis import given, settings

from orders.costing.cost_order import cost_order
from orders.costing.facts import OrderFacts
from orders.costing.working.terms import Term, plain_number, recompute
from orders.costing.working.tree import order_tree
from tests.costing.builders import make_order
from tests.costing.strategies import orders


def same(a: Decimal | int, b: Decimal | int) -> bool:
    """Equal to twenty figures: sums of 28-figure numbers differ by their order in the last few."""
    return abs(Decimal(a) - Decimal(b)) <= Decimal("1e-20") * max(1, abs(Decimal(a)))


@settings(max_examples=40)
@given(orders())
def test_every_figure_of_any_order_can_be_worked_again_from_its_children(order: OrderFacts):
    tree = order_tree(cost_order(order))
    for path, term in tree.paths():
        assert same(recompute(term), term.value), (path, term.how, term.value, recompute(term))


@settings(max_examples=15)
@given(orders())
def test_every_leaf_says_where_it_is_from(order: OrderFacts):
    for term in order_tree(cost_order(order)).walk():
        if not term.children:
            assert term.source and (term.source != "worked out" or term.value == 0), term
            assert term.how == "given" or term.how == "list"


@settings(max_examples=15)
@given(orders())
def test_a_path_of_keys_leads_to_one_term_only(order: OrderFacts):
    tree = order_tree(cost_order(order))
    for term in tree.walk():
        labels = [label for label, _child in term.labelled()]
        assert len(labels) == len(set(labels)), labels
    for path, term in list(tree.paths())[::7]:
        assert tree.find(*path) is term


@settings(max_examples=15)
@given(orders())
def test_the_headline_figures_are_those_of_the_tree(order: OrderFacts):
    costing = cost_order(order)
    tree = order_tree(costing)
    assert tree.find("cost").value == costing.cost
    assert tree.find("price").value == costing.price_total
    assert tree.find("glass", "needed").value == costing.needed_g
    assert tree.find("glass", "short").value == costing.short_g
    assert tree.find("firings", "kiln time").value == costing.kiln_min
    assert tree.find("labour", "minutes").value == costing.labour_min
    for line in costing.lines:
        branch = tree.find("lines").children[line.index]
        assert branch.find("cost each").value == line.cost_each
        assert branch.find("lowest").value == line.lowest
        assert branch.find("suggested").value == line.suggested
        assert branch.find("price").value == line.price_each


@settings(max_examples=15)
@given(orders())
def test_the_json_writes_each_term_once_and_points_to_it_elsewhere(order: OrderFacts):
    tree = order_tree(cost_order(order))
    written = json.loads(json.dumps(tree.as_dict()))

    def follow(shown: dict, term: Term) -> None:
        assert shown["value"] == plain_number(term.value)
        if "see" in shown:
            there = tree.find(*shown["see"])
            assert there is term
        for child, below in zip(shown.get("children", ()), term.children, strict=False):
            follow(child, below)

    follow(written, tree)


def test_the_tree_opens_beads_to_start_down_to_rate_and_assurance():
    start = order_tree(cost_order(make_order(5))).find("beads", "bead pea", "start")
    assert start.value == 114
    assert start.how == "start"
    assert [child.name for child in start.children] == ["Beads to make", "Reject rate", "Assurance"]
    assert start.formula.startswith("least N")
