"""Any order comes out the same when it is reckoned again by other means (see plain_reckoner)."""

import pytest
from hypothesis import assume, given, settings

from orders.costing.cost_order import cost_order
from orders.costing.facts import OrderFacts
from orders.costing.results import OrderCosting
from tests.costing.plain_reckoner import Reckoned, reckon
from tests.costing.strategies import orders
from workshop.physics.chance import binomial_at_least


def both(order: OrderFacts) -> tuple[OrderCosting, Reckoned]:
    # Scatter over two firings is an approximation of its own; it has its own test.
    assume(
        not order.workshop.choices.rejects_by_load
        or all(
            len(bead.firings) == 1 or all(firing.scatter is None for firing in bead.firings)
            for bead in order.workshop.beads.values()
        )
    )
    return cost_order(order), reckon(order)


def close(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-9)


@settings(max_examples=50)
@given(orders())
def test_an_order_reckoned_twice_comes_out_the_same(order: OrderFacts):
    ours, plain = both(order)
    for line, counts, reached in zip(ours.lines, plain.counts, plain.reached, strict=True):
        if line.layout is not None:
            assert dict(line.layout.beads) == counts
            assert float(line.layout.finished_mm) == close(reached)
    for bead in ours.beads:
        if bead.start != plain.start[bead.key]:
            # Only where floating point cannot tell on which side of the assurance a chance lies.
            chance = binomial_at_least(bead.start, 1 - float(bead.reject_rate), bead.to_make)
            assume(abs(chance - float(order.workshop.choices.assurance)) > 1e-9)
        assert bead.start == plain.start[bead.key]
    for glass in ours.glass:
        assert float(glass.needed_g) == close(plain.needed_g[glass.key])
        assert float(glass.short_g) == close(plain.short_g[glass.key])
    assert float(ours.kiln_min) == close(plain.kiln_min)
    assert float(ours.fuel_cost) == close(plain.fuel_cost)
    assert {work.rate for work in ours.labour} == set(plain.minutes)
    for work in ours.labour:
        assert float(work.minutes) == close(plain.minutes[work.rate])
    assert float(ours.workshop_cost) == close(plain.workshop_cost)
    assert float(ours.left_over) == close(plain.left_over)
    assert float(ours.cost) == close(plain.cost)
