"""A keeper's day in rounds: planned, lit, put in, drawn, pierced, counted and paid."""

import itertools
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.kilns import times_of
from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayIn, TrayOut, log_firing, start_load
from orders.firing.services.plan import accept_plan, propose_plan
from orders.floor.read_floor import read_floor
from orders.planning.faults import faults
from orders.planning.json_form import instance_to_json, plan_to_json
from stock.models import KilnLoad, WorkTicket
from stock.services.beads import TO_REMAKE
from tests.builders import (
    make_customer,
    make_order,
)
from tests.orders.firing.conftest import moulded_job
from tests.planning.rounds_checker import violations

pytestmark = pytest.mark.django_db


def _plan(workshop):
    plan = propose_plan(person=workshop["keeper"], seconds=0.3, bound=False)
    accept_plan(plan, person=workshop["keeper"])
    return list(KilnLoad.objects.order_by("starts_at"))


def test_a_plan_of_rounds_keeps_every_rule_and_is_written_with_its_minutes(hot):
    moulded_job(hot, 3)
    moulded_job(hot, 2, design=hot["chunky"], customer="Ilka Dorn")
    loads = _plan(hot)
    floor = read_floor()
    form = instance_to_json(floor.instance)
    # What lies in the loads that stand is all there is to fire.
    assert violations(form, plan_to_json(floor.whole_plan)) == []
    assert loads[0].lit and not any(load.lit for load in loads[1:])
    assert all(not faults(floor.instance, floor.whole_plan, x) for x in floor.whole_plan.loads)
    pierced = [load for load in loads if load.hands]
    assert pierced
    for load in pierced:
        times = times_of(load)
        assert times.cooling < times.opened == times.free
    for one, two in itertools.pairwise(loads):
        assert times_of(one).free <= times_of(two).lit


def test_beads_are_held_at_their_usual_heat_and_time(hot):
    moulded_job(hot, 1)
    # Held at 720 °C for 30 min, though 650 to 780 °C for 25 to 35 min would do.
    assert [(load.hold_c, load.hold_min) for load in _plan(hot)] == [(720, 30)]


def _burn(hot, load, at):
    trays = trays_of(load)
    start_load(load, [TrayIn(t, t.beads) for t in trays], person=hot["keeper"], at=at)
    load.refresh_from_db()
    return trays_of(load)


def test_the_next_round_goes_in_while_the_one_before_still_cools(hot):
    moulded_job(hot, 3)
    moulded_job(hot, 2, design=hot["chunky"], customer="Ilka Dorn")
    first, second = _plan(hot)[:2]
    began = timezone.now() - timedelta(hours=3)
    _burn(hot, first, began)
    second.refresh_from_db()
    _burn(hot, second, began + timedelta(minutes=100))
    assert {load.state for load in (first, second)} == {KilnLoad.State.FIRING}


def test_who_pierced_is_down_for_the_beads_and_the_minutes(hot):
    job = moulded_job(hot, 2, design=hot["chunky"])
    load = _plan(hot)[0]
    trays = _burn(hot, load, timezone.now() - timedelta(hours=4))
    first_out = times_of(load).cooling
    log_firing(
        load,
        [TrayOut(t, t.beads) for t in trays],
        person=hot["keeper"],
        pierced_until=first_out + timedelta(minutes=6),
        pierced_by=[hot["hand"], hot["keeper"]],
    )
    tickets = list(WorkTicket.objects.filter(step="Piercing"))
    assert {ticket.hand for ticket in tickets} == {hot["hand"], hot["keeper"]}
    beads = sum(tray.beads for tray in trays)
    assert sum(ticket.pieces for ticket in tickets) == beads <= job.to_start
    assert {ticket.minutes for ticket in tickets} == {6}


def test_the_keeper_logs_a_pierced_round_on_the_page(hot, client):
    moulded_job(hot, 1, design=hot["chunky"])
    load = _plan(hot)[0]
    trays = _burn(hot, load, timezone.now() - timedelta(hours=4))
    client.force_login(hot["keeper"])
    page = client.get(reverse("orders:load_end", args=[load.number]))
    assert "Pierced by" in page.content.decode()
    first_out = timezone.localtime(times_of(load).cooling)
    data = {
        "version": load.version,
        "ended_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "beads_go": "bench",
        "rejects_to": TO_REMAKE,
        "pierced_until": (first_out - timedelta(minutes=30)).strftime("%Y-%m-%dT%H:%M"),
        "pierced_by": [hot["hand"].pk],
        **{f"good_{tray.pk}": tray.beads for tray in trays},
    }
    url = reverse("orders:load_end", args=[load.number])
    answer = client.post(url, data)
    assert "The first mould came out at" in answer.content.decode()
    later = (first_out + timedelta(minutes=5)).strftime("%Y-%m-%dT%H:%M")
    nobody = client.post(url, {**data, "pierced_until": later, "pierced_by": []})
    assert "nobody pierces without hands" in nobody.content.decode()
    done = client.post(url, {**data, "pierced_until": later})
    assert done.status_code == 302, done.context["form"].errors
    load.refresh_from_db()
    assert load.state == KilnLoad.State.COOLED
    assert load.pierced_until is not None


def test_load_page_and_sheet_speak_of_a_round(hot, client):
    moulded_job(hot, 1, design=hot["chunky"])
    load = _plan(hot)[0]
    client.force_login(hot["keeper"])
    page = client.get(reverse("orders:load", args=[load.number])).content.decode()
    for words in ("Moulds go in", "First mould out", "Pierced until", "cool apart"):
        assert words in page
    assert client.get(reverse("orders:load_sheet", args=[load.number])).status_code == 200
    assert client.get(reverse("orders:firing")).status_code == 200


def test_a_small_order_is_promised_for_the_same_or_the_next_working_day(hot):
    """Glass is ready, nobody waits: moulded, fired in a round and strung within two days."""
    order = make_order(1, design=hot["design"])
    assert order.likely_on <= timezone.localdate() + timedelta(days=1)
    load = KilnLoad.objects.get()
    assert load.lit and load.free_after_min is not None


def test_a_second_order_joins_the_run_and_nothing_promised_goes_in_earlier(hot):
    make_order(3, design=hot["design"])
    before = {load.number: load.starts_at for load in KilnLoad.objects.all()}
    make_order(2, design=hot["chunky"], customer=make_customer("Ilka Dorn"))
    floor = read_floor()
    assert violations(instance_to_json(floor.instance), plan_to_json(floor.whole_plan)) == []
    for load in KilnLoad.objects.filter(number__in=before):
        assert load.starts_at >= before[load.number]
    assert KilnLoad.objects.filter(hands__gt=0).exists()
