"""Clasps, spacers and cord that an order takes, and when those that are missing will be there.

Quantities are whole: pieces, and cord in millimetres, rounded up for each strand as it is cut.
"""

from dataclasses import dataclass

from orders.costing.facts import DesignFacts, KeptFinding, Key
from orders.costing.numbers import nothing_below, whole_up
from orders.costing.results import OrderCosting
from orders.costing.strand import StrandLayout


@dataclass(frozen=True, slots=True)
class FindingNeed:
    """What an order takes of a finding that is counted in stock.

    short  what of it neither lies free nor is held for it
    days   until all that is short is there; 0 where nothing is, None where the supplier is asked
    """

    key: Key
    kept: KeptFinding
    needed: int
    short: int
    days: int | None


def pieces_each(design: DesignFacts, layout: StrandLayout) -> dict[Key, int]:
    """What one strand takes of each finding, by key.

    Cord is cut a little too long rather than too short: whole millimetres, upwards.
    """
    found: dict[Key, int] = {}
    for finding in design.findings:
        found[finding.key] = found.get(finding.key, 0) + finding.count
    for spacer, count in layout.spacers:
        found[spacer] = found.get(spacer, 0) + count
    if design.cord.key:
        found[design.cord.key] = whole_up(layout.cord_mm)
    return found


def findings_needed(costing: OrderCosting) -> tuple[FindingNeed, ...]:
    """What the strands still to string take of each finding that is counted in stock."""
    workshop = costing.facts.workshop
    needed: dict[Key, int] = {}
    for line in costing.lines:
        if line.design is None or line.layout is None or not line.to_string:
            continue
        for key, each in pieces_each(workshop.designs[line.design], line.layout).items():
            if key in workshop.kept_findings:
                needed[key] = needed.get(key, 0) + each * line.to_string
    return tuple(_need(key, workshop.kept_findings[key], n) for key, n in needed.items() if n)


def _need(key: Key, kept: KeptFinding, needed: int) -> FindingNeed:
    short = nothing_below(needed - kept.free)
    return FindingNeed(key, kept, needed, short, days_until(kept, short))


def days_until(kept: KeptFinding, short: int) -> int | None:
    """Days until so much more of a finding is there; None where the supplier is to be asked.

    What is on its way goes to the orders that lack it already first; the rest is ordered today.

    >>> on_its_way = ((2, 10), (9, 10))
    >>> days_until(KeptFinding("clasp", 0, owed=4, coming=on_its_way, days=21), 6)
    2
    >>> days_until(KeptFinding("clasp", 0, owed=4, coming=on_its_way, days=21), 7)
    9
    >>> days_until(KeptFinding("clasp", 0, owed=4, coming=on_its_way, days=21), 17)
    21
    """
    if not short:
        return 0
    left = short + kept.owed
    for days, quantity in kept.coming:
        left -= quantity
        if left <= 0:
            return days
    return kept.days
