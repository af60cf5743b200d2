"""The book stays quick however long it grows.

`pytest tests/benchmarks/test_book_speed.py --benchmark-enable` takes the times at 1,000 and at
1,000,000 movements; compare the two rows of each group. Without it the same code runs once on
books of 1,000 and 30,000 movements, so that it cannot rot; memory is looked at in smaller ones.
"""

import os
import subprocess
import sys
from decimal import Decimal
from functools import partial
from itertools import count
from pathlib import Path
from time import process_time

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from stock.models import (
    Balance,
    BeadBatch,
    GlassForm,
    LocationKind,
    LossName,
    Posting,
    PostingKind,
    Sack,
)
from stock.services.book import Move, post
from stock.services.convert import Made, Taken, convert
from stock.services.moves import Cost
from stock.services.places import MOULDED, batch_item, bench_place, glass_item, usual_place
from stock.services.preparation import raw_of
from stock.services.tags import publish_tag, tag_of
from tests.benchmarks.big_book import count_movements, fill_book
from tests.builders import make_bead, make_collector, make_colour, make_person, put_glass

ROOT = Path(__file__).resolve().parent.parent.parent
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
pytestmark = pytest.mark.django_db


@pytest.fixture(scope="session")
def timed(pytestconfig) -> bool:
    """Whether times are taken, or the code only runs."""
    return not pytestconfig.getoption("benchmark_disable") or pytestconfig.getoption(
        "benchmark_enable"
    )


@pytest.fixture(params=["short", "long"])
def book(request, timed):
    """A book of 1,000 movements, or one of a million."""
    long = 1_000_000 if timed else 30_000
    fill_book(1_000 if request.param == "short" else long)
    return request.param


@pytest.mark.benchmark(group="balance look-up")
def test_looking_up_a_balance(benchmark, book):
    item = glass_item(make_colour(), "raw")
    place = usual_place(LocationKind.YARD)

    def look_up():
        return Balance.objects.get(item=item, place=place).quantity

    assert benchmark(look_up) == 0


@pytest.mark.benchmark(group="posting a moulding", timer=process_time)
@pytest.mark.parametrize("bears", ["its glass alone", "its making too"])
def test_posting_with_the_cost_of_making(benchmark, bears):
    """Four charges beside the glass; asked for are at most 1.2 times the CPU of none."""
    green, bead, numbers = make_colour(), make_bead(), count(1)
    put_glass(green, GlassForm.POWDER, 900)
    powder, shelf = glass_item(green, GlassForm.POWDER), usual_place(LocationKind.GLASS_SHELF)
    person, today, spot = make_person("bench"), timezone.localdate(), bench_place(MOULDED)
    making = (
        ("hands", "Moulding"),
        ("workshop", "Moulding"),
        ("moulds", "wear"),
        ("moulds", "wash"),
    )
    charges = [Cost(name, Decimal("0.6"), step, Decimal(3)) for name, step in making]

    def made():
        number = next(numbers)
        batch = BeadBatch.objects.create(number=number, bead=bead, made_on=today, started=10)
        return (batch_item(batch), number), {}

    def mould(item, number):
        convert(
            PostingKind.MOULDING, [Taken(powder, shelf, 20_000)], [Made(item, spot, 10)],
            rest=LossName.SPILL, on=today, person=person, why=f"batch {number}",
            charges=charges if bears == "its making too" else [],
        )  # fmt: skip

    benchmark.pedantic(mould, setup=made, rounds=200)


@pytest.mark.benchmark(group="posting")
def test_posting_a_sack(benchmark, book):
    part = raw_of(make_colour(), 1)
    collectors = usual_place(LocationKind.COLLECTORS)
    person, today, numbers = make_person(), timezone.localdate(), count()

    def write():
        move = Move(part.item, collectors, part.place, 1000)
        post(PostingKind.SACK, [move], on=today, person=person, why=f"sack {next(numbers)}")

    benchmark.pedantic(write, rounds=200, iterations=1, warmup_rounds=10)
    row = Balance.objects.get(item=part.item, place=part.place)
    assert row.quantity == next(numbers) * 1000


def _page_in_time(benchmark, client, page):
    """A page asked for by somebody: the server's own time for it stays under 200 ms."""
    assert client.get(page).status_code == 200
    began = process_time()
    client.get(page)
    assert process_time() - began < 0.2
    benchmark.pedantic(client.get, args=(page,), rounds=20, iterations=1)


def _strung_in_the_middle() -> Posting:
    strung = Posting.objects.filter(kind=PostingKind.STRINGING).order_by("pk")
    return strung[strung.count() // 2]


@pytest.mark.benchmark(group="where a strand came from")
def test_following_a_strand_back(benchmark, book, client):
    client.force_login(make_person())
    page = reverse("stock:trail_strand", args=[_strung_in_the_middle().pk])
    _page_in_time(benchmark, client, page)


@pytest.mark.benchmark(group="where a strand came from, for everybody")
def test_the_public_page_of_a_strand(benchmark, book, client):
    tag = publish_tag(tag_of(_strung_in_the_middle()), True, person=make_person())
    _page_in_time(benchmark, client, reverse("stock:strand_story", args=[tag.token]))


@pytest.mark.benchmark(group="where a sack went")
def test_following_a_sack_on(benchmark, book, client):
    client.force_login(make_person())
    postings = Posting.objects.filter(kind=PostingKind.SACK).order_by("pk")
    posting = postings[postings.count() // 2]
    movement = posting.movements.select_related("item").get()
    sack = Sack.objects.create(
        number=1, collector=make_collector(), colour=movement.item.colour, posting=posting,
        received_on=posting.on, gross_g=10, price_per_kg=0, amount=0, logged_by=make_person(),
    )  # fmt: skip
    _page_in_time(benchmark, client, reverse("stock:trail_sack", args=[sack.pk]))


@pytest.mark.benchmark(group="check_book")
def test_checking_the_whole_book(benchmark, book, capsys):
    benchmark.pedantic(call_command, args=("check_book",), rounds=1, iterations=1)
    assert f"{count_movements()} movements" in capsys.readouterr().out


def test_a_book_five_times_as_long_needs_no_more_memory_to_check(tmp_path, timed):
    """Peak memory of `check_book` in a process of its own, at 30,000 and 150,000 movements.

    Or of 8,000 and 40,000: a kilobyte kept of each would add a third to what Python itself needs.
    """
    sizes = (30_000, 150_000) if timed else (8_000, 40_000)
    peaks = [_peak_kb(tmp_path / f"{size}.sqlite3", size) for size in sizes]
    assert peaks[1] < 1.1 * peaks[0]


def _peak_kb(path, movements: int) -> int:
    environment = {**os.environ, "DATABASE_URL": f"sqlite:///{path}"}
    run = partial(subprocess.run, cwd=ROOT, env=environment, check=True, capture_output=True)
    run([sys.executable, "-m", "tests.benchmarks.big_book", str(movements)])
    script = (
        "import resource, django; django.setup(); "
        "from django.core.management import call_command; call_command('check_book'); "
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    return int(run([sys.executable, "-c", script]).stdout.split()[-1])
