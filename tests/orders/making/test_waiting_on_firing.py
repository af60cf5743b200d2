"""Which orders wait on firing, why, and for how long."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.waiting import waiting_on_firing
from orders.floor.kiln_room import free_room
from orders.models import LoadShare, WorkOrder
from stock.models import GlassForm, KilnLoad, LoadTray
from tests.builders import (
    make_bead,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_order,
    make_person,
    put_beads,
    put_glass,
)
from workshop.formats import written_as

pytestmark = pytest.mark.django_db


def sentences(order) -> list[str]:
    waiting = next(each for each in waiting_on_firing() if each.order == order)
    return [reason.sentence for reason in waiting.reasons]


def test_an_order_waits_for_the_glass_that_is_short(workshop):
    order = make_order(10, design=workshop["design"])
    needed_g = Decimal(order.glass_needs.get().needed_mg) / 1000
    # Raw glass for it: what is needed ÷ (0.90 left after grinding × 0.97 after washing).
    short_kg = needed_g / Decimal("0.90") / Decimal("0.97") / 1000
    (waiting,) = waiting_on_firing()
    assert waiting.is_short
    assert sentences(order)[0] == f"green, {short_kg:.3f}\u00a0kg raw short"


def test_raw_glass_in_the_yard_is_to_be_prepared_not_short(workshop):
    put_glass(make_colour(), GlassForm.RAW, 20)
    order = make_order(10, design=workshop["design"])
    (waiting,) = waiting_on_firing()
    assert not waiting.is_short
    assert "raw to prepare" in sentences(order)[0]


def test_the_same_kilogram_is_not_promised_to_two_orders(workshop):
    first = make_order(10, design=workshop["design"], due_on=date(2027, 3, 5))
    second = make_order(10, design=workshop["design"], due_on=date(2027, 3, 12))
    kg = Decimal(first.glass_needs.get().needed_mg) / 1_000_000
    put_glass(make_colour(), GlassForm.POWDER, kg + Decimal("0.010"))
    assert sentences(first)[0].startswith("glass is there, to be moulded, room kept in load ")
    assert "short" in sentences(second)[0]


def test_moulded_beads_in_no_load_say_so_and_name_their_load_once_they_have_one(workshop):
    put_glass(make_colour(), GlassForm.POWDER, 5)
    order = make_order(2, design=workshop["design"])
    assert sentences(order)[0].startswith("to be moulded, room kept in load 1 on ")
    free_room(order)
    order.jobs.update(step=WorkOrder.Step.FIRING)
    assert sentences(order) == ["ready to fire, in no load yet"]
    load = KilnLoad.objects.create(
        number=7, kiln=make_kiln(), starts_at=timezone.now() + timedelta(days=1), hold_c=720,
        hold_min=30,
    )  # fmt: skip
    tray = LoadTray.objects.create(load=load, bead=workshop["bead"], moulds=4, beads=40)
    LoadShare.objects.create(tray=tray, job=order.jobs.get(), moulds=4, beads=40)
    assert sentences(order)[0].startswith("ready to fire, in load 7 on ")


def test_beads_after_the_paint_wait_for_their_second_firing(workshop):
    order = make_order(1, design=workshop["design"])
    free_room(order)
    order.jobs.update(step=WorkOrder.Step.PAINTING)
    assert sentences(order) == ["second firing, to be painted first, in no load yet"]


def test_the_wait_is_counted_from_the_bead_that_has_waited_longest(workshop):
    order = make_order(1, design=workshop["design"])
    order.jobs.update(step_since=timezone.now() - timedelta(days=6))
    (waiting,) = waiting_on_firing()
    assert waiting.days == 6


def test_an_order_that_lies_ready_does_not_wait(workshop):
    put_beads(workshop["bead"], 18)
    make_order(1, design=workshop["design"])
    assert waiting_on_firing() == []


def test_the_earliest_due_stands_first(workshop):
    later = make_order(1, design=workshop["design"], due_on=date(2027, 4, 9))
    sooner = make_order(1, design=workshop["design"], due_on=date(2027, 4, 2))
    assert [each.order for each in waiting_on_firing()] == [sooner, later]


def test_the_firing_page_lists_who_waits_and_what_for(client, workshop):
    make_order(3, design=workshop["design"], customer=make_customer("Tomas Reku"))
    client.force_login(make_person("kiln"))
    page = client.get(reverse("orders:firing")).content.decode()
    assert "Tomas Reku" in page and "short" in page


@pytest.mark.parametrize("many", [1, 12])
def test_the_waiting_list_takes_the_same_queries_whatever_waits(
    workshop, many, django_assert_num_queries
):
    for n in range(many):
        bead = make_bead(f"Bead {n}")
        make_order(1, design=make_design(f"Strand {n}", beads=bead))
    with written_as(workshop["business"]), django_assert_num_queries(9):
        assert len(waiting_on_firing()) == many
