"""Each bead's firings as the planner sees them, from rows that are read once."""

from collections.abc import Mapping

from orders.costing.facts import WorkshopFacts
from orders.floor.hands import Hands
from orders.floor.heat import Heat
from orders.floor.labour import Labour
from orders.floor.promise_rows import BeadRow
from orders.planning.instance import Firing
from stock.models import Bead
from workshop.models import Kiln


class FiringOf:
    """The firings of every bead as the planner sees them.

    rows  windows and moulds of all beads
    heat  how beads are fired where kilns are kept hot or programmes soak, and the beads' own rows;
          None where all loads are plain
    """

    def __init__(
        self, rows: Mapping[int, BeadRow], heat: Heat | None, beads: Mapping[int, Bead]
    ) -> None:
        self.rows, self.heat, self.beads = rows, heat, beads

    def __call__(self, bead: int, number: int) -> Firing | None:
        if self.heat is None:
            return self.rows[bead].firing(number)
        row = self.beads[bead]
        programme = row.programme if number == 1 else row.second_programme
        return self.heat.firing(row, programme, number, str(row.mould_id)) if programme else None


def firings_of(rows: Mapping[int, BeadRow], workshop: WorkshopFacts, hands: Hands) -> FiringOf:
    """(3 queries where kilns are kept hot or programmes soak, else none)"""
    if not any(kiln.hot for kiln in workshop.kilns) and not any(r.soaks for r in rows.values()):
        return FiringOf(rows, None, {})
    heat = Heat.of(Kiln.objects.filter(in_use=True), Labour.in_force(), hands)
    beads = Bead.objects.select_related("mould", "programme", "second_programme").in_bulk()
    return FiringOf(rows, heat, beads)
