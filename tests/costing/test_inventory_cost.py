"""Cost of what is held, against published exercises on IAS 2."""

from decimal import Decimal

import pytest

from orders.costing.errors import CostingError
from orders.costing.inventory_cost import AverageCost, first_in_first_out

D = Decimal


def test_moving_average_of_the_waterway_exercise():
    # Source: intermediate-accounting exercise (Waterway Industries, January): printed 53,602
    held = AverageCost().received(D(9200), D(89332)).received(D(6300), D(64449))
    assert round(held.each, 5) == D("9.92135")
    held = held.issued(D(7400)).received(D(8200), D(87658)).issued(D(11100))
    assert held.quantity == 5200
    assert round(held.value, 2) == D("53601.78")


def test_first_in_first_out_of_the_same_exercise():
    # Source: computed on the same data: 5200 × 10.69
    layers = [(D(9200), D(89332) / 9200), (D(6300), D(64449) / 6300)]
    _cost, layers = first_in_first_out(layers, D(7400))
    layers.append((D(8200), D("10.69")))
    _cost, left = first_in_first_out(layers, D(11100))
    assert sum(quantity * each for quantity, each in left) == D("55588.00")


def test_periodic_average_and_first_in_first_out_of_a_flash_card():
    # Source: published IAS 2 flash card: 100 at 5, 150 at 6, 200 at 7
    layers = [(D(100), D(5)), (D(150), D(6)), (D(200), D(7))]
    assert first_in_first_out(layers, D(120))[0] == 620
    held = AverageCost()
    for quantity, each in layers:
        held = held.received(quantity, quantity * each)
    assert round(held.each, 4) == D("6.2222")


def test_keeping_the_value_does_not_drift_as_rounding_the_unit_cost_does():
    # Source: InstantCert lesson prints 1338.50; without rounding in between it is 1338.33, so
    # 0.17 of drift. The same happens here at any chain of thirds.
    held = AverageCost().received(D(3), D(10))
    for _step in range(3):
        held = held.issued(D(1)).received(D(1), held.each)
    assert held.value == pytest.approx(D(10), abs=D("1e-24"))


def test_no_more_goes_out_than_is_held():
    with pytest.raises(CostingError, match="12 are to go out and only 10 are held"):
        AverageCost(D(10), D(5)).issued(D(12))
    with pytest.raises(CostingError, match="only 10 are held"):
        first_in_first_out([(D(10), D(1))], D(12))
