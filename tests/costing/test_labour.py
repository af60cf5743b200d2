"""Minutes and pay: work study, learning, and what each step counts."""

from decimal import Decimal
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import BeadFiringFacts, LearningFacts, LineFacts, OrderFacts, RateFacts
from orders.costing.labour import (
    standard_min,
    units_on_curve,
    wright_exponent,
    wright_total,
)
from orders.costing.results import LabourCosting
from orders.costing.working.tree import order_tree
from tests.costing.builders import (
    D,
    make_bead,
    make_design,
    make_order,
    make_rate,
    make_workshop,
)


def test_standard_time_adds_the_allowance_to_the_basic_time():
    # Source: textbook exercise (Timepiece Inc.): 30, 25, 35, 30, 30 s, rating 125 %, allowance 20 %
    observed = D(30 + 25 + 35 + 30 + 30) / 5
    assert standard_min(observed * D("1.25"), D("0.20")) == 45


@pytest.mark.parametrize(("units", "average"), [(1, "100"), (2, "80"), (4, "64"), (8, "51.2")])
def test_wright_s_average_falls_by_a_fifth_at_each_doubling(units, average):
    # Source: Wright 1936; Wideman, Learning Curve Mathematics (1, 2, 4)
    total = wright_total(D(100), D("0.8"), units)
    assert float(total / units) == pytest.approx(float(average), abs=1e-9)


def test_wright_s_curve_in_numbers():
    assert float(wright_exponent(D("0.8"))) == pytest.approx(-0.321928, abs=1e-6)
    assert float(wright_exponent(D("0.9"))) == pytest.approx(-0.152003, abs=1e-6)
    # Source: Wideman: the second unit alone takes 2 × 80 − 100
    assert float(wright_total(D(100), D("0.8"), 1, made_before=1)) == pytest.approx(60)
    # computed: 10 × 100 × 10^log2(0.8)
    assert float(wright_total(D(100), D("0.8"), 10)) == pytest.approx(476.51, abs=0.01)
    assert float(wright_total(D(100), D("0.8"), 10)) == pytest.approx(1000 * 10 ** log2(0.8))


@given(st.integers(0, 200), st.integers(1, 200), st.integers(1, 200))
def test_learning_in_two_orders_takes_as_long_as_in_one(before, first, second):
    once = wright_total(D(10), D("0.85"), first + second, before)
    twice = wright_total(D(10), D("0.85"), first, before) + wright_total(
        D(10), D("0.85"), second, before + first
    )
    assert float(once) == pytest.approx(float(twice))


# -- what each basis counts ------------------------------------------------------------------


def work_of(rate: RateFacts, order: OrderFacts | None = None, **changes) -> LabourCosting:
    order = order or make_order(5, make_workshop(rates=(rate,), **changes))
    (work,) = cost_order(order).labour
    return work


def test_five_bracelets_of_twenty_peas_in_every_basis():
    """100 peas needed, 114 started, of 1 g: ten trays of 12, half of a kiln of 20 places."""
    expected = {
        ("preparing", "kg"): "0.114",
        ("moulding", "kg"): "0.114",
        ("moulding", "mould"): "10",
        ("polishing", "bead"): "114",
        ("stringing", "bead"): "100",
        ("stringing", "strand"): "5",
        ("firing", "load"): "0.5",
        ("packing", "order"): "1",
    }
    for (skill, basis), units in expected.items():
        work = work_of(make_rate(skill, basis=basis))
        assert work.units == D(units), (skill, basis)


def test_minutes_are_set_up_and_standard_minutes_for_each_unit():
    work = work_of(make_rate(setup_min=D(15), allowance=D("0.15"), minutes_each=D(6)))
    assert work.minutes == D(15) + 10 * D(6) * D("1.15")
    assert work.cost == work.minutes * 9 / 60


def test_a_step_that_an_order_does_not_take_costs_nothing_not_even_its_set_up():
    workshop = make_workshop(rates=(make_rate("painting", basis="bead", setup_min=D(30)),))
    assert cost_order(make_order(5, workshop)).labour == ()


def test_paid_by_the_piece_the_set_up_stays_paid_by_the_hour():
    work = work_of(
        make_rate("polishing", basis="bead", piece=D("0.02"), setup_min=D(10), hourly=D(6))
    )
    assert work.cost == 114 * D("0.02") + D(10) * 6 / 60


def test_a_kind_of_bead_may_have_its_own_rate():
    rates = (
        make_rate(),
        make_rate(key="moulding centrepieces", kind="centrepiece", minutes_each=D(20)),
    )
    moon = make_bead("moon", kind="centrepiece")
    workshop = make_workshop(rates=rates, beads={"pea": make_bead(), "moon": moon})
    order = make_order(
        workshop=workshop, lines=(LineFacts(100, bead="pea"), LineFacts(12, bead="moon"))
    )
    by_rate = {work.rate: work for work in cost_order(order).labour}
    assert by_rate["moulding"].units == 10
    assert by_rate["moulding centrepieces"].units == 2  # 12 of 15 started need 2 trays
    assert by_rate["moulding centrepieces"].minutes_each == 20


def test_painting_is_counted_on_the_expected_survivors_of_the_first_firing():
    firing = BeadFiringFacts("low fire", "dimpled tray", D("0.10"))
    painted = make_bead(kind="painted", painted=True, firings=(firing, firing))
    work = work_of(
        make_rate("painting", basis="bead"),
        beads={"pea": painted},
    )
    # 1 − 0.9² = 0.19; scipy: 100 + nbinom.ppf(0.95, 100, 0.81) = 133; 133 × 0.9 = 119.7
    assert work.units == 120


def test_only_beads_pierced_by_hand_are_pierced():
    rate = make_rate("piercing", basis="bead")
    assert cost_order(make_order(5, make_workshop(rates=(rate,)))).labour == ()
    pierced = make_bead(kind="fused", form="chunks", pierced=True)
    assert work_of(rate, beads={"pea": pierced}).units == 114


def test_loading_a_kiln_counts_the_moulds_of_both_firings():
    firing = BeadFiringFacts("low fire", "dimpled tray", D("0.10"))
    twice = make_bead(firings=(firing, firing))
    # 133 started in 12 trays of 12; 119.7 → 120 reach the second firing in 10
    assert work_of(make_rate("firing", basis="mould"), beads={"pea": twice}).units == 22
    assert work_of(make_rate("moulding", basis="mould"), beads={"pea": twice}).units == 12


def test_wright_s_curve_is_not_mixed_with_the_unit_curve():
    """Source: business-analysis-made-easy, learning curve: 50 min first, 80 %: the fourth takes 32
    by the unit curve (Crawford), which puts the same formula to the n-th unit alone."""
    assert 50 * 4 ** log2(0.8) == pytest.approx(32)
    fourth = wright_total(D(50), D("0.8"), 1, made_before=3)
    assert float(fourth) == pytest.approx(50 * (4 * 0.64 - 3 * 3 ** log2(0.8)))  # 22.7
    assert float(fourth) < 32


def strung_while_learning(pieces: int, **changes):
    learning = LearningFacts(**{"rate": D("0.8"), "first_unit_times": D(2), **changes})
    workshop = make_workshop(
        rates=(make_rate("stringing", basis="strand", minutes_each=D(4)),),
        designs={"bracelet": make_design(learning=learning)},
    )
    return cost_order(make_order(pieces, workshop))


def test_a_new_design_takes_longer_while_the_hands_are_learning_it():
    # Wright: two units of a first one of 2 × 4 min: 2 × 8 × 2^log2(0.8) = 12.8 min, not 8
    (work,) = strung_while_learning(2).labour
    assert float(work.minutes) == pytest.approx(2 * 8 * 0.8)
    assert work.units == 2


def test_the_learning_curve_stops_at_the_standard_time():
    # Units alone, in standard times: 2, 1.2, 6 × 3^log2(0.8) − 3.2 = 1.0126, then 0.9074: below 1
    (work,) = strung_while_learning(10).labour
    three = 2 * 3 * 3 ** log2(0.8)
    assert float(work.minutes) == pytest.approx(4 * (three + 7))  # 44.85; without an end 38.12
    assert units_on_curve(D(2), D("0.8")) == 3


def test_hands_that_the_owner_calls_practised_take_the_standard_time_from_there():
    # after two: 2 + 1.2 + 8 × 1 = 11.2 standard times of 4 min
    (work,) = strung_while_learning(10, practised=2).labour
    assert float(work.minutes) == pytest.approx(44.8)
    # one was made before: 1.2 + 9 × 1
    (work,) = strung_while_learning(10, practised=2, made_before=1).labour
    assert float(work.minutes) == pytest.approx(4 * 10.2)
    # all of it behind them
    (work,) = strung_while_learning(10, practised=2, made_before=2).labour
    assert work.minutes == 40
    # a number past the end of the curve changes nothing
    (late,) = strung_while_learning(10, practised=500).labour
    assert late.minutes == strung_while_learning(10).labour[0].minutes


def test_a_first_strand_at_the_standard_time_follows_wright_as_published():
    # ten units of a first one of 4 min at 80 %: 4.7651 × 4 min (Wright's 476.51 of 100)
    (work,) = strung_while_learning(10, first_unit_times=D(1)).labour
    assert float(work.minutes) == pytest.approx(4 * 10 * 10 ** log2(0.8))
    # practised after four: 4 × 0.64 = 2.56, and each more as the fourth: 2.56 − 3 × 3^b = 0.4537
    (work,) = strung_while_learning(10, first_unit_times=D(1), practised=4).labour
    fourth = 2.56 - 3 * 3 ** log2(0.8)
    assert float(work.minutes) == pytest.approx(4 * (2.56 + 6 * fourth))


def test_the_working_shows_where_the_curve_stops():
    told = {
        term.name: term.value for term in order_tree(strung_while_learning(10, practised=2)).walk()
    }
    assert told["Practised after"] == told["The curve stops after"] == 2
    told = {term.name: term.value for term in order_tree(strung_while_learning(10)).walk()}
    assert told["The curve stops after"] == 3
    assert "Practised after" not in told


def test_minutes_by_skill_add_up():
    rates = (
        make_rate("moulding"),
        make_rate("weighing out", skill="moulding", basis="kg"),
        make_rate("packing", basis="order"),
    )
    costing = cost_order(make_order(5, make_workshop(rates=rates)))
    assert set(costing.minutes_by_skill) == {"moulding", "packing"}
    assert sum(costing.minutes_by_skill.values()) == costing.labour_min


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"basis": "week"}, "basis", "The step moulding counts its minutes by “week”."),
        ({"minutes_each": D(-1)}, "minutes_each", "must be at least 0"),
        ({"hourly": D("NaN")}, "hourly", "The pay by the hour of moulding is not a number."),
        ({"piece": D(-1)}, "piece", "must be at least 0"),
    ],
)
def test_a_rate_that_cannot_be_is_refused(changes, field, sentence):
    with pytest.raises(CostingError) as refused:
        work_of(make_rate(**changes))
    assert refused.value.field == field
    assert sentence in refused.value.sentence


def test_pay_is_exact_to_the_last_figure():
    work = work_of(make_rate("polishing", basis="bead", minutes_each=D("0.01"), hourly=D("7.77")))
    assert work.cost == Decimal("114") * D("0.01") * D("7.77") / 60
