"""A customer is found by name as quickly after ten years as in the first week.

`pytest tests/benchmarks/test_customer_speed.py --benchmark-enable` takes the times in a book of
2,000 customers, 100,000 orders and 60,000 invoices; without it the book is a hundredth of that,
so that the code cannot rot. Times are the processor's, not the clock's.
"""

from datetime import date, timedelta
from time import process_time

import pytest

from orders.counter.queries import find_customers, with_dues
from orders.models import Customer, Document, Order
from tests.builders import make_business

pytestmark = [pytest.mark.django_db, pytest.mark.benchmark(timer=process_time)]
FIRST = date(2016, 12, 1)


@pytest.fixture
def book(request):
    """Every tenth customer is a Marisa; the last few hundred invoices are still open."""
    timed = request.config.getoption("benchmark_enable")
    people, orders, invoices = (2_000, 100_000, 60_000) if timed else (20, 1_000, 600)
    make_business()
    customers = Customer.objects.bulk_create(
        Customer(name=f"{'Marisa' if n % 10 == 0 else 'Tomas'} {n}", phone=f"0470 {n:05}")
        for n in range(people)
    )
    Order.objects.bulk_create(
        (
            Order(
                number=n + 1,
                customer=customers[n * 7 % people],
                state=Order.State.COLLECTED,
                stage=6,
                taken_on=FIRST + timedelta(days=n * 3650 // orders),
                due_on=FIRST + timedelta(days=n * 3650 // orders + 14),
                total=100,
            )
            for n in range(orders)
        ),
        batch_size=500,
    )
    Document.objects.bulk_create(
        (
            Document(
                kind=Document.Kind.INVOICE,
                sequence=n + 1,
                number=f"{n + 1}",
                issued_on=FIRST + timedelta(days=n * 3650 // invoices),
                due_on=FIRST + timedelta(days=n * 3650 // invoices + 30),
                customer=customers[n * 11 % people],
                currency="EUR",
                net=100,
                total=100,
                settled=100 if n < invoices - invoices // 300 else 0,
                content={},
            )
            for n in range(invoices)
        ),
        batch_size=500,
    )
    return invoices // 300


def test_a_customer_found_by_name(benchmark, book):
    assert len(benchmark(find_customers, "marisa")) in {2, 8}


def test_the_list_of_people_by_what_they_owe(benchmark, book):
    rows = benchmark(lambda: list(with_dues(Customer.objects.all()).order_by("-owes", "pk")[:50]))
    assert sum(row.owes for row in rows) == 100 * min(book, sum(row.owes > 0 for row in rows))
    assert rows[0].owes > 0
