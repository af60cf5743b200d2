"""The working behind a figure: a tree of named terms, each stating how it follows from the next.

Every figure on a screen, a cost sheet or in the JSON is a `Term`. Its children are the terms it
was worked out from and ``how`` names the operation, so that anybody (and a test) can work any
node out again: ``recompute(term)`` applies the operation to the children's values.

``name`` comes from a small fixed vocabulary, so that a caller can translate it; what it is about
(a colour, a bead, a step) stands apart in ``subject``.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.costing.operations import OPERATIONS

Value = Decimal | int


@dataclass(frozen=True, slots=True)
class Term:
    """One named figure.

    name      what it is, in plain words: "Prepared glass needed"
    value     exact and unrounded
    unit      "g", "mm", "min", "beads", a currency code …; "" for a bare number or share
    how       key of operations.OPERATIONS, "given" for a leaf
    source    where it is from: "design Harbour bracelet", "rate moulding", "worked out" …
    children  what it was worked out from, in the order in which ``how`` reads them
    subject   whose figure it is: "Amber, powder"; "" for the order as a whole
    key       stable among its siblings; a path of keys finds the same term in another costing
    """

    name: str
    value: Value
    unit: str
    how: str
    source: str
    children: tuple["Term", ...] = ()
    subject: str = ""
    key: str = ""

    @property
    def formula(self) -> str:
        """The operation in words, e.g. "a × b"."""
        return OPERATIONS[self.how].words

    def walk(self) -> Iterator["Term"]:
        """This term and all below it, parents first."""
        yield self
        for child in self.children:
            yield from child.walk()

    def paths(self, above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], "Term"]]:
        """Every term with the keys that lead to it."""
        here = (*above, self.key or self.name)
        yield here, self
        for child in self.children:
            yield from child.paths(here)

    def find(self, *keys: str) -> "Term":
        """The term below this one reached by these keys; KeyError if there is none."""
        found = self
        for key in keys:
            for child in found.children:
                if (child.key or child.name) == key:
                    found = child
                    break
            else:
                raise KeyError(key)
        return found

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON; numbers as text, because JSON numbers would lose digits."""
        shown: dict[str, Any] = {
            "name": self.name,
            "subject": self.subject,
            "value": str(self.value),
            "unit": self.unit,
            "how": self.how,
            "formula": self.formula,
            "source": self.source,
        }
        if self.children:
            shown["children"] = [child.as_dict() for child in self.children]
        return shown


def recompute(term: Term) -> Value:
    """The value of a term worked out again from its children; a leaf gives its own value."""
    if not term.children:
        return term.value
    return OPERATIONS[term.how].work([child.value for child in term.children])
