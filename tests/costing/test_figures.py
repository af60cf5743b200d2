"""Traced arithmetic: a number that knows by which rule it came about and from which numbers."""

from decimal import Decimal as D

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.figures import Costed, fact, rule, total
from orders.costing.operations import OPERATIONS
from tests.costing.builders import make_order

BEADS = fact("Beads", "beads", "order line")
CAVITIES = fact("Cavities", "beads", "mould")
FILLS = rule("Mould fills", "moulds", "rounded_up", "fills")
MINUTES = total("Minutes", "min")


class Firing(Costed):
    __slots__ = ()
    fills: int
    mould: str
    spare: int


def test_a_figure_has_its_value_and_remembers_what_it_follows_from():
    beads, cavities = BEADS(114, "Pea"), CAVITIES(10, "Dimpled tray")
    fills = FILLS("Dimpled tray", beads, cavities)
    assert fills.value == 12  # 114 ÷ 10, rounded up
    assert fills.parts == (beads, cavities)
    assert (fills.rule.name, fills.rule.unit, fills.key) == ("Mould fills", "moulds", "fills")
    assert beads.rule.source == "order line"


def test_a_sum_of_nothing_is_0_and_may_be_told_by_other_parts():
    assert MINUTES("", []).value == 0
    by_bead = [BEADS(D("2.5")), BEADS(D("3.5"))]
    by_step = [BEADS(D(6))]
    minutes = MINUTES("", by_bead, told=lambda: by_step)
    assert minutes.value == D("6.0")
    assert minutes.parts() == by_step


@pytest.mark.parametrize(("how", "values"), [("sum", 2), ("product", 2), ("quotient", 2)])
def test_two_values_give_the_same_as_any_number_of_them(how, values):
    numbers = [D("7.5"), D("2.5")][:values]
    operation = OPERATIONS[how]
    assert operation.pair(*numbers) == operation.work(*numbers)


def test_a_result_shows_values_and_asks_for_the_rest_once():
    asked = []

    def spare(firing: Firing) -> object:
        asked.append(firing.fills)
        return BEADS(firing.fills * 10 - 114)

    firing = Firing(fills=FILLS("", BEADS(114), CAVITIES(10)), mould="Dimpled tray", spare=spare)
    assert not asked
    assert (firing.fills, firing.mould) == (12, "Dimpled tray")
    assert (firing.spare, firing.spare, asked) == (6, 6, [12])
    assert firing.figure("fills").rule.how == "rounded_up"
    with pytest.raises(KeyError):
        firing.figure("mould")
    with pytest.raises(AttributeError):
        firing.heat_mj  # noqa: B018


def test_what_costing_answers_cannot_be_changed():
    costing = cost_order(make_order(5))
    with pytest.raises(AttributeError):
        costing.cost = D(0)
    with pytest.raises(AttributeError):
        costing.lines[0].price_each = D(0)
