"""Lines and beads while an order is being worked out."""

from collections.abc import Sequence
from decimal import Decimal

from orders.costing.bead_unit import BeadUnit
from orders.costing.facts import BeadFacts, DesignFacts, Key, LineFacts
from orders.costing.firing import fire
from orders.costing.numbers import ONE, ZERO, whole_up
from orders.costing.results import FiringCosting, Taken
from orders.costing.strand import StrandLayout


class LineDraft:
    """A line while it is being worked out."""

    __slots__ = (
        "beads_cost",
        "design",
        "findings_cost",
        "index",
        "labour_cost",
        "layout",
        "line",
        "name",
        "order_cost",
        "ready",
        "shelf_cost",
        "to_string",
    )

    def __init__(self, index: int, line: LineFacts) -> None:
        self.index = index
        self.line = line
        self.name = ""
        self.design: DesignFacts | None = None
        self.layout: StrandLayout | None = None
        self.ready: tuple[Taken, ...] = ()
        self.to_string = 0
        self.beads_cost = self.findings_cost = self.labour_cost = ZERO
        self.order_cost = self.shelf_cost = ZERO


class BeadsDraft:
    """Beads of one kind on their way to being made."""

    __slots__ = (
        "facts",
        "fill_g",
        "firings",
        "glass_g",
        "needed",
        "painted",
        "shares",
        "start",
        "taken",
        "to_make",
        "unit",
    )

    def __init__(
        self,
        facts: BeadFacts,
        unit: BeadUnit | None,
        shares: list[tuple[int, int]],
        needed: int,
        taken: tuple[Taken, ...],
        to_make: int,
        start: int,
    ) -> None:
        self.facts, self.unit, self.shares = facts, unit, shares
        self.needed, self.taken, self.to_make, self.start = needed, taken, to_make, start
        self.fill_g = ZERO
        self.firings: tuple[FiringCosting, ...] = ()
        self.painted = 0
        self.glass_g: tuple[tuple[Key, str, Decimal], ...] = ()
        if unit is None:
            return
        self.fill_g = unit.fill_g
        self.firings = tuple([fire(unit, firing, start) for firing in unit.firings])
        if facts.painted:
            self.painted = whole_up(start * (ONE - unit.firings[0].reject_rate))
        self.glass_g = tuple(
            [(part.colour.key, part.form.form, part.glass_g * start) for part in unit.colours]
        )


def shelf_value(taken: Sequence[Taken]) -> Decimal:
    return sum((part.count * part.value_each for part in taken if part.value_each), ZERO)
