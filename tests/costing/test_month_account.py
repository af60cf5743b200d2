"""The account of a month: April at Sandbar worked by hand, and any figures adding up.

Source: IAS 2.13, 16, 34; the rows of true_cost_checks.csv.
"""

from decimal import Decimal as D

from hypothesis import given
from hypothesis import strategies as st

from tests.costing.checks import agrees
from workshop.costs.account import LoadsStandard, MonthFacts, month_account, printed

APRIL = MonthFacts(
    pay=D("114.84"),
    top_up=D("5.00"),
    employer=D("29.96"),
    top_up_on=D("6.25"),
    order_steps=D("1.80"),
    tending=LoadsStandard(good=D("18.15"), charged=D("9.075") + D("3.78125")),
    fuel_burnt=59 * D("0.14"),
    fuel=LoadsStandard(good=D("8.40"), charged=D("5.95")),
    wear=LoadsStandard(good=D("2.40"), charged=D("1.70")),
    workshop=D(90),
    office=D(20),
    goods={
        "hands": D("133.383650"),
        "fuel": D("5.95"),
        "glass": D(8),
        "materials": D("2.40"),
        "moulds": D("2.58"),
        "wear": D("1.70"),
        "workshop": D("88.922433"),
        "sold": D("-43.452106"),
        "count": D("-0.918526"),
    },
    goods_after=D("198.565451"),
)


def amounts(line) -> dict[str, D]:
    return {each.key: each.amount for each in line.named}


def test_april_at_sandbar_adds_up():
    account = month_account(APRIL)
    by_key = {line.key: line for line in account.lines}
    agrees("ST-HANDS", by_key["hands"].spent)
    agrees("ST-TOTAL", account.spent)
    agrees("ST-PUT", account.put)
    agrees("ST-NAMED", account.named)
    agrees("ST-EMPTY", amounts(by_key["hands"])["empty_hands"])
    agrees("ST-MORE", amounts(by_key["hands"])["more_minutes"])
    agrees("ST-EMPTY-FUEL", amounts(by_key["fuel"])["empty_fuel"])
    agrees("ST-BURNED", amounts(by_key["fuel"])["burned"])
    agrees("ST-EMPTY-WEAR", amounts(by_key["wear"])["empty_wear"])
    agrees("ST-IDLE", amounts(by_key["workshop"])["unborne"])
    goods = {each.key: each.amount for each in account.goods}
    agrees("ST-GOODS", goods["after"])
    assert goods["before"] == 0


def test_april_is_printed_so_that_it_adds_up():
    shown = printed(month_account(APRIL), 2)
    assert shown.totals == (D("283.44"), D("242.93"), D("40.51"))
    assert shown.put == {
        "hands": D("133.38"), "fuel": D("5.95"), "glass": D("8.00"), "materials": D("2.40"),
        "moulds": D("2.58"), "wear": D("1.70"), "workshop": D("88.92"), "office": D("0.00"),
    }  # fmt: skip
    assert shown.named == {
        "top_up": D("6.25"), "order_steps": D("1.80"), "empty_hands": D("5.30"),
        "more_minutes": D("3.07"), "empty_fuel": D("2.45"), "burned": D("-0.14"),
        "empty_wear": D("0.70"), "unborne": D("1.08"), "office": D("20.00"),
    }  # fmt: skip


money = st.integers(-(10**11), 10**11).map(lambda n: D(n).scaleb(-6))
above = st.integers(0, 10**11).map(lambda n: D(n).scaleb(-6))
cents = st.integers(0, 10**7).map(lambda n: D(n).scaleb(-2))
standard = st.builds(LoadsStandard, above, above, above)
facts = st.builds(
    MonthFacts, cents, cents, cents, above, above, standard, above, standard, standard, above,
    above,
    st.dictionaries(
        st.sampled_from(["hands", "fuel", "glass", "moulds", "wear", "workshop", "materials",
                         "sold", "count", "accident", "reversal", "anew", "opening"]), money,
    ),
    money,
)  # fmt: skip


@given(facts)
def test_both_equations_hold_whatever_the_figures(given_facts):
    account = month_account(given_facts)
    for line in account.lines:
        assert line.spent == line.put + sum(each.amount for each in line.named)
    assert account.spent == account.put + account.named
    goods = [each.amount for each in account.goods]
    assert sum(goods[:-1]) == goods[-1]
    shown = printed(account, 2)
    assert sum(shown.spent.values()) == shown.totals[0] == shown.totals[1] + shown.totals[2]
    assert sum(shown.put.values()) == shown.totals[1]
    assert sum(shown.named.values()) == shown.totals[2]
    assert sum(list(shown.goods.values())[:-1]) == shown.goods["after"]
