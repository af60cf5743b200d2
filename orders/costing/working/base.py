"""Small makers of terms, and the place where terms that are used twice are kept."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from orders.costing.bead_unit import BeadUnit, bead_unit
from orders.costing.facts import Key, WorkshopFacts
from orders.costing.results import OrderCosting
from orders.costing.working.terms import Term, Value

WORKED_OUT = "worked out"


class Working:
    """One costing whose terms are being built; each figure is built once."""

    def __init__(self, costing: OrderCosting) -> None:
        self.costing = costing
        self.workshop: WorkshopFacts = costing.facts.workshop
        self.currency = costing.currency
        self._kept: dict[Any, Term] = {}

    def once(self, key: Any, make: Callable[[], Term]) -> Term:
        """The term kept under this key, made when first asked for."""
        term = self._kept.get(key)
        if term is None:
            term = self._kept[key] = make()
        return term

    def unit(self, key: Key) -> BeadUnit:
        return bead_unit(self.workshop, key)


def given(
    name: str, value: Value, unit: str, source: str, subject: str = "", key: str = ""
) -> Term:
    """A leaf: a fact, and whose it is."""
    return Term(name, value, unit, "given", source, (), subject, key)


def worked(
    name: str,
    value: Value,
    unit: str,
    how: str,
    children: Sequence[Term],
    subject: str = "",
    key: str = "",
) -> Term:
    """A figure that follows from others."""
    return Term(name, value, unit, how, WORKED_OUT, tuple(children), subject, key)


def listed(name: str, children: Sequence[Term], subject: str = "", key: str = "") -> Term:
    """A heading; its value is how many stand under it."""
    return Term(name, len(children), "", "list", WORKED_OUT, tuple(children), subject, key)


def added(
    name: str,
    value: Decimal | int,
    unit: str,
    children: Sequence[Term],
    subject: str = "",
    key: str = "",
) -> Term:
    """A sum; nothing to add is a plain 0."""
    if not children:
        return given(name, value, unit, WORKED_OUT, subject, key)
    return worked(name, value, unit, "sum", children, subject, key)
