"""The firing board at 500 open jobs: read, drawn, planned.

`pytest tests/benchmarks/test_firing_speed.py --benchmark-enable` takes the times; without it the
same code runs once on a small floor, so that it cannot rot. The board and the promise are timed by
the processor's clock, since SQLite works in the same process and a neighbour's work is not ours.
"""

import os
import time
from datetime import time as clock
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.costing.cost_order import cost_order
from orders.facts.order import facts_for
from orders.firing.queries.plan_effects import figures
from orders.firing.services.plan import accept_plan, propose_plan, work_out
from orders.floor.promise import promise_for
from orders.floor.read_floor import read_floor
from orders.models import LoadShare, Order, StrandDesign, WantedLine, WorkOrder
from stock.models import Balance, BeadBatch, Item, KilnLoad, LoadTray
from stock.services.places import MOULDED, bench_place
from tests.builders import (
    make_bead,
    make_business,
    make_customer,
    make_design,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
)
from workshop.formats import written_as
from workshop.models import Business, WorkingHours

pytestmark = pytest.mark.django_db
FIRINGS = (("Gentle", 730, 710, 760), ("Firm", 760, 740, 790), ("Hot", 860, 840, 900))


@pytest.fixture
def floor_of_jobs(request):
    """500 moulded jobs of 12 kinds of bead, three kilns; 20 jobs when nothing is timed."""
    timed = not request.config.getoption("benchmark_disable") or request.config.getoption(
        "benchmark_enable"
    )
    fill_floor(500 if timed else 20)
    return 500 if timed else 20


def fill_floor(many: int) -> None:
    make_business()
    for weekday in range(6):
        WorkingHours.objects.create(weekday=weekday, opens=clock(7), closes=clock(18))
    for name, places in (("Clay kiln", 24), ("Tall kiln", 36), ("Small kiln", 24)):
        make_kiln(name, places=places, preheat_min=60, cooling_min=90)
    programmes = [
        make_programme(name, hold_c=hold, from_c=low, to_c=high)
        for name, hold, low, high in FIRINGS
    ]
    moulds = [make_mould(f"Round {n}", owned=60, cavities=24) for n in range(4)]
    beads = [
        make_bead(f"Bead {n}", programme=programmes[n % 3], mould=moulds[n % 4]) for n in range(12)
    ]
    design = make_design("Strand", beads=beads[0])
    customer, now, today = make_customer(), timezone.now(), timezone.localdate()
    bench = bench_place(MOULDED)
    for n in range(many):
        bead = beads[n % 12]
        count = 24 + n * 7 % 96
        order = Order.objects.create(
            number=n + 1, customer=customer, state=Order.State.CONFIRMED, taken_on=today,
            confirmed_at=now, due_on=today + timedelta(days=3 + n // 12),
        )  # fmt: skip
        order.lines.create(design=design, strands=2, price=1)
        batch = BeadBatch.objects.create(number=n + 1, bead=bead, made_on=today, started=count)
        item = Item.objects.create(kind="beads", name=f"batch {n + 1}", batch=batch)
        Balance.objects.create(item=item, place=bench, inside=True, quantity=count, come=count)
        WorkOrder.objects.create(
            order=order, bead=bead, needed=count - 4, to_start=count, moulds=-(-count // 24),
            step=WorkOrder.Step.FIRING, step_since=now, batch=batch,
        )  # fmt: skip


def plan_all() -> None:
    accept_plan(
        propose_plan(person=make_person("kiln"), seconds=0.5, bound=False),
        person=make_person("kiln"),
    )


@pytest.mark.benchmark(group="read the floor")
def test_reading_the_floor_into_the_planner(benchmark, floor_of_jobs):
    plan_all()
    floor = benchmark(read_floor)
    assert len(floor.instance.jobs) == floor_of_jobs


@pytest.mark.benchmark(group="firing board", timer=time.process_time)
def test_opening_the_firing_board(benchmark, client, floor_of_jobs):
    plan_all()
    client.force_login(make_person("kiln"))
    answer = benchmark(client.get, reverse("orders:firing"))
    assert answer.status_code == 200
    if benchmark.enabled and not os.environ.get("CI"):
        assert benchmark.stats.stats.median < 0.300


@pytest.mark.benchmark(group="promise, the board read from the book", timer=time.process_time)
@pytest.mark.parametrize("strands", [1, 20, 120])
@pytest.mark.parametrize("planned", [True, False])
def test_a_promise_with_every_load_read_from_the_book(
    benchmark, floor_of_jobs, strands, planned, django_assert_max_num_queries
):
    """Everything after the costing: hours, hands, loads, trays, waiting beads, records, the day.

    Once with every job in a load, and once with none: then the counter's first question finds
    room for all of them, and that is kept for the next.
    """
    if planned:
        plan_all()
    design, business = StrandDesign.objects.get(), Business.current()
    line = WantedLine(design.pk, strands)
    today = timezone.localdate()
    costing = cost_order(facts_for([line], customer=None, business=business, on=today))
    with written_as(business):
        promise_for(costing, today=today, business=business)
        with django_assert_max_num_queries(14):
            promise_for(costing, today=today, business=business)
        found = benchmark(promise_for, costing, today=today, business=business)
    assert found.p90_on > found.likely_on and found.room is not None
    if benchmark.enabled and not os.environ.get("CI"):
        # The target for a quiet machine, reading the board included.
        assert benchmark.stats.stats.median < 0.020


@pytest.mark.benchmark(group="plan the kilns again")
def test_planning_all_of_it_again_in_a_second(benchmark, floor_of_jobs):
    """One second of search; the rest is what we add around it."""
    floor = read_floor()
    seconds = 1.0 if floor_of_jobs > 100 else 0.1
    plan = benchmark.pedantic(lambda: work_out(floor, seconds), rounds=1)
    assert figures(floor, floor.with_pinned(plan)).unplaced == 0


@pytest.mark.benchmark(group="accept a plan")
def test_writing_an_accepted_plan(benchmark, floor_of_jobs):
    keeper = make_person("kiln")
    proposal = propose_plan(person=keeper, seconds=0.3, bound=False)
    benchmark.pedantic(lambda: accept_plan(proposal, person=keeper), rounds=1)
    placed = LoadShare.objects.values("job").distinct().count()
    assert placed == floor_of_jobs
    assert LoadTray.objects.count() >= KilnLoad.objects.count()
