"""Traced arithmetic: a number that knows by which rule it came about and from which numbers.

A rule is stated once, by what it is called, its unit and its operation (see operations.py):

    FILLS = rule(_("Mould fills"), "moulds", "rounded_up")
    ...
    fills = FILLS(mould.name, beads, cavities)

Calling it works the value out from the parts and remembers them; `working.tree` writes them as a
tree when somebody asks. To remember costs about a sixth of a microsecond, and no words are made.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from types import FunctionType
from typing import Any, Protocol, Self

from orders.costing.numbers import CONTEXT, ZERO
from orders.costing.operations import OPERATIONS

WORKED_OUT = "worked out"
# Stands in a rule for the workshop's own currency.
MONEY = "¤"


@dataclass(frozen=True, slots=True)
class Rule:
    """What all figures of one sort have in common.

    name    from a small fixed vocabulary, marked for translation
    unit    "g", "mm", "min", "beads" …; MONEY for the workshop's currency; "" for a bare number
    how     key of OPERATIONS; "given" for a fact
    source  where a fact is from; WORKED_OUT for the rest
    key     tells it from its siblings in the tree, where it is the same for every figure
    """

    name: str
    unit: str
    how: str
    source: str = WORKED_OUT
    key: str = ""


class Figure:
    """One number of the chain: counts are ``int``, measures and money ``Decimal``, unrounded.

    parts    what it was worked out from; of one that is told by other parts than it was added up
             from, a function that gives them
    subject  whose figure it is: "Amber, powder"; "" for the order as a whole
    """

    __slots__ = ("key", "parts", "rule", "subject", "value")

    def __init__(self, value: Any, rule: Rule, parts: "Parts", subject: str, key: str) -> None:
        self.value = value
        self.rule = rule
        self.parts = parts
        self.subject = subject
        self.key = key


Parts = Sequence[Figure] | Callable[[], Sequence[Figure]]


class Worked(Protocol):
    """A rule that works figures out from others."""

    def __call__(self, subject: str, /, *parts: Figure, key: str = ...) -> Figure: ...


class Told(Protocol):
    """A rule of facts: whose they are stands beside the number."""

    def __call__(self, value: Any, subject: str = ..., key: str = ...) -> Figure: ...


class Added(Protocol):
    """A rule that adds figures up.

    told  other parts of the same sum to tell it by, such as steps where bead by bead was added
    """

    def __call__(
        self,
        subject: str,
        parts: Sequence[Figure],
        key: str = ...,
        told: Callable[[], Sequence[Figure]] | None = ...,
    ) -> Figure: ...


def rule(name: str, unit: str, how: str, key: str = "") -> Worked:
    """A rule by which a figure follows from two or more others (or from one, where the operation
    takes one)."""
    stated = Rule(name, unit, how, key=key)
    work = OPERATIONS[how].work
    pair = OPERATIONS[how].pair or work

    def worked(subject: str, /, *parts: Figure, key: str = key) -> Figure:
        if len(parts) == 2:
            a, b = parts
            return Figure(pair(a.value, b.value), stated, parts, subject, key)
        if len(parts) == 3:
            a, b, c = parts
            return Figure(work(a.value, b.value, c.value), stated, parts, subject, key)
        return Figure(work(*[part.value for part in parts]), stated, parts, subject, key)

    return worked


def fact(name: str, unit: str, source: str, key: str = "") -> Told:
    """A rule of numbers that are not worked out: a fact, and where it is from."""
    stated = Rule(name, unit, "given", source, key)

    def told(value: Any, subject: str = "", key: str = key) -> Figure:
        return Figure(value, stated, (), subject, key)

    return told


def given(name: str, value: Any, unit: str, source: str, subject: str = "") -> Figure:
    """One fact whose source is its own."""
    return Figure(value, Rule(name, unit, "given", source), (), subject, "")


def total(name: str, unit: str, key: str = "", nothing: Decimal | int = ZERO) -> Added:
    """A rule of sums of any length.

    nothing  the sum of none: ZERO, or 0 where whole things are counted
    """
    stated = Rule(name, unit, "sum", key=key)

    def added(
        subject: str,
        parts: Sequence[Figure],
        key: str = key,
        told: Callable[[], Sequence[Figure]] | None = None,
    ) -> Figure:
        value = nothing
        for part in parts:
            value += part.value
        return Figure(value, stated, told or parts, subject, key)

    return added


class Costed:
    """A result read from figures: each attribute is the value of the figure of that name.

    What is told beside figures (keys, names, tuples of other results) is given back as it is; a
    function of the result is asked once, when somebody first wants to know. ``figure(name)`` opens
    one. Nothing can be changed afterwards.
    """

    __slots__ = ("_told",)

    def __init__(self, **told: Any) -> None:
        self._told = told

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        try:
            found = self._told[name]
        except KeyError:
            raise AttributeError(f"{type(self).__name__} has no {name}") from None
        if type(found) is FunctionType:
            found = self._ask(name)
        return found.value if type(found) is Figure else found

    def _ask(self, name: str) -> Any:
        with localcontext(CONTEXT):
            found = self._told[name] = self._told[name](self)
        return found

    def __repr__(self) -> str:
        shown = (f"{name}={getattr(self, name)!r}" for name in self._told if name != "facts")
        return f"{type(self).__name__}({', '.join(shown)})"

    def changed(self, **told: Any) -> Self:
        """The same result with other figures under some names."""
        return type(self)(**(self._told | told))

    def figure(self, name: str) -> Figure:
        """The figure behind an attribute; KeyError where there is none."""
        found = self._told[name]
        if type(found) is FunctionType:
            found = self._ask(name)
        if type(found) is not Figure:
            raise KeyError(name)
        return found
