"""A tray moved by hand: what it does is shown first, and rules that stand against it are said."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.firing.queries.trays import trays_of
from orders.firing.services.load_moves import (
    Change,
    Move,
    change_load,
    move_tray,
    preview_change,
    preview_move,
)
from orders.floor.read_floor import active_loads, read_floor
from orders.models import LoadShare
from stock.models import KilnLoad
from tests.builders import make_bead, make_design, make_kiln, make_programme
from tests.orders.firing.conftest import (
    day_after_tomorrow,
    make_load,
    moulded_job,
    painted_bead,
    put_in,
)

pytestmark = pytest.mark.django_db


def planned(number: int) -> KilnLoad:
    return next(load for load in active_loads() if load.number == number)


def tray_in(load: KilnLoad):
    return trays_of(load)[0]


def fused_bead():
    programme = make_programme(
        "Chunks", kind="fused", hold_c=860, hold_min=38, from_c=840, to_c=900,
        from_min=32, to_min=44,
    )  # fmt: skip
    return make_bead("Fused round", kind="fused", programme=programme)


def test_a_tray_joins_another_load(workshop):
    first, second = (
        make_load(workshop),
        make_load(workshop, starts_at=day_after_tomorrow() + timedelta(days=1)),
    )
    put_in(first, moulded_job(workshop))
    put_in(second, moulded_job(workshop, customer="Tomas Reku"))
    move = Move(tray_in(first), tray_in(first).moulds, to_load=planned(second.number))
    preview = preview_move(read_floor(), move)
    assert preview.faults == []
    assert (preview.before.loads, preview.after.loads) == (2, 1)
    move_tray(read_floor(), move, person=workshop["keeper"])
    assert not KilnLoad.objects.filter(pk=first.pk).exists()  # nothing was left in it
    assert second.trays.count() == 2


def test_the_preview_changes_nothing(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    later = day_after_tomorrow() + timedelta(days=3)
    move = Move(tray_in(load), 1, kiln=workshop["kiln"], starts_at=later)
    preview_move(read_floor(), move)
    assert KilnLoad.objects.get() == load


def test_part_of_a_tray_goes_into_a_new_load(workshop):
    """Two moulds of twelve: one stays, one goes; the last mould is part filled."""
    job = moulded_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    later = day_after_tomorrow() + timedelta(days=1)
    move = Move(tray_in(load), 1, kiln=workshop["kiln"], starts_at=later)
    target = move_tray(read_floor(), move, person=workshop["keeper"])
    beads = {share.tray.load_id: share.beads for share in LoadShare.objects.filter(job=job)}
    assert beads == {load.pk: job.to_start - 12, target.pk: 12}


def test_it_says_whose_day_moves_before_it_is_done(workshop):
    job = moulded_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    later = day_after_tomorrow() + timedelta(days=2)
    move = Move(tray_in(load), 99, kiln=workshop["kiln"], starts_at=later)
    (shift,) = preview_move(read_floor(), move).shifts
    assert shift.order == str(job.order.number)
    assert (shift.after_on - shift.before_on).days == 2


def test_beads_that_share_no_temperature_cannot_share_a_load(workshop):
    """Powder at 650 to 780 °C, chunks at 840 to 900 °C."""
    load, other = (
        make_load(workshop),
        make_load(workshop, starts_at=day_after_tomorrow(12), hold_c=860, hold_min=38),
    )
    put_in(load, moulded_job(workshop))
    put_in(other, moulded_job(workshop, design=make_design("Fused", beads=fused_bead())))
    move = Move(tray_in(load), 2, to_load=planned(other.number))
    with pytest.raises(ValidationError) as refused:
        move_tray(read_floor(), move, person=workshop["keeper"])
    assert "no temperature suits both" in refused.value.messages[0]
    assert load.trays.count() == 1


def test_a_load_that_is_full_says_so(workshop):
    small = make_kiln("Small kiln", places=2, preheat_min=60, cooling_min=90)
    full = make_load(workshop, kiln=small)
    put_in(full, moulded_job(workshop))
    load = make_load(workshop)
    put_in(load, moulded_job(workshop, customer="Tomas Reku"))
    move = Move(tray_in(load), 1, to_load=planned(full.number))
    assert any("2 places" in fault for fault in preview_move(read_floor(), move).faults)


def test_at_night_nobody_tends_the_fire(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    move = Move(tray_in(load), 99, kiln=workshop["kiln"], starts_at=day_after_tomorrow(22))
    assert any("Nobody is there" in fault for fault in preview_move(read_floor(), move).faults)


def test_a_second_firing_cannot_come_before_the_first(workshop):
    job = moulded_job(workshop, design=make_design("Painted", beads=painted_bead()))
    first = make_load(workshop)
    put_in(first, job)
    second = make_load(
        workshop, starts_at=day_after_tomorrow() + timedelta(days=1), hold_c=620, hold_min=20
    )
    put_in(second, job, firing=2)
    move = Move(
        tray_in(second), 99, kiln=workshop["kiln"],
        starts_at=day_after_tomorrow() - timedelta(days=1),
    )  # fmt: skip
    assert any("second time before" in fault for fault in preview_move(read_floor(), move).faults)


def test_the_moulds_owned_are_counted_over_all_kilns(workshop):
    """Six moulds are owned; four and four at the same hour are eight."""
    other = make_kiln("Tall kiln", preheat_min=60, cooling_min=90)
    first, second = (
        make_load(workshop),
        make_load(workshop, kiln=other, starts_at=day_after_tomorrow() + timedelta(days=1)),
    )
    put_in(first, moulded_job(workshop, 2), 48)
    put_in(second, moulded_job(workshop, 2, customer="Tomas Reku"), 48)
    move = Move(tray_in(second), 99, kiln=other, starts_at=day_after_tomorrow())
    faults = preview_move(read_floor(), move).faults
    assert any("6 moulds" in fault and "8 would be in use" in fault for fault in faults)


def test_a_load_changed_meanwhile_is_not_moved_from(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    tray = tray_in(load)
    KilnLoad.objects.filter(pk=load.pk).update(version=5)
    later = day_after_tomorrow() + timedelta(days=1)
    with pytest.raises(ValidationError):
        move_tray(
            read_floor(), Move(tray, 99, kiln=workshop["kiln"], starts_at=later),
            person=workshop["keeper"],
        )  # fmt: skip
    assert KilnLoad.objects.get().trays.count() == 1


def test_by_the_screen_it_is_looked_at_and_then_done(client, workshop):
    load = make_load(workshop)
    tray = put_in(load, moulded_job(workshop))
    later = day_after_tomorrow() + timedelta(days=1)
    asked = {
        "moulds": "2", "to": "new", "kiln": workshop["kiln"].pk,
        "starts_at": later.strftime("%Y-%m-%dT%H:%M"), "version": load.version,
    }  # fmt: skip
    address = reverse("orders:tray_move", args=[load.number, tray.pk])
    client.force_login(workshop["keeper"])
    shown = client.get(address, asked)
    assert "is ready" in shown.content.decode()
    assert KilnLoad.objects.get() == load
    done = client.post(address, asked)
    assert done.status_code == 302
    assert KilnLoad.objects.get().starts_at == later


def test_a_new_load_needs_a_time_still_to_come_and_what_was_typed_stays(client, workshop):
    load = make_load(workshop)
    tray = put_in(load, moulded_job(workshop))
    client.force_login(workshop["keeper"])
    asked = {"moulds": "2", "to": "new", "kiln": workshop["kiln"].pk}
    asked["starts_at"] = "2020-01-01T09:00"
    answer = client.post(reverse("orders:tray_move", args=[load.number, tray.pk]), asked)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "That has passed" in page and "2020-01-01T09:00" in page
    assert KilnLoad.objects.get() == load


def test_a_whole_load_is_fired_at_another_time(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    later = day_after_tomorrow() + timedelta(days=1)
    change = Change(planned(load.number), later, 730, 28)
    (shift,) = preview_change(read_floor(), change).shifts
    assert (shift.after_on - shift.before_on).days == 1
    change_load(read_floor(), change, person=workshop["keeper"])
    load.refresh_from_db()
    assert (load.starts_at, load.hold_c, load.hold_min) == (later, 730, 28)
    assert load.trays.count() == 1


def test_heat_outside_a_beads_window_is_a_caution_and_the_keeper_decides(workshop):
    """Powder that may be fired at 650 to 780 °C."""
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    change = Change(planned(load.number), load.starts_at, 800, 30)
    preview = preview_change(read_floor(), change)
    assert preview.faults == [] and "650 to 780" in preview.cautions[0]
    change_load(read_floor(), change, person=workshop["keeper"])
    load.refresh_from_db()
    assert load.hold_c == 800


def test_a_load_cannot_be_hotter_than_its_kiln(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    change = Change(planned(load.number), load.starts_at, 1100, 30)
    with pytest.raises(ValidationError) as refused:
        change_load(read_floor(), change, person=workshop["keeper"])
    assert "reaches 500 to 1000" in refused.value.messages[0]
    load.refresh_from_db()
    assert load.hold_c == 720


def test_by_the_screen_a_load_is_changed_after_a_look(client, workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    asked = {
        "starts_at": day_after_tomorrow(9).strftime("%Y-%m-%dT%H:%M"), "hold_c": "725",
        "hold_min": "30", "version": load.version,
    }  # fmt: skip
    address = reverse("orders:load_change", args=[load.number])
    client.force_login(workshop["keeper"])
    assert "Change it" in client.get(address, asked).content.decode()
    assert client.post(address, asked).status_code == 302
    load.refresh_from_db()
    assert (load.starts_at, load.hold_c) == (day_after_tomorrow(9), 725)
    # The same form again was opened on another state of the load.
    answer = client.post(address, asked | {"hold_c": "735"})
    assert "kiln changed load" in answer.content.decode()
