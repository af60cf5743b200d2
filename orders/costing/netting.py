"""What the shelf gives before anything is made: ready strands, then beads, oldest batch first."""

from dataclasses import dataclass

from orders.costing.checks import number, whole
from orders.costing.facts import (
    BatchFacts,
    BeadFacts,
    Key,
    OrderFacts,
    ReadyStrandFacts,
    StockFacts,
    WorkshopFacts,
)
from orders.costing.figures import Figure, fact, rule
from orders.costing.results import Taken
from workshop.physics.sentences import gettext_noop as _

READY = fact(_("Ready on the shelf"), "pieces", "stock")
GONE = fact(_("Taken by earlier lines"), "pieces", "order line")
STILL_READY = rule(_("Still ready"), "pieces", "difference")
READY_TAKEN = rule(_("Ready strands taken"), "pieces", "least")
TO_STRING = rule(_("To string"), "pieces", "difference", "to string")

FREE = fact(_("Free"), "beads", "stock")
FROM_BATCH = rule(_("Taken from a batch"), "beads", "least")
STILL_NEEDED = rule(_("Still needed"), "beads", "difference")
TO_MAKE = rule(_("Beads to make"), "beads", "difference", "to make")

Index = tuple[dict[Key, list[BatchFacts]], dict[Key, list[ReadyStrandFacts]]]


@dataclass(slots=True)
class Shelf:
    """What is still free while one order is being netted; takes never go below nothing."""

    batches: dict[Key, list[BatchFacts]]
    strands: dict[Key, list[ReadyStrandFacts]]
    strands_taken: dict[Key, int]

    def take_strands(
        self, design: Key, name: str, asked: Figure
    ) -> tuple[tuple[Taken, ...], Figure, Figure]:
        """Ready strands for a line, of what earlier lines left: which, how many, and how many are
        still to be strung."""
        ready = self.strands.get(design, ())
        before = self.strands_taken.get(design, 0)
        free = READY(sum([stock.free for stock in ready]), name)
        if before:
            free = STILL_READY("", free, GONE(before, name))
        count = READY_TAKEN("", asked, free)
        taken, skip, left = [], before, count.value
        for stock in ready:
            passed = min(skip, stock.free)
            skip -= passed
            part = min(left, stock.free - passed)
            if part:
                taken.append(Taken(design, name, part, stock.value_each))
                left -= part
        self.strands_taken[design] = before + count.value
        return tuple(taken), count, TO_STRING(name, asked, count)

    def take_beads(self, bead: BeadFacts, needed: Figure) -> tuple[tuple[Taken, ...], Figure]:
        """Free good beads, oldest batch first, and how many are still to be made. Ask once for each
        kind of bead."""
        taken: list[Taken] = []
        parts: list[Figure] = []
        still = needed
        for batch in self.batches.get(bead.key, ()):
            if not batch.free:
                continue
            if parts:
                still = STILL_NEEDED(bead.name, needed, *parts)
                if not still.value:
                    break
            free = FREE(batch.free, batch.name)
            part = FROM_BATCH(batch.name, still, free, key=f"batch {batch.key}")
            taken.append(Taken(batch.key, batch.name, part.value, batch.value_each))
            parts.append(part)
        return tuple(taken), TO_MAKE(bead.name, needed, *(parts or [FREE(0, bead.name)]))


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
