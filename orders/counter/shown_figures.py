"""What is promised must be what was looked at: a mark of the figures on a sheet."""

import hashlib
from typing import Any

from orders.costing.results import OrderCosting
from orders.floor.promise import Promise


def mark(told: Any) -> str:
    """A short text that differs when what was told differs."""
    return hashlib.sha256(repr(told).encode()).hexdigest()[:20]


def figures_mark(costing: OrderCosting, promise: Promise | None, customer: int | None) -> str:
    """Lines, prices, what comes from the shelf, and the days, for one customer."""
    lines = [
        (line.design, line.quantity, str(line.price_each), line.ready_taken)
        for line in costing.lines
    ]
    from_shelf = sum(bead.from_shelf for bead in costing.beads)
    day = promise and (promise.p90_on.isoformat(), promise.likely_on.isoformat())
    return mark((lines, from_shelf, day, customer))
