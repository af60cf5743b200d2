"""The book stays quick however long it grows.

`pytest tests/benchmarks/test_book_speed.py --benchmark-enable` takes the times at 1,000 and at
1,000,000 movements; compare the two rows of each group. Without it the same code runs once on
books of 1,000 and 30,000 movements, so that it cannot rot.
"""

import resource
from itertools import count

import pytest
from django.core.management import call_command
from django.utils import timezone

from stock.models import Balance, PlaceKind, PostingKind
from stock.services.book import Move, post
from stock.services.places import glass_item, usual_place
from stock.services.preparation import raw_of
from tests.benchmarks.big_book import count_movements, fill_book
from tests.builders import make_colour, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(params=["short", "long"])
def book(request):
    """A book of 1,000 movements, or one of a million."""
    timed = not request.config.getoption("benchmark_disable") or request.config.getoption(
        "benchmark_enable"
    )
    long = 1_000_000 if timed else 30_000
    fill_book(1_000 if request.param == "short" else long)
    return request.param


@pytest.mark.benchmark(group="balance look-up")
def test_looking_up_a_balance(benchmark, book):
    item = glass_item(make_colour(), "raw")
    place = usual_place(PlaceKind.YARD)

    def look_up():
        return Balance.objects.get(item=item, place=place).quantity

    assert benchmark(look_up) == 0


@pytest.mark.benchmark(group="posting")
def test_posting_a_sack(benchmark, book):
    part = raw_of(make_colour(), 1)
    collectors = usual_place(PlaceKind.COLLECTORS)
    person, today, numbers = make_person(), timezone.localdate(), count()

    def write():
        move = Move(part.item, collectors, part.place, 1000)
        post(PostingKind.SACK, [move], on=today, person=person, why=f"sack {next(numbers)}")

    benchmark.pedantic(write, rounds=200, iterations=1, warmup_rounds=10)
    row = Balance.objects.get(item=part.item, place=part.place)
    assert row.quantity == next(numbers) * 1000


@pytest.mark.benchmark(group="check_book")
def test_checking_the_whole_book(benchmark, book, capsys):
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    benchmark.pedantic(call_command, args=("check_book",), rounds=1, iterations=1)
    grown_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    said = capsys.readouterr().out
    assert f"{count_movements()} movements" in said
    # The database's own page cache and sorter; the rows themselves are never held.
    assert grown_kb < 64_000
