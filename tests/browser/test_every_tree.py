"""The whole demo's order book: every kept working is worked again, node by node, to its leaves."""

from decimal import Decimal

import pytest

from orders.costing.working.terms import read_tree, recompute
from orders.costing.working.tree import order_tree
from orders.counter.services.ordering import cost_without_loads
from orders.models import Order


def same(found, kept) -> bool:
    """Equal to twenty figures, whatever the order in which many were added."""
    return abs(Decimal(found) - Decimal(kept)) <= Decimal("1e-20") * max(1, abs(Decimal(kept)))


@pytest.mark.slow
def test_every_node_of_every_demo_order_follows_from_its_children(demo):
    orders = figures = 0
    for order in Order.objects.select_related("customer"):
        tree = (
            read_tree(order.working["tree"])
            if order.working
            else order_tree(cost_without_loads(order))
        )
        for path, term in tree.paths():
            assert same(recompute(term), term.value), (order.number, path)
            if not term.children:
                assert term.source, (order.number, path)
                assert term.source != "worked out" or term.value == 0, (order.number, path)
            figures += 1
        orders += 1
    assert orders == Order.objects.count() > 50
    assert figures > 500 * orders
