"""List pages at 10,000 orders take as many queries as at 10, and not much longer.

`pytest tests/benchmarks/test_list_pages.py --benchmark-enable` takes the times; without it the
long list is 500 orders, so that the code cannot rot.
"""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders.models import Order, OrderLine
from tests.builders import make_bead, make_business, make_customer, make_design, make_person

pytestmark = pytest.mark.django_db

PAGES = ["orders:order_list", "orders:customer_list", "orders:home", "orders:firing"]


def fill(many: int) -> None:
    """So many orders of 8 designs by 40 customers, half of them collected."""
    make_business()
    designs = [make_design(f"Strand {n}", beads=make_bead(f"Bead {n}")) for n in range(8)]
    customers = [make_customer(f"Customer {n}") for n in range(40)]
    first = date(2024, 1, 1)
    orders = Order.objects.bulk_create(
        Order(
            number=n + 1,
            customer=customers[n % 40],
            state=Order.State.CONFIRMED if n % 2 else Order.State.COLLECTED,
            stage=5 if n % 2 else 6,
            taken_on=first + timedelta(days=n % 900),
            due_on=first + timedelta(days=n % 900 + 14),
            total=100,
        )
        for n in range(many)
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, design=designs[(order.number + k) % 8], strands=3, price=10)
        for order in orders
        for k in range(2)
    )


def queries_of(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(url).status_code == 200
    return len(queries)


@pytest.fixture(params=["short", "long"])
def orders(request):
    timed = request.config.getoption("benchmark_enable")
    many = 10 if request.param == "short" else 10_000 if timed else 500
    fill(many)
    return many


@pytest.mark.parametrize("name", PAGES)
def test_a_page_at_any_length_of_the_order_book(benchmark, client, orders, name):
    client.force_login(make_person("owner"))
    answer = benchmark(client.get, reverse(name))
    assert answer.status_code == 200


@pytest.mark.parametrize("name", PAGES)
def test_a_long_book_takes_no_more_queries_than_a_short_one(client, name):
    client.force_login(make_person("owner"))
    fill(10)
    few = queries_of(client, reverse(name))
    OrderLine.objects.all().delete()
    Order.objects.all().delete()
    first = make_customer("Customer 0")
    design = make_design("Strand again")
    orders = Order.objects.bulk_create(
        Order(number=n + 1, customer=first, state="confirmed", stage=5, taken_on=date(2026, 1, 2))
        for n in range(500)
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, design=design, strands=1, price=1) for order in orders
    )
    assert queries_of(client, reverse(name)) <= few
