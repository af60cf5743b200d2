"""A spoiled load: its beads are gone, its orders wait again, and it says whose day moves."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.firing.services.log import beads_by_place, spoil_load
from orders.models import FiringPlan, LoadShare, WorkOrder
from stock.models import Balance, GlassForm, KilnLoad
from stock.services.places import glass_item
from tests.builders import make_colour, make_rate
from tests.orders.firing.conftest import burning_load, light, make_load, moulded_job, put_in

pytestmark = pytest.mark.django_db
Step = WorkOrder.Step


def test_its_orders_wait_to_be_moulded_again(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    outcome = spoil_load(load, person=workshop["keeper"], why="The gas ran out")
    job.refresh_from_db()
    load.refresh_from_db()
    assert load.state == KilnLoad.State.SPOILED and load.note == "The gas ran out"
    assert (job.step, job.batch, job.good) == (Step.MOULDING, None, 0)
    assert [again.pk for again in outcome.again] == [job.pk]


def test_the_glass_of_rejects_is_kept(workshop):
    job = moulded_job(workshop)
    batch = job.batch
    load = burning_load(workshop, job)
    spoil_load(load, person=workshop["keeper"], why="Overheated")
    assert beads_by_place(batch) == {}
    kept = Balance.objects.get(item=glass_item(make_colour(), GlassForm.REJECTS), inside=True)
    assert kept.quantity > 0


def test_what_else_of_the_batch_was_planned_is_taken_out_of_the_plan(workshop):
    job = moulded_job(workshop, 2)
    load = burning_load(workshop, job)
    later = put_in(make_load(workshop), job, 5)
    spoil_load(load, person=workshop["keeper"], why="Overheated")
    assert not LoadShare.objects.filter(tray=later).exists()


def test_part_of_a_batch_in_another_load_still_counts(workshop):
    job = moulded_job(workshop, 2)
    load = make_load(workshop)
    put_in(load, job, 24)
    light(load, workshop["keeper"])
    spoil_load(load, person=workshop["keeper"], why="Overheated")
    job.refresh_from_db()
    assert job.step == Step.FIRING  # the rest of its beads still waits for the fire


def test_it_wants_to_know_what_went_wrong(workshop):
    load = burning_load(workshop, moulded_job(workshop))
    with pytest.raises(ValidationError):
        spoil_load(load, person=workshop["keeper"], why="  ")
    load.refresh_from_db()
    assert load.state == KilnLoad.State.FIRING


def test_the_keeper_is_led_to_a_new_plan_that_names_the_order_whose_day_moves(client, workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    # Two moulds of 500 minutes each are not filled again today.
    make_rate("Filling", skill="moulding", basis="mould", minutes_each=Decimal(500))
    client.force_login(workshop["keeper"])
    answer = client.post(
        reverse("orders:load_spoil", args=[load.number]),
        {"why": "The gas ran out", "glass": "kept", "ended_at": "2030-01-01T10:00"},
    )
    assert answer.status_code == 422  # that is still to come
    now = timezone.localtime().strftime("%Y-%m-%dT%H:%M:%S")
    KilnLoad.objects.filter(pk=load.pk).update(started_at=timezone.now() - timedelta(hours=4))
    answer = client.post(
        reverse("orders:load_spoil", args=[load.number]),
        {"why": "The gas ran out", "glass": "kept", "ended_at": now, "version": load.version},
        follow=True,
    )
    plan = FiringPlan.objects.get()
    assert answer.redirect_chain[-1][0] == reverse("orders:plan", args=[plan.pk])
    page = answer.content.decode()
    assert f"order {job.order.number} waits again" in page
    assert [row["order"] for row in plan.content["moved"]] == [str(job.order.number)]
