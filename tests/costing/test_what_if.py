"""What if: side by side, term by term, without touching the order."""

import pytest
from hypothesis import given, settings

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import BatchFacts, OrderFacts, StockFacts
from orders.costing.what_if import changed, compare, what_if
from orders.costing.working.tree import order_tree
from tests.costing.builders import D, make_kiln, make_order, make_rate, make_workshop
from tests.costing.strategies import orders


def test_a_higher_reject_rate_is_followed_through_to_the_price():
    order = make_order(5)
    before = cost_order(order)
    after = what_if(order, reject_rate={"pea": D("0.15")})
    # Published quantiles: 114 at 8 %, 125 at 15 %
    assert (before.beads[0].start, after.beads[0].start) == (114, 125)
    found = {
        difference.path: difference for difference in compare(order_tree(before), order_tree(after))
    }
    start = found["beads", "bead pea", "start"]
    assert (start.before, start.after, start.change) == (114, 125, 11)
    rate = found["beads", "bead pea", "start", "firing 1"]
    assert (rate.before, rate.after) == (D("0.08"), D("0.15"))
    (needed,) = (found[path] for path in found if path[-1] == "needed powder")
    assert needed.change == 11
    assert ("cost",) in found and ("price",) in found


def test_the_order_s_own_facts_stay_as_they_are():
    order = make_order(5)
    what_if(order, reject_rate={"pea": D("0.15")}, quantity={0: 40}, fuel_price=D(9))
    assert order.lines[0].quantity == 5
    assert order.workshop.beads["pea"].firings[0].reject_rate == D("0.08")
    assert order.workshop.kilns[0].fuel_price == D("0.25")


@pytest.mark.parametrize(
    ("change", "check"),
    [
        ({"quantity": {0: 10}}, lambda c: c.lines[0].quantity == 10),
        ({"price": {0: D(9)}}, lambda c: c.lines[0].price_each == 9),
        (
            {"colour_shares": {"pea": {"green": D("0.5"), "amber": D("0.5")}}},
            lambda c: [glass.needed_g for glass in c.glass] == [57, 57],
        ),
        ({"fuel_price": D("0.50")}, lambda c: c.fuel_cost == 6),
        ({"fuel_price": {"drum": D(1)}}, lambda c: c.fuel_cost == 12),
        ({"kiln_facts": {"drum": {"places": 40}}}, lambda c: c.firings[0].share == D("0.25")),
        ({"rate": {"moulding": {"hourly": D(18)}}}, lambda c: c.labour_cost == 18),
        ({"bead": {"pea": {"length_mm": D(20)}}}, lambda c: c.beads[0].needed == 50),
        ({"design": {"bracelet": {"finished_mm": D(100)}}}, lambda c: c.beads[0].needed == 50),
        ({"colour": {"green": {"price_per_kg": D(0)}}}, lambda c: c.glass_cost == 0),
        ({"assurance": D("0.99")}, lambda c: c.beads[0].start == 117),
        ({"whole_moulds": True}, lambda c: c.beads[0].start == 120),
        ({"margin": D("0.5")}, lambda c: c.lines[0].suggested == D("4.60")),
        ({"overhead": D(1)}, lambda c: c.overhead_cost == c.cost / 2),
        (
            {"stock": StockFacts((BatchFacts(1, "Batch 1", "pea", 100),))},
            lambda c: c.beads[0].to_make == 0,
        ),
    ],
)
def test_one_thing_changed(change, check):
    assert check(what_if(make_order(5), **change))


def test_another_kiln():
    kilns = (make_kiln("drum"), make_kiln("pit", places=40, fuel_per_load=D(30)))
    order = make_order(5, make_workshop(kilns=kilns))
    assert what_if(order, kiln="pit").fuel_cost == D("1.875")  # 30 kg × 10 ÷ 40 × 0.25


def test_several_changes_at_once():
    order = make_order(5, make_workshop(rates=(make_rate(),)))
    both = what_if(order, quantity={0: 10}, assurance=D("0.99"))
    step = cost_order(changed(changed(order, quantity={0: 10}), assurance=D("0.99")))
    assert both.cost == step.cost


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"weather": "dry"}, "change"),
        ({"quantity": {3: 10}}, "line"),
        ({"reject_rate": {"pearl": D("0.1")}}, "bead"),
        ({"reject_rate": {("pea", 2): D("0.1")}}, "firing"),
        ({"fuel_price": {"oven": D(1)}}, "kiln"),
        ({"rate": {"dancing": {"hourly": D(1)}}}, "rate"),
        ({"reject_rate": {"pea": D(1)}}, "reject_rate"),
        ({"colour_shares": {"pea": {"green": D("0.5")}}}, "colours"),
    ],
)
def test_a_change_that_cannot_be_is_refused(change, field):
    with pytest.raises(CostingError) as refused:
        what_if(make_order(5), **change)
    assert refused.value.field == field
    assert refused.value.sentence.endswith(".")


@settings(max_examples=25)
@given(orders())
def test_nothing_changed_makes_no_difference(order: OrderFacts):
    assert compare(order_tree(cost_order(order)), order_tree(what_if(order))) == ()


def test_a_term_that_stands_on_one_side_only_is_shown_with_the_other_empty():
    order = make_order(5)
    after = what_if(order, colour_shares={"pea": {"green": D("0.5"), "amber": D("0.5")}})
    amber = [
        d
        for d in compare(order_tree(cost_order(order)), order_tree(after))
        if d.path[:2] == ("glass", "colour amber")
    ]
    assert amber and all(one.before is None for one in amber)
    assert amber[0].change is None
