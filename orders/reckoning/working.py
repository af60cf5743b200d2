"""The working of a confirmed order, kept as it was on that day."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from orders.costing.results import OrderCosting
from orders.costing.working.terms import Term
from orders.costing.working.tree import order_tree
from orders.floor.promise import Promise
from orders.models import Order


@dataclass(frozen=True)
class KeptTerm:
    """A term of a kept working, with the names that a live `Term` has."""

    name: str
    value: Any
    unit: str
    how: str
    formula: str
    source: str
    subject: str = ""
    children: tuple["KeptTerm", ...] = field(default=())


def frozen_working(costing: OrderCosting, promise: Promise, order: Order) -> dict[str, Any]:
    """Tree, and the stages of the promise, ready for a JSON column; under the order's number,
    which the costing need not have known yet."""
    return {
        "tree": order_tree(costing).as_dict() | {"subject": str(order.number)},
        "promise": {
            "likely_on": promise.likely_on.isoformat(),
            "p90_on": promise.p90_on.isoformat(),
            "careful_how": promise.careful_how,
            "condition": promise.condition,
            "steps": [
                {"name": step.name, "until": step.until.isoformat(), "how": step.how}
                for step in promise.steps
            ],
        },
    }


def shown(term: Term) -> KeptTerm:
    """A live term for a page: what is used in several places is opened once."""
    return kept_term(term.as_dict())


def kept_term(told: dict[str, Any]) -> KeptTerm:
    """A term read back from what was kept; one used again says that it stands above."""
    try:
        value: Any = Decimal(told["value"])
        if value == value.to_integral_value() and "." not in told["value"]:
            value = int(value)
    except InvalidOperation:
        value = told["value"]
    return KeptTerm(
        name=told["name"],
        value=value,
        unit=told.get("unit", ""),
        how=told.get("how", ""),
        formula=_("worked out above") if told.get("see") else told.get("formula", ""),
        source=told.get("source", ""),
        subject=told.get("subject", ""),
        children=tuple(kept_term(child) for child in told.get("children", ())),
    )


@dataclass(frozen=True)
class KeptStep:
    name: str
    until: date
    how: str


@dataclass(frozen=True)
class KeptPromise:
    """A promise read back, with the names that a live `Promise` has."""

    likely_on: date
    p90_on: date
    careful_how: str
    condition: str
    steps: tuple[KeptStep, ...]


def kept_promise(working: dict[str, Any] | None) -> KeptPromise | None:
    """The promise kept with a working; None when there is none."""
    if not working or "promise" not in working:
        return None
    told = working["promise"]
    return KeptPromise(
        date.fromisoformat(told["likely_on"]),
        date.fromisoformat(told["p90_on"]),
        told.get("careful_how", ""),
        told.get("condition", ""),
        tuple(
            KeptStep(step["name"], date.fromisoformat(step["until"]), step["how"])
            for step in told.get("steps", ())
        ),
    )
