"""What is known of a customer without adding up: kept beside them, in the act that changes it."""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import Count, F, Max, OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.db.models.sql import UpdateQuery

from orders.models.customers import Customer
from orders.models.money import Document, Payment
from orders.models.orders import Order
from workshop.models import MoneyField

NEVER_COUNTED = (Order.State.DRAFT, Order.State.QUOTED, Order.State.CANCELLED)
MONEY = MoneyField()
OPEN = Sum(F("total") - F("settled"), output_field=MONEY)


def keep_accounts(customers: Iterable[int]) -> None:
    """Work out anew what these customers owe, have in credit and took last (1 query each).

    By indexes of what is open, so an act takes no longer for a long past. Whoever buys without a
    name has no account: theirs are everybody's orders. The statement is written out once, for
    that takes ten times as long as the database needs to do it.
    """
    statement, given = _statement(connection.vendor)
    with connection.cursor() as cursor:
        for customer in sorted(set(customers)):
            cursor.execute(statement, [customer if each == ANYBODY else each for each in given])


ANYBODY = -1  # in the place of a customer's key


@cache
def _statement(_vendor: str) -> tuple[str, tuple[Any, ...]]:
    """The UPDATE of one customer's sums, and its values with ANYBODY where the key belongs."""
    rows = Customer.objects.filter(pk=ANYBODY, nameless=False)
    query = rows.query.chain(UpdateQuery)
    query.add_update_values(sums())
    statement, given = query.get_compiler(connection=connection).as_sql()
    return statement, tuple(given)


def sums() -> dict[str, Coalesce | Subquery]:
    """Each kept sum as the database finds it from the rows it is the sum of."""
    papers, payments = Document.objects.order_by(), Payment.objects.order_by()
    orders = Order.objects.exclude(state__in=NEVER_COUNTED).order_by()
    notes = papers.filter(kind=Document.Kind.CREDIT, settled__lt=F("total"))
    return {
        "owes": _money(papers.open(), OPEN),
        "credit": _money(notes, OPEN) + _money(payments.exclude(unused=0), Sum("unused")),
        "last_on": _of_one(orders, Max("taken_on")),
        "orders_taken": Coalesce(_of_one(orders, Count("pk")), Value(0)),
    }


def accounts_differ() -> Iterator[str]:
    """Customers of whom something else is kept than their rows add up to (1 query)."""
    really = {f"really_{name}": value for name, value in sums().items()}
    rows = Customer.objects.filter(nameless=False).annotate(**really).order_by("pk")
    for row in rows.iterator(chunk_size=500):
        for name in sums():
            kept, found = getattr(row, name), getattr(row, f"really_{name}")
            if kept != found:
                yield f"Of {row} (customer {row.pk}) {name} is kept as {kept}; it is {found}."


def _of_one(rows: QuerySet, what: Max | Sum | Count) -> Subquery:
    of_one = rows.filter(customer=OuterRef("pk")).values("customer")
    return Subquery(of_one.annotate(found=what).values("found"))


def _money(rows: QuerySet, what: Sum) -> Coalesce:
    found = _of_one(rows, what)
    found.output_field = MONEY
    return Coalesce(found, Value(Decimal(0), output_field=MONEY))
