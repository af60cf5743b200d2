"""The working behind a figure: a tree of named terms, each stating how it follows from the next.

Every figure on a screen, a cost sheet or in the JSON is a `Term`. Its children are the terms it
was worked out from and ``how`` names the operation, so that anybody (and a test) can work any
node out again: ``recompute(term)`` applies the operation to the children's values.

``name`` comes from a small fixed vocabulary, so that a caller can translate it; what it is about
(a colour, a bead, a step) stands apart in ``subject``.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Any

from orders.costing.numbers import CONTEXT
from orders.costing.operations import OPERATIONS
from workshop.physics.sentences import without_zeros

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

    A tree may use one term in several places: it is then the same object.
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
        """The operation in words, e.g. "a × b"; "" for one that is no longer known."""
        operation = OPERATIONS.get(self.how)
        return operation.words if operation else ""

    def walk(self) -> Iterator["Term"]:
        """This term and all below it, parents first, each once however often it is used."""
        for _path, term in self.paths():
            yield term

    def paths(self) -> Iterator[tuple[tuple[str, ...], "Term"]]:
        """Every term once, with the keys that lead to it from here."""
        seen: set[int] = set()
        waiting: list[tuple[tuple[str, ...], Term]] = [((), self)]
        while waiting:
            path, term = waiting.pop()
            if id(term) in seen:
                continue
            seen.add(id(term))
            yield path, term
            below = [((*path, label), child) for label, child in term.labelled()]
            waiting.extend(reversed(below))

    def labelled(self) -> list[tuple[str, "Term"]]:
        """The children with what tells each from its siblings: its key, else its name; with its
        subject, and at last with its place, where that is not enough."""
        labels = [child.key or child.name for child in self.children]
        if len(set(labels)) == len(labels):
            return list(zip(labels, self.children, strict=True))
        labels = [
            f"{label}, {child.subject}" if labels.count(label) > 1 else label
            for label, child in zip(labels, self.children, strict=True)
        ]
        if len(set(labels)) < len(labels):
            labels = [
                f"{label} {place}" if labels.count(label) > 1 else label
                for place, label in enumerate(labels, 1)
            ]
        return list(zip(labels, self.children, strict=True))

    def find(self, *keys: str) -> "Term":
        """The term below this one reached by these keys; KeyError if there is none."""
        found = self
        for key in keys:
            for label, child in found.labelled():
                if label == key:
                    found = child
                    break
            else:
                raise KeyError(key)
        return found

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON; numbers as text, because JSON numbers would lose digits.

        A term used in several places is written out once; elsewhere ``see`` gives the keys that
        lead from the top to the full one.
        """
        return self._as_dict({}, ())

    def _as_dict(
        self, written: dict[int, tuple[str, ...]], path: tuple[str, ...]
    ) -> dict[str, Any]:
        shown: dict[str, Any] = {
            "key": path[-1] if path else self.key,
            "name": self.name,
            "subject": self.subject,
            "value": plain_number(self.value),
            "unit": self.unit,
            "how": self.how,
            "formula": self.formula,
            "source": self.source,
        }
        if not self.children:
            return shown
        if id(self) in written:
            shown["see"] = list(written[id(self)])
            return shown
        written[id(self)] = path
        shown["children"] = [
            child._as_dict(written, (*path, label)) for label, child in self.labelled()
        ]
        return shown


def read_tree(told: dict[str, Any]) -> Term:
    """The tree that `Term.as_dict` wrote, terms used twice being one object again.

    >>> leaf = Term("Ordered", 3, "pieces", "given", "order line")
    >>> double = Term("Twice", 6, "pieces", "sum", "worked out", (leaf, leaf))
    >>> read_tree(double.as_dict()).value
    6
    """
    read: dict[tuple[str, ...], Term] = {}

    def read_term(told: dict[str, Any], path: tuple[str, ...]) -> Term:
        if "see" in told:
            return read[tuple(told["see"])]
        children = tuple(
            read_term(child, (*path, child["key"])) for child in told.get("children", ())
        )
        text = told["value"]
        read[path] = Term(
            told["name"],
            Decimal(text) if "." in text else int(text),
            told["unit"],
            told["how"],
            told["source"],
            children,
            told["subject"],
            told["key"],
        )
        return read[path]

    return read_term(told, ())


def plain_number(value: Value) -> str:
    """All digits of a number, without an exponent or needless zeros.

    >>> plain_number(Decimal("1.2300")), plain_number(Decimal("1E+3")), plain_number(0)
    ('1.23', '1000', '0')
    """
    return without_zeros(f"{value:f}")


def recompute(term: Term) -> Value:
    """The value of a term worked out again from its children; a leaf gives its own value."""
    if not term.children:
        return term.value
    with localcontext(CONTEXT):
        return OPERATIONS[term.how].work(*[child.value for child in term.children])
