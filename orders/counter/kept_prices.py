"""Prices as a phone keeps them for the hours without a signal: those that stand in a list.

What is worked out anew for each order has no price there; the desk tells it when it is back.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from orders.costing.facts import ListPrice, PolicyFacts, WorkshopFacts
from orders.costing.pricing import list_steps
from orders.counter.queries import find_customers
from orders.facts.order import told_price
from orders.facts.standing import standing_facts
from orders.models import Customer, CustomerGroup, DesignPrice, StrandDesign, sees_tax
from orders.money.queries.snapshot import text
from workshop import formats
from workshop.models import Business
from workshop.money import ZERO, minor_digits

Steps = list[tuple[int, Decimal | None]]
MOST_PEOPLE = 300


def steps_json(steps: Iterable[tuple[int, Decimal | None]]) -> list[tuple[int, str | None]]:
    return [(least, None if price is None else text(price)) for least, price in steps]


def with_suggested(steps: Steps, each: Decimal) -> Steps:
    """Steps with the price that was worked out for one, up to where a break may change it."""
    return [(1, each), *steps[1:]] if steps[0] == (1, None) else steps


@dataclass
class KeptPrices:
    """Steps of the price lists on a day, as each customer is told them (2 queries)."""

    designs: Sequence[StrandDesign]
    business: Business
    on: date
    _books: dict[bool, WorkshopFacts] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._standing = standing_facts([design.pk for design in self.designs], self.on)
        self.rate = self._standing.tax.rate if self._standing.tax is not None else ZERO

    def listed(self, design: int, group: str, *, with_tax: bool) -> Steps:
        return list_steps(self._book(with_tax), design, group)

    def _book(self, with_tax: bool) -> WorkshopFacts:
        if with_tax not in self._books:
            prices = tuple(
                ListPrice(each.design_id, self.told(each, with_tax), each.group, each.from_strands)
                for each in self._standing.prices
            )
            policy = PolicyFacts(prices=prices, breaks=self._standing.breaks)
            self._books[with_tax] = WorkshopFacts(self.business.currency, policy=policy)
        return self._books[with_tax]

    def told(self, price: DesignPrice, with_tax: bool) -> Decimal:
        return told_price(price, with_tax, self.rate, self.business.currency)

    def money(self, *, with_tax: bool) -> dict[str, Any]:
        """How the phone writes sums, and the tax that it adds to prices told without."""
        added = self.rate if self.business.tax_registered and not with_tax else ZERO
        return {
            "form": formats.money(ZERO),
            "taxed": self.business.tax_registered,
            "digits": minor_digits(self.business.currency),
            "tax": text(added / 100),
        }


def sale_prices(
    rows: Iterable[Any], customer: Customer | None, business: Business, on: date
) -> dict[str, Any]:
    """Prices of what lies ready, for one customer or nobody by name (3 queries).

    rows  with `card.design` and `each_told`, what one costs where it could be worked out
    """
    rows = list(rows)
    kept = KeptPrices([row.card.design for row in rows], business, on)
    with_tax = sees_tax(customer, business, CustomerGroup.WALK_IN)
    group = customer.group if customer else CustomerGroup.WALK_IN
    own = _agreed(kept, [customer] if customer else [])
    told = {}
    for row in rows:
        pk = row.card.design.pk
        steps = kept.listed(pk, group, with_tax=with_tax)
        agreed = own.get(customer.pk, {}).get(pk) if customer else None
        if agreed:
            steps = merged(steps, agreed)
        elif row.each_told is not None:
            steps = with_suggested(steps, row.each_told)
        told[pk] = steps_json(steps)
    return {**kept.money(with_tax=with_tax), "steps": told}


def merged(steps: Steps, agreed: Steps) -> Steps:
    """List prices up to where a customer's own begin."""
    return [step for step in steps if step[0] < agreed[0][0]] + agreed


def order_prices(designs: Sequence[StrandDesign], business: Business, on: date) -> dict[str, Any]:
    """List prices of every group, and of customers who have their own (4 queries).

    people  the latest buyers: name, list, and own prices by design
    """
    kept = KeptPrices(designs, business, on)
    people = find_customers("", MOST_PEOPLE)
    agreed = _agreed(kept, people)
    forms = {(person.group, sees_tax(person, business)) for person in people}
    forms |= {(group, business.tells_with_tax(group)) for group in CustomerGroup.values}
    return {
        **kept.money(with_tax=True),
        "lists": {
            _form(group, with_tax): {
                design.pk: steps_json(kept.listed(design.pk, group, with_tax=with_tax))
                for design in designs
            }
            for group, with_tax in sorted(forms)
        },
        "groups": {g: _form(g, business.tells_with_tax(g)) for g in CustomerGroup.values},
        "people": [
            {
                "id": person.pk,
                "name": person.name,
                "list": _form(person.group, sees_tax(person, business)),
                "own": {d: steps_json(s) for d, s in agreed.get(person.pk, {}).items()},
            }
            for person in people
        ],
    }


def _form(group: str, with_tax: bool) -> str:
    return f"{group} with" if with_tax else group


def _agreed(kept: KeptPrices, people: Sequence[Customer]) -> Mapping[int, dict[int, Steps]]:
    """Steps agreed with each of these customers, by design (1 query)."""
    by_key = {person.pk: person for person in people}
    rows = DesignPrice.objects.filter(
        customer__in=by_key, design__in=kept.designs, valid_from__lte=kept.on
    ).order_by("valid_from", "id")
    newest: dict[int, dict[int, dict[int, Decimal]]] = {}
    for row in rows:
        assert row.customer_id is not None
        with_tax = sees_tax(by_key[row.customer_id], kept.business)
        own = newest.setdefault(row.customer_id, {}).setdefault(row.design_id, {})
        own[row.from_strands] = kept.told(row, with_tax)
    return {
        person: {design: sorted(steps.items()) for design, steps in own.items()}
        for person, own in newest.items()
    }


def as_data(told: Mapping[str, Any]) -> str:
    return json.dumps(told, separators=(",", ":"))
