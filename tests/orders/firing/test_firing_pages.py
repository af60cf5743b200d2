"""The kiln's screens: who may open and act, what they show, how many queries they take."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.services.plan import pin_load
from orders.models import FiringPlan
from stock.models import KilnLoad
from tests.builders import make_bead, make_design, make_person
from tests.orders.firing.conftest import (
    burning_load,
    day_after_tomorrow,
    make_load,
    moulded_job,
    put_in,
    waiting_job,
)

pytestmark = pytest.mark.django_db


def moment(when) -> str:
    return timezone.localtime(when).strftime("%Y-%m-%dT%H:%M")


def test_the_board_draws_the_loads_and_says_why_orders_wait(client, workshop):
    put_in(make_load(workshop), moulded_job(workshop, customer="Tomas Reku"))
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing")).content.decode()
    assert "Tomas Reku" in page and "1 load, 180 kiln minutes." in page
    assert page.count("sd-calendar") >= 2  # the week, and a day alone for the phone


@pytest.mark.parametrize("many", [1, 6])
def test_the_board_takes_the_same_queries_whatever_waits(
    client, workshop, many, django_assert_num_queries
):
    for n in range(many):
        design = make_design(f"Strand {n}", beads=make_bead(f"Bead {n}"))
        job = moulded_job(workshop, design=design, customer=f"Customer {n}")
        put_in(make_load(workshop, starts_at=timezone.now() + timedelta(days=n + 1)), job)
    client.force_login(workshop["keeper"])
    client.get(reverse("orders:firing"))  # what stands is read once
    with django_assert_num_queries(29):
        assert client.get(reverse("orders:firing")).status_code == 200


@pytest.mark.parametrize("many", [1, 5])
def test_a_load_takes_the_same_queries_whatever_is_in_it(
    client, workshop, many, django_assert_num_queries
):
    load = make_load(workshop)
    for n in range(many):
        design = make_design(f"Strand {n}", beads=make_bead(f"Bead {n}"))
        put_in(load, moulded_job(workshop, design=design, customer=f"Customer {n}"), 12)
    client.force_login(workshop["keeper"])
    with django_assert_num_queries(9):
        assert client.get(reverse("orders:load", args=[load.number])).status_code == 200


def test_a_load_says_how_fast_it_may_cool_and_whether_it_will_fuse(client, workshop):
    """A sphere of 10 mm may lose 35.1 °C/min: 15.6 for 15 mm (Adams & Williamson 1920, the
    published check value), and the rate falls with the square of the size: 15.6 × 2.25."""
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:load", args=[load.number])).content.decode()
    assert "stands 35.1." in page and "Adams &amp; Williamson" in page
    assert "fused" in page and "Frenkel" in page
    assert "carbon monoxide" in page  # a wood kiln


def test_a_load_is_lit_and_logged_by_the_screens(client, workshop):
    job = moulded_job(workshop)
    load = make_load(workshop)
    tray = put_in(load, job)
    client.force_login(workshop["keeper"])
    lit = timezone.now() - timedelta(hours=4)
    client.post(
        reverse("orders:load_start", args=[load.number]),
        {f"beads_{tray.pk}": str(tray.beads), "at": moment(lit), "version": "0"},
    )
    load.refresh_from_db()
    assert load.state == KilnLoad.State.FIRING
    answer = client.post(
        reverse("orders:load_end", args=[load.number]),
        {
            f"good_{tray.pk}": str(tray.beads - 1), f"rejected_{tray.pk}": "1",
            f"gone_{tray.pk}": "", f"breakage_{tray.pk}": "cracked",
            "ended_at": moment(timezone.now()), "peak_c": "728", "held_min": "31",
            "fuel_used": "24.5", "beads_go": "shelf", "rejects_to": "remade", "note": "",
            "tended_min": "40", "version": str(load.version),
        },
    )  # fmt: skip
    assert answer.status_code == 302
    load.refresh_from_db()
    job.refresh_from_db()
    assert (load.peak_c, load.held_min, str(load.fuel_used)) == (728, 31, "24.500")
    assert job.step == "done"


def test_more_out_than_in_keeps_what_was_typed_and_changes_nothing(client, workshop):
    load = burning_load(workshop, moulded_job(workshop))
    (tray,) = load.trays.all()
    client.force_login(workshop["keeper"])
    answer = client.post(
        reverse("orders:load_end", args=[load.number]),
        {
            f"good_{tray.pk}": "99", "ended_at": moment(timezone.now() + timedelta(minutes=1)),
            "beads_go": "bench", "rejects_to": "remade", "note": "west wind",
        },
    )  # fmt: skip
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"only {tray.beads} went in" in page
    assert 'value="99"' in page and "west wind" in page
    load.refresh_from_db()
    assert load.state == KilnLoad.State.FIRING


def test_a_tray_that_mostly_failed_must_say_why(client, workshop):
    load = burning_load(workshop, moulded_job(workshop))
    (tray,) = load.trays.all()
    client.force_login(workshop["keeper"])
    answer = client.post(
        reverse("orders:load_end", args=[load.number]),
        {
            f"good_{tray.pk}": "1", f"rejected_{tray.pk}": str(tray.beads - 1),
            "ended_at": moment(timezone.now() + timedelta(minutes=1)),
            "beads_go": "bench", "rejects_to": "remade",
        },
    )  # fmt: skip
    assert "write what went wrong" in answer.content.decode()


def test_logging_the_same_load_again_leads_back_with_a_sentence(client, workshop):
    load = burning_load(workshop, moulded_job(workshop))
    KilnLoad.objects.filter(pk=load.pk).update(state=KilnLoad.State.COOLED, in_kiln=False)
    client.force_login(workshop["keeper"])
    answer = client.get(reverse("orders:load_end", args=[load.number]), follow=True)
    assert "Look at it again" in answer.content.decode()


def test_a_plan_is_worked_out_looked_at_and_accepted(client, workshop):
    moulded_job(workshop)
    client.force_login(workshop["keeper"])
    answer = client.post(reverse("orders:plan_propose"), follow=True)
    plan = FiringPlan.objects.get()
    page = answer.content.decode()
    assert "By the new plan" in page and "Fire by this plan" in page
    assert not KilnLoad.objects.exists()
    client.post(reverse("orders:plan", args=[plan.pk]))
    assert KilnLoad.objects.count() == 1


def test_a_refused_plan_leaves_everything_as_it_was(client, workshop):
    moulded_job(workshop)
    client.force_login(workshop["keeper"])
    client.post(reverse("orders:plan_propose"))
    plan = FiringPlan.objects.get()
    make_load(workshop, pinned=True)
    answer = client.post(reverse("orders:plan", args=[plan.pk]))
    assert answer.status_code == 422
    assert KilnLoad.objects.count() == 1
    plan.refresh_from_db()
    assert plan.accepted_at is None


def test_a_day_that_has_passed_cannot_be_forbidden(client, workshop):
    client.force_login(workshop["keeper"])
    answer = client.post(reverse("orders:firing_forbid"), {"day": "2020-01-01", "why": "Wind"})
    assert answer.status_code == 422
    assert "has passed" in answer.content.decode() and "Wind" in answer.content.decode()


@pytest.mark.parametrize("role", ["counter", "bench"])
@pytest.mark.parametrize(
    "name", ["plan_propose", "firing_forbid", "load_start", "load_end", "load_spoil", "load_pin"]
)
def test_counter_and_bench_may_look_and_not_act(client, workshop, role, name):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    client.force_login(make_person(role))
    assert client.get(reverse("orders:firing")).status_code == 200
    assert client.get(reverse("orders:load", args=[load.number])).status_code == 200
    args = [load.number] if name.startswith("load") else []
    assert client.post(reverse(f"orders:{name}", args=args)).status_code == 404
    load.refresh_from_db()
    assert load.version == 0


def test_the_yard_does_not_open_the_board(client, workshop):
    client.force_login(make_person("yard"))
    assert client.get(reverse("orders:firing")).status_code == 404


def test_pinning_says_what_it_means(client, workshop):
    load = make_load(workshop)
    client.force_login(workshop["keeper"])
    address = reverse("orders:load_pin", args=[load.number])
    answer = client.post(address, {"pinned": "yes", "version": "0"}, follow=True)
    assert "leaves it where it is" in answer.content.decode()
    load.refresh_from_db()
    assert load.pinned
    # Seen before somebody else pinned it: told so, nothing changed.
    answer = client.post(address, {"pinned": "no", "version": "0"}, follow=True)
    assert "kiln changed load" in answer.content.decode()
    load.refresh_from_db()
    assert load.pinned


def test_the_board_says_when_every_mould_is_filled(client, workshop):
    """Six moulds are owned, and all of them hold beads that wait for the fire."""
    moulded_job(workshop, 3)
    waiting_job(workshop, customer="Tomas Reku")
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing")).content.decode()
    assert "mould busy: all 6 of Round ten are filled" in page


def test_pinning_shows_what_it_does_before_it_is_done(client, workshop):
    """Two half-empty loads: planned again they are one, and with the first pinned still two."""
    loads = [
        make_load(workshop, starts_at=day_after_tomorrow() + timedelta(days=n)) for n in (0, 1)
    ]
    for load, who in zip(loads, ("Marisa Orlo", "Tomas Reku"), strict=True):
        put_in(load, moulded_job(workshop, customer=who))
    client.force_login(workshop["keeper"])
    address = reverse("orders:load_pin", args=[loads[0].number])
    page = client.get(address, {"pinned": "yes"}).content.decode()
    assert "Planned with it pinned" in page and "Planned with it free" in page
    loads[0].refresh_from_db()
    assert not loads[0].pinned  # nothing is done by looking
    client.post(address, {"pinned": "yes", "version": loads[0].version})
    loads[0].refresh_from_db()
    assert loads[0].pinned


def test_a_stale_move_is_refused_by_name_and_keeps_what_was_typed(client, workshop):
    load = make_load(workshop)
    tray = put_in(load, moulded_job(workshop))
    other = make_person("kiln", username="mirja", full_name="Mirja Vane")
    stale = load.version
    load = pin_load(load, True, person=other)
    pin_load(load, False, person=other)
    client.force_login(workshop["keeper"])
    when = (day_after_tomorrow() + timedelta(days=3)).strftime("%Y-%m-%dT%H:%M")
    form = {"moulds": "1", "to": "new", "kiln": workshop["kiln"].pk, "starts_at": when}
    answer = client.post(
        reverse("orders:tray_move", args=[load.number, tray.pk]), form | {"version": stale}
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"Mirja Vane changed load {load.number}" in page and when in page


def test_an_order_that_waits_is_one_line_with_what_it_waits_on_and_its_load(client, workshop):
    job = moulded_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    client.force_login(workshop["keeper"])
    (row,) = client.get(reverse("orders:firing")).context["rows"]
    assert row["waiting"].brief.startswith("ready to fire, ")
    assert len(row["waiting"].brief.split()) <= 8
    assert row["waiting"].next_load == load
