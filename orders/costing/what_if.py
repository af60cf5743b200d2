"""What if: the same order under other facts, and the difference term by term.

The order's own facts are never touched: a changed copy is costed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from orders.costing.checks import UNKNOWN
from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import ColourShare, Key, LineFacts, OrderFacts, WorkshopFacts
from orders.costing.results import OrderCosting
from orders.costing.working.terms import Term, Value
from workshop.physics.sentences import gettext_noop

NO_SUCH_CHANGE = gettext_noop(
    "“%(subject)s” is not something that can be changed in a what-if. Choose one of: %(known)s."
)

# The way to a term: labels, or a parent with the place of its child.
Way = tuple[str | tuple[Term, int], ...]

CHOICES = ("assurance", "whole_moulds", "rejects_by_load", "min_weighed", "kiln")
POLICY = ("overhead", "margin", "step")


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure before and after. A side is None where the term stands in one tree only."""

    path: tuple[str, ...]
    name: str
    subject: str
    unit: str
    before: Value | None
    after: Value | None

    @property
    def change(self) -> Value | None:
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


def what_if(facts: OrderFacts, **changes: Any) -> OrderCosting:
    """The order costed under changed facts; see `changed` for what can change.

    >>> # what_if(facts, reject_rate={"pea": Decimal("0.12")}, quantity={0: 40})
    """
    return cost_order(changed(facts, **changes))


def changed(facts: OrderFacts, **changes: Any) -> OrderFacts:
    """A copy of the facts with changes, by name:

    quantity       {line index: strands}
    price          {line index: price of one, or None}
    reject_rate    {bead: rate}, or {(bead, number of the firing): rate}
    colour_shares  {bead: {colour: share}}
    bead           {bead: {field: value}}      any field of BeadFacts
    design         {design: {field: value}}    any field of DesignFacts
    colour         {colour: {field: value}}    any field of ColourFacts
    kiln_facts     {kiln: {field: value}}      any field of KilnFacts
    fuel_price     {kiln: price}, or one price for every kiln
    rate           {rate: {field: value}}      any field of RateFacts
    stock          StockFacts
    group          the customer's group
    assurance, whole_moulds, rejects_by_load, min_weighed, kiln   the owner's choices
    overhead, margin, step                                        the price policy

    Raises CostingError for a change that is not in this list or names a thing there is not.
    """
    unknown = set(changes) - set(_CHANGES) - set(CHOICES) - set(POLICY)
    if unknown:
        known = ", ".join(sorted({*_CHANGES, *CHOICES, *POLICY}))
        raise CostingError("change", NO_SUCH_CHANGE, subject=min(unknown), known=known)
    workshop = facts.workshop
    choices = {name: changes[name] for name in CHOICES if name in changes}
    policy = {name: changes[name] for name in POLICY if name in changes}
    if choices:
        workshop = replace(workshop, choices=replace(workshop.choices, **choices))
    if "margin" in policy:
        policy["margins"] = ()  # the margin asked about, whichever group buys
    if policy:
        workshop = replace(workshop, policy=replace(workshop.policy, **policy))
    facts = replace(facts, workshop=workshop)
    for name, change in changes.items():
        if name in _CHANGES:
            facts = _CHANGES[name](facts, change)
    return facts


def _lines(field: str) -> Any:
    def change(facts: OrderFacts, by_line: Mapping[int, Any]) -> OrderFacts:
        lines: list[LineFacts] = list(facts.lines)
        for index, value in by_line.items():
            if not 0 <= index < len(lines):
                raise CostingError(
                    "line", UNKNOWN, subject=f"line {index + 1}", line=index, what="line"
                )
            changes: dict[str, Any] = {field: value}
            lines[index] = replace(lines[index], **changes)
        return replace(facts, lines=tuple(lines))

    return change


def _with_workshop(facts: OrderFacts, **changes: Any) -> OrderFacts:
    return replace(facts, workshop=replace(facts.workshop, **changes))


def _table(table: str, what: str) -> Any:
    """Change fields of the rows of a keyed table of the workshop."""

    def change(facts: OrderFacts, by_key: Mapping[Key, Mapping[str, Any]]) -> OrderFacts:
        rows = dict(getattr(facts.workshop, table))
        for key, fields in by_key.items():
            _known(key, rows, what)
            rows[key] = replace(rows[key], **fields)
        return _with_workshop(facts, **{table: rows})

    return change


def _tuple(table: str, what: str) -> Any:
    """Change fields of the rows of an ordered table of the workshop."""

    def change(facts: OrderFacts, by_key: Mapping[Key, Mapping[str, Any]]) -> OrderFacts:
        rows = {row.key: row for row in getattr(facts.workshop, table)}
        for key, fields in by_key.items():
            _known(key, rows, what)
            rows[key] = replace(rows[key], **fields)
        return _with_workshop(facts, **{table: tuple(rows.values())})

    return change


def _known(key: Key, rows: Mapping[Key, Any], what: str) -> None:
    if key not in rows:
        raise CostingError(what, UNKNOWN, subject="what-if", what=what)


def _reject_rates(facts: OrderFacts, by_bead: Mapping[Any, Decimal]) -> OrderFacts:
    beads = dict(facts.workshop.beads)
    for key, rate in by_bead.items():
        bead_key, number = key if isinstance(key, tuple) else (key, 1)
        _known(bead_key, beads, "bead")
        firings = list(beads[bead_key].firings)
        if not 1 <= number <= len(firings):
            raise CostingError("firing", UNKNOWN, subject=beads[bead_key].name, what="firing")
        firings[number - 1] = replace(
            firings[number - 1], reject_rate=rate, reject_source="what if", scatter=None
        )
        beads[bead_key] = replace(beads[bead_key], firings=tuple(firings))
    return _with_workshop(facts, beads=beads)


def _colour_shares(facts: OrderFacts, by_bead: Mapping[Key, Mapping[Key, Decimal]]) -> OrderFacts:
    beads = dict(facts.workshop.beads)
    for key, shares in by_bead.items():
        _known(key, beads, "bead")
        colours = tuple(ColourShare(colour, share) for colour, share in shares.items() if share)
        beads[key] = replace(beads[key], colours=colours)
    return _with_workshop(facts, beads=beads)


def _fuel_price(facts: OrderFacts, price: Any) -> OrderFacts:
    workshop: WorkshopFacts = facts.workshop
    by_kiln = price if isinstance(price, Mapping) else {kiln.key: price for kiln in workshop.kilns}
    change = _tuple("kilns", "kiln")
    return change(facts, {key: {"fuel_price": value} for key, value in by_kiln.items()})


_CHANGES: dict[str, Any] = {
    "quantity": _lines("quantity"),
    "price": _lines("price"),
    "reject_rate": _reject_rates,
    "colour_shares": _colour_shares,
    "bead": _table("beads", "bead"),
    "design": _table("designs", "design"),
    "colour": _table("colours", "colour"),
    "kiln_facts": _tuple("kilns", "kiln"),
    "rate": _tuple("rates", "rate"),
    "fuel_price": _fuel_price,
    "stock": lambda facts, stock: replace(facts, stock=stock),
    "group": lambda facts, group: replace(facts, group=group),
}


def compare(before: Term, after: Term) -> tuple[Difference, ...]:
    """Every figure that differs between the workings of two costings, parents before children.

    Terms are the same when the keys that lead to them are the same.
    """
    walk = _Walk()
    walk.over((), before, after)
    return tuple(walk.differences)


class _Walk:
    """Both trees side by side. Labels are made only where something differs: most stays alike."""

    def __init__(self) -> None:
        self.differences: list[Difference] = []
        self.seen: set[tuple[int, int]] = set()
        self.labels: dict[int, list[str]] = {}

    def over(self, way: Way, before: Term | None, after: Term | None) -> None:
        pair = (id(before), id(after))
        if pair in self.seen:
            return
        self.seen.add(pair)
        if before is None or after is None or before.value != after.value:
            self._differs(way, before, after)
        if before is not None and after is not None and _alike(before, after):
            for place, (old, new) in enumerate(zip(before.children, after.children, strict=True)):
                if old.children or new.children or old.value != new.value:
                    self.over((*way, (after, place)), old, new)
            return
        olds = dict(before.labelled()) if before is not None else {}
        news = dict(after.labelled()) if after is not None else {}
        for label in {**olds, **news}:
            self.over((*way, label), olds.get(label), news.get(label))

    def _differs(self, way: Way, before: Term | None, after: Term | None) -> None:
        shown = after or before
        assert shown is not None
        old = None if before is None else before.value
        new = None if after is None else after.value
        path = tuple(step if isinstance(step, str) else self._label(*step) for step in way)
        self.differences.append(Difference(path, shown.name, shown.subject, shown.unit, old, new))

    def _label(self, parent: Term, place: int) -> str:
        labels = self.labels.get(id(parent))
        if labels is None:
            labels = self.labels[id(parent)] = [label for label, _child in parent.labelled()]
        return labels[place]


def _alike(before: Term, after: Term) -> bool:
    """Whether the children of both are called the same, one after the other."""
    if len(before.children) != len(after.children):
        return False
    for old, new in zip(before.children, after.children, strict=True):
        if old.name != new.name or old.key != new.key or old.subject != new.subject:
            return False
    return True
