"""Promised and kept: how late, why, and what the kilns were used for."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.bench.services import finish_job, mould_job, string_line
from orders.firing.queries.dates_kept import (
    SPOILED,
    TOO_FEW,
    Kept,
    by_lateness,
    causes_of,
    dates_kept,
    kiln_use,
)
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayOut, log_firing, spoil_load
from orders.models import Order, WorkOrder
from stock.models import KilnLoad
from tests.builders import make_person
from tests.orders.firing.conftest import burning_load, make_load, moulded_job, put_in
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db
LONG_AGO = date(2026, 1, 1)


def strung_order(workshop, job, good=None):
    load = burning_load(workshop, job)
    outs = [TrayOut(tray, tray.beads) for tray in trays_of(load)]
    log_firing(load, outs, person=workshop["keeper"])
    job.refresh_from_db()
    finish_job(job, good=job.to_start, rejected=0, person=workshop["hand"])
    for line in job.order.lines.all():
        string_line(line, line.strands, person=workshop["hand"])
    return Order.objects.get(pk=job.order_id)


def test_an_order_is_ready_on_the_day_its_last_strand_is_strung(workshop):
    order = strung_order(workshop, moulded_job(workshop))
    Order.objects.filter(pk=order.pk).update(due_on=timezone.localdate() + timedelta(days=3))
    (kept,) = dates_kept(LONG_AGO)
    assert (kept.order, kept.ready_on, kept.days_late) == (order, timezone.localdate(), -3)


def test_orders_are_counted_by_how_early_or_late_they_were():
    today = date(2026, 11, 25)
    kept = [
        Kept(Order(due_on=today - timedelta(days=days)), today) for days in (-9, -2, 0, 1, 3, 4)
    ]
    assert [number for _name, number, _late in by_lateness(kept)] == [1, 1, 1, 2, 1]


def test_a_spoiled_load_is_the_cause_of_its_orders_lateness(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    spoil_load(load, person=workshop["keeper"], why="The gas ran out")
    job.refresh_from_db()
    mould_job(job, job.to_start, person=workshop["hand"])
    job.refresh_from_db()
    order = strung_order(workshop, job)
    late = Kept(order, order.due_on + timedelta(days=2))
    assert causes_of([late]) == {order.pk: SPOILED}


def test_too_few_good_beads_are_a_cause(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    log_firing(load, [TrayOut(trays_of(load)[0], job.to_start)], person=workshop["keeper"])
    job.refresh_from_db()
    finish_job(job, good=10, rejected=job.to_start - 10, person=workshop["hand"])
    late = Kept(job.order, job.order.due_on + timedelta(days=2))
    assert causes_of([late]) == {job.order_id: TOO_FEW}


def test_else_the_step_where_the_beads_stood_longest_is_the_cause(workshop):
    """Moulded at once, then five days before the fire."""
    order = strung_order(workshop, moulded_job(workshop))
    moves = AuditEntry.objects.filter(act="move beads").order_by("pk")
    days = {WorkOrder.Step.FIRING: 10, WorkOrder.Step.FINISHING: 5, WorkOrder.Step.DONE: 5}
    for act in moves:
        AuditEntry.objects.filter(pk=act.pk).update(
            at=timezone.now() - timedelta(days=days[act.after["step"]])
        )
    Order.objects.filter(pk=order.pk).update(confirmed_at=timezone.now() - timedelta(days=10))
    order.refresh_from_db()
    late = Kept(order, timezone.localdate() - timedelta(days=4))
    assert causes_of([late]) == {order.pk: WorkOrder.Step.FIRING}


def test_the_share_of_places_filled_is_over_all_loads_of_a_kiln(workshop):
    """Two moulds, then none counted spoiled: 2 of 12 places, and 180 minutes in use."""
    strung_order(workshop, moulded_job(workshop))
    (use,) = kiln_use(LONG_AGO)
    assert (use.loads, use.spoiled, use.filled) == (1, 0, Decimal(2) / 12)
    # 60 preheat, 30 held, 90 cooling.
    assert use.burning_min == 180


def test_planned_loads_are_not_counted_as_use(workshop):
    put_in(make_load(workshop), moulded_job(workshop))
    (use,) = kiln_use(LONG_AGO)
    assert use.loads == 0


def test_the_page_shows_what_was_late_and_why(client, workshop):
    order = strung_order(workshop, moulded_job(workshop))
    Order.objects.filter(pk=order.pk).update(
        taken_on=timezone.localdate() - timedelta(days=9),
        due_on=timezone.localdate() - timedelta(days=2),
    )
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:dates_kept")).content.decode()
    assert "2 days" in page and "waited" in page and "0%" in page
    assert page.count("<svg") >= 4


def test_an_order_past_its_day_and_not_ready_has_missed_it_too(client, workshop):
    """One order strung in time, one due two days ago and still in the kiln: one in two."""
    strung_order(workshop, moulded_job(workshop))
    late = moulded_job(workshop, customer="Tomas Reku").order
    Order.objects.filter(pk=late.pk).update(
        taken_on=timezone.localdate() - timedelta(days=9),
        due_on=timezone.localdate() - timedelta(days=2),
    )
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:dates_kept"))
    assert page.context["share"] == Decimal("0.5")
    assert page.context["overdue_count"] == 1
    words = page.content.decode()
    assert "Past their day, and not ready yet" in words
    assert "Tomas Reku" in words and "50%" in words


def test_before_the_first_strand_it_says_so(client, workshop):
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:dates_kept")).content.decode()
    assert "No order has been strung in this time." in page


@pytest.mark.parametrize("many", [1, 4])
def test_the_page_takes_the_same_queries_whatever_was_made(
    client, workshop, many, django_assert_num_queries
):
    for n in range(many):
        order = strung_order(workshop, moulded_job(workshop, customer=f"Customer {n}"))
        Order.objects.filter(pk=order.pk).update(
            taken_on=timezone.localdate() - timedelta(days=9),
            due_on=timezone.localdate() - timedelta(days=2),
        )
    client.force_login(workshop["keeper"])
    with django_assert_num_queries(12):
        client.get(reverse("orders:dates_kept"))


def test_bench_and_yard_do_not_open_it(client, workshop):
    for role in ("bench", "yard"):
        client.force_login(make_person(role))
        assert client.get(reverse("orders:dates_kept")).status_code == 404
    assert KilnLoad.objects.count() == 0
