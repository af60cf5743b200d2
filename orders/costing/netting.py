"""What the shelf gives before anything is made: ready strands, then beads, oldest batch first."""

from collections.abc import Iterable
from dataclasses import dataclass

from orders.costing.checks import number, whole
from orders.costing.facts import (
    BatchFacts,
    Key,
    OrderFacts,
    ReadyStrandFacts,
    StockFacts,
    WorkshopFacts,
)
from orders.costing.results import Taken

Index = tuple[dict[Key, list[BatchFacts]], dict[Key, list[ReadyStrandFacts]]]


@dataclass(slots=True)
class Shelf:
    """What is still free while one order is being netted; takes never go below nothing."""

    batches: dict[Key, list[BatchFacts]]
    strands: dict[Key, list[ReadyStrandFacts]]
    strands_taken: dict[Key, int]

    def take_strands(self, design: Key, name: str, wanted: int) -> tuple[Taken, ...]:
        """Ready strands for a line, the rest of what earlier lines took."""
        ready = self.strands.get(design)
        if not ready:
            return ()
        before = self.strands_taken.get(design, 0)
        taken = []
        skip, left = before, wanted
        for stock in ready:
            passed = min(skip, stock.free)
            skip -= passed
            count = min(left, stock.free - passed)
            if count:
                taken.append(Taken(design, name, count, stock.value_each))
                left -= count
        self.strands_taken[design] = before + wanted - left
        return tuple(taken)

    def take_beads(self, bead: Key, wanted: int) -> tuple[Taken, ...]:
        """Free good beads, oldest batch first. Ask once for each kind of bead."""
        taken = []
        for batch in self.batches.get(bead, ()):
            if not wanted:
                break
            count = min(wanted, batch.free)
            if count:
                taken.append(Taken(batch.key, batch.name, count, batch.value_each))
                wanted -= count
        return tuple(taken)


def shelf_for(order: OrderFacts) -> Shelf:
    """The shelf as the order may use it. Raises CostingError for counts or values below 0."""
    if order.stock is None:
        batches, strands = _workshop_index(order.workshop)
    else:
        batches, strands = _index(order.stock)
    return Shelf(batches, strands, {})


def _workshop_index(workshop: WorkshopFacts) -> Index:
    kept = workshop._kept.get("shelf")
    if kept is None:
        kept = workshop._kept["shelf"] = _index(workshop.stock)
    return kept


def _index(stock: StockFacts) -> Index:
    batches: dict[Key, list[BatchFacts]] = {}
    for batch in stock.batches:
        whole(batch.free, "free", batch.name, most=10**9)
        if batch.value_each is not None:
            number(batch.value_each, "value_each", batch.name)
        batches.setdefault(batch.bead, []).append(batch)
    strands: dict[Key, list[ReadyStrandFacts]] = {}
    for ready in stock.strands:
        whole(ready.free, "free", "ready strands", most=10**9)
        if ready.value_each is not None:
            number(ready.value_each, "value_each", "ready strands")
        strands.setdefault(ready.design, []).append(ready)
    return batches, strands


def taken_count(taken: Iterable[Taken]) -> int:
    return sum(part.count for part in taken)
