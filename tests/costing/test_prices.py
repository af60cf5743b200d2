"""From cost to price: nothing sold at a loss unnoticed, and the right price in force."""

from decimal import Decimal
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import LineFacts, ListPrice, OrderFacts, PolicyFacts, QuantityBreak
from orders.costing.notices import order_notices
from orders.costing.pricing import list_steps
from orders.costing.results import LineCosting
from tests.costing.builders import D, make_order, make_workshop
from tests.costing.strategies import orders


def priced(quantity: int = 5, price: Decimal | None = None, **changes) -> LineCosting:
    """Five bracelets: 114 beads started for 100 cost glass 0.05, fuel 3.00, moulding 9.00, less
    0.00 of scrap; 100 ÷ 104.88 of it is theirs: 2.2982 each."""
    policy = changes.pop("policy", PolicyFacts(margin=D("0.25"), step=D("0.10")))
    workshop = make_workshop(policy=policy)
    line = LineFacts(quantity, design="bracelet", price=price)
    return cost_order(make_order(workshop=workshop, lines=(line,), **changes)).lines[0]


SCRAP = 114 * 0.08 * 0.40 / 1000
EACH = (114 / 0.9 / 0.95 * 0.40 / 1000 + 3 + 9 - SCRAP) * 100 / (114 * 0.92) / 5


def test_lowest_and_suggested_price():
    line = priced()
    assert float(line.cost_each) == pytest.approx(EACH)  # 2.29781
    assert line.lowest == D("2.30")  # up to the cent
    assert line.suggested == D("3.10")  # 2.29781 ÷ 0.75 = 3.0637, up to 0.10
    assert line.price_each == D("3.10")
    assert line.price_from == "suggested"
    assert line.price_total == D("15.50")
    assert float(line.margin) == pytest.approx(1 - EACH * 5 / 15.50)


def test_overhead_is_added_to_what_making_costs():
    line = priced(policy=PolicyFacts(overhead=D("0.12")))
    assert float(line.cost_each) == pytest.approx(EACH * 1.12)


def test_a_customer_group_may_have_its_own_margin():
    policy = PolicyFacts(
        margin=D("0.40"), step=D("0.10"), margins=(("trader", D("0.25")), ("walk-in", D("0.50")))
    )
    assert priced(policy=policy, group="trader").suggested == D("3.10")
    assert priced(policy=policy, group="walk-in").suggested == D("4.60")  # 4.5956
    assert priced(policy=policy, group="shop").suggested == D("3.90")  # 3.8297


LISTS = PolicyFacts(
    step=D("0.10"),
    prices=(
        ListPrice("bracelet", D("5.00")),
        ListPrice("bracelet", D("4.20"), "trader", 1),
        ListPrice("bracelet", D("3.90"), "trader", 12),
        ListPrice("bracelet", D("3.60"), "trader", 48),
    ),
)


@pytest.mark.parametrize(
    ("group", "quantity", "price"),
    [
        ("", 5, "5.00"),
        ("shop", 5, "5.00"),
        ("trader", 1, "4.20"),
        ("trader", 11, "4.20"),
        ("trader", 12, "3.90"),
        ("trader", 47, "3.90"),
        ("trader", 48, "3.60"),
    ],
)
def test_the_list_of_the_customer_s_group_holds_from_the_quantity_reached(group, quantity, price):
    line = priced(quantity, policy=LISTS, group=group)
    assert (line.price_from, line.price_each) == ("list", D(price))


def test_an_agreed_price_goes_before_the_list_and_the_line_s_own_before_both():
    agreed = (("bracelet", D("3.75")),)
    line = priced(policy=LISTS, group="trader", agreed=agreed)
    assert (line.price_from, line.price_each) == ("customer", D("3.75"))
    line = priced(policy=LISTS, group="trader", agreed=agreed, price=D("3.10"))
    assert (line.price_from, line.price_each) == ("line", D("3.10"))


def test_a_quantity_break_takes_its_share_off_list_and_suggested_price():
    breaks = (QuantityBreak(10, D("0.05")), QuantityBreak(20, D("0.125"), "trader"))
    policy = PolicyFacts(step=D("0.01"), prices=LISTS.prices, breaks=breaks)
    assert priced(5, policy=policy, group="shop").price_each == D("5.00")
    assert priced(10, policy=policy, group="shop").price_each == D("4.75")
    # 3.90 × 0.875 = 3.4125, half-up to the cent
    assert priced(20, policy=policy, group="trader").price_each == D("3.41")
    suggested = priced(20, policy=policy, group="trader")
    assert float(suggested.suggested) == pytest.approx(
        ceil(float(suggested.cost_each) * 0.875 * 100) / 100
    )


def test_a_price_listed_for_as_many_as_the_break_begins_at_is_not_reduced_again():
    breaks = (QuantityBreak(48, D("0.10")),)
    policy = PolicyFacts(step=D("0.01"), prices=LISTS.prices, breaks=breaks)
    # a trader's 48 stand in the list at 3.60; everybody's 5.00 is for any number: 4.50
    assert priced(48, policy=policy, group="trader").price_each == D("3.60")
    assert priced(48, policy=policy, group="shop").price_each == D("4.50")
    # 100 with a break from 60: the list's 3.60 is for 48, so 3.60 × 0.90
    later = PolicyFacts(step=D("0.01"), prices=LISTS.prices, breaks=(QuantityBreak(60, D("0.10")),))
    assert priced(100, policy=later, group="trader").price_each == D("3.24")


def test_a_group_s_own_break_of_nothing_keeps_it_out_of_everybody_s():
    breaks = (QuantityBreak(10, D("0.05")), QuantityBreak(10, D(0), "walk-in"))
    policy = PolicyFacts(step=D("0.01"), prices=LISTS.prices, breaks=breaks)
    assert priced(12, policy=policy, group="shop").price_each == D("4.75")
    assert priced(12, policy=policy, group="walk-in").price_each == D("5.00")


def test_a_line_below_cost_is_flagged_with_a_sentence():
    workshop = make_workshop(policy=LISTS)
    lines = (LineFacts(5, design="bracelet", price=D("2.00")),)
    costing = cost_order(make_order(workshop=workshop, lines=lines))
    assert costing.sells_below_cost
    (notice,) = [one for one in order_notices(costing) if one.code == "below_cost"]
    assert notice.line == 0
    assert notice.sentence == (
        "Bracelet sells at 2.00 EUR and its lowest price is 2.30 EUR. Raise the price to at least "
        "2.30, or let the owner pass it."
    )


def test_a_strand_given_away_has_no_margin_but_is_below_cost():
    line = priced(price=D(0))
    assert line.margin is None
    assert line.below_cost


def test_a_currency_without_cents_is_priced_in_whole_units():
    workshop = make_workshop(currency="XOF", policy=PolicyFacts(margin=D("0.25"), step=D(25)))
    line = cost_order(make_order(5, workshop)).lines[0]
    assert line.lowest == 3  # 2.30
    assert line.suggested == 25


def test_a_line_total_is_rounded_half_up_once():
    # 5 × 3.333 = 16.665: the money line, half-up
    assert priced(price=D("3.333")).price_total == D("16.67")


@settings(max_examples=30)
@given(orders())
def test_selling_at_the_lowest_price_loses_nothing(order: OrderFacts):
    for line in cost_order(order).lines:
        assert line.lowest * line.quantity >= max(line.cost, line.pocket)
        assert line.below_cost == (line.price_net < max(line.cost, line.pocket))
        assert line.suggested % order.workshop.policy.step == 0
        if not line.off:
            assert line.suggested >= line.cost_each


@settings(max_examples=30)
@given(orders())
def test_lines_add_up_to_the_order_in_every_kind_of_cost(order: OrderFacts):
    costing = cost_order(order)

    def whole(value: Decimal) -> float:
        return pytest.approx(float(value), rel=1e-15, abs=1e-15)

    lines, beads = costing.lines, costing.beads
    assert float(sum(line.cost for line in lines)) == whole(costing.cost)
    assert float(sum(line.overhead_cost for line in lines)) == whole(costing.overhead_cost)
    assert float(sum(line.shelf_cost for line in lines)) == whole(costing.shelf_cost)
    assert float(sum(line.pocket for line in lines)) == whole(costing.pocket)
    assert float(sum(glass.cost for glass in costing.glass)) == whole(costing.glass_cost)
    workshop = sum(bead.workshop_cost for bead in beads) + sum(line.workshop_cost for line in lines)
    once = sum(line.order_cost for line in lines)
    assert float(once) == whole(costing.once_cost)
    assert workshop <= costing.workshop_cost
    spent = (
        costing.glass_cost + costing.pigment_cost + costing.fuel_cost + costing.wear_cost
        + costing.mould_cost + costing.labour_cost + costing.workshop_cost + costing.findings_cost
    )  # fmt: skip
    goods = spent - costing.scrap - costing.left_over + costing.shelf_cost
    assert float(goods + costing.overhead_cost) == whole(costing.cost)
    labour = (
        sum(bead.labour_cost for bead in beads)
        + sum(line.labour_cost for line in lines)
        + costing.once_cost
    )
    assert float(labour + workshop) == whole(costing.labour_cost + costing.workshop_cost)
    assert costing.price_total == sum(line.price_total for line in lines)


@st.composite
def bad_policies(draw: st.DrawFn) -> tuple[PolicyFacts, str]:
    return draw(
        st.sampled_from(
            (
                (PolicyFacts(margin=D(1)), "margin"),
                (PolicyFacts(margin=D("NaN")), "margin"),
                (PolicyFacts(overhead=D("-0.1")), "overhead"),
                (PolicyFacts(step=D(0)), "step"),
                (PolicyFacts(prices=(ListPrice("bracelet", D(-1)),)), "price"),
                (PolicyFacts(breaks=(QuantityBreak(1, D(1)),)), "off"),
            )
        )
    )


@given(bad_policies())
def test_a_price_policy_that_cannot_be_is_refused(bad):
    policy, field = bad
    with pytest.raises(CostingError) as refused:
        priced(policy=policy)
    assert refused.value.field == field


LIST = (
    ListPrice("bracelet", D("6.50")),
    ListPrice("bracelet", D("6.05"), from_quantity=12),
    ListPrice("bracelet", D("5.95"), "trader", from_quantity=5),
)
BREAKS = (
    QuantityBreak(10, D("0.05")),
    QuantityBreak(20, D("0.125")),
    QuantityBreak(30, D("0.2"), "trader"),
)


@pytest.mark.parametrize("group", ["", "trader"])
@pytest.mark.parametrize("prices", [LIST, LIST[2:]])
def test_the_steps_of_a_list_are_the_prices_it_gives_for_every_quantity(group, prices):
    policy = PolicyFacts(step=D("0.10"), prices=prices, breaks=BREAKS)
    steps = list_steps(make_workshop(policy=policy), "bracelet", group)
    for quantity in range(1, 41):
        line = priced(quantity, policy=policy, group=group)
        told = [price for least, price in steps if least <= quantity][-1]
        assert told == (line.price_each if line.price_from == "list" else None)
