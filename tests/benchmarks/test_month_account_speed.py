"""The account of a month out of a long book: the days before are never read.

`pytest tests/benchmarks/test_month_account_speed.py --benchmark-enable` takes the CPU time at 1,000
and at 1,000,000 movements; asked for is under 2 s at a million. Without it the same code runs once
on books of 1,000 and 30,000, and asks as many questions of either.
"""

import time
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.models import DesignPrice, StrandDesign
from orders.money.queries.month_account import account_of
from orders.money.queries.what_pays import what_pays
from stock.models import Balance, ItemKind
from tests.benchmarks.big_book import fill_book
from tests.benchmarks.test_book_speed import timed as timed
from tests.builders import make_business, make_design

pytestmark = pytest.mark.django_db

# Rounds lie evenly over 2,000 days from 2020 on: a month in the middle, and one at the end.
MIDDLE = (date(2022, 9, 1), date(2022, 9, 30))
LATEST = (date(2025, 5, 1), date(2025, 5, 31))


@pytest.fixture(params=["short", "long"])
def book(request, timed):
    """A book of 1,000 movements, or one of a million, each posting with a charge."""
    make_business()
    fill_book(1_000 if request.param == "short" else 1_000_000 if timed else 30_000)
    with connection.cursor() as cursor:
        cursor.execute(
            'INSERT INTO stock_charge (posting_id, "on", name, step, units, setup_min, minutes, '
            'rate, amount) SELECT id, "on", %s, %s, 0, 0, 1000000, 0, 1000 FROM stock_posting',
            ["hands", "Moulding"],
        )
    items = Balance.objects.inside().filter(item__kind=ItemKind.STRANDS).values_list("item")
    for number, (item,) in enumerate(items.distinct()):
        design = make_design(f"Design {number}", item_id=item)
        DesignPrice.objects.create(design=design, price=Decimal(9), valid_from=date(2020, 1, 1))
    assert StrandDesign.objects.exists()
    return request.param


@pytest.mark.benchmark(group="account of a month", timer=time.process_time)
@pytest.mark.parametrize("days", [MIDDLE, LATEST], ids=["in the middle", "the latest"])
def test_the_account_of_a_month(benchmark, book, days):
    found = benchmark.pedantic(account_of, args=days, rounds=3, warmup_rounds=1)
    assert found.account.put > 0


@pytest.mark.benchmark(group="what pays in a year", timer=time.process_time)
def test_what_pays_in_a_year(benchmark, book):
    year = (date(2024, 6, 1), date(2025, 5, 31))
    found = benchmark.pedantic(
        what_pays, args=year, kwargs={"longer": 90, "today": year[1]}, rounds=3
    )
    assert found.sellers


def test_it_asks_as_often_of_a_long_book(book):
    with CaptureQueriesContext(connection) as asked:
        account_of(*MIDDLE)
    assert len(asked) <= 36
