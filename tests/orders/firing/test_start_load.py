"""Lighting a kiln: what goes in, what is left out, and what cannot go in."""

import pytest
from django.core.exceptions import ValidationError

from orders.firing.queries.trays import trays_of
from orders.firing.services.log import TrayIn, beads_by_place, start_load
from orders.models import LoadShare
from stock.models import KilnLoad, LocationKind
from stock.services.book import NotEnough
from tests.orders.firing.conftest import (
    burning_load,
    light,
    make_load,
    moulded_job,
    put_in,
    waiting_job,
)

pytestmark = pytest.mark.django_db


def test_the_beads_are_in_the_kiln(workshop):
    job = moulded_job(workshop)
    load = burning_load(workshop, job)
    load.refresh_from_db()
    assert (load.state, load.keeper) == (KilnLoad.State.FIRING, workshop["keeper"])
    assert beads_by_place(job.batch) == {LocationKind.KILN: job.to_start}


def test_beads_that_are_not_moulded_cannot_go_in(workshop):
    job = waiting_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    with pytest.raises(ValidationError) as refused:
        light(load, workshop["keeper"])
    assert "to be moulded" in refused.value.messages[0]
    load.refresh_from_db()
    assert load.state == KilnLoad.State.PLANNED


def test_a_tray_left_out_waits_for_another_load(workshop):
    ready, not_yet = moulded_job(workshop), waiting_job(workshop, customer="Tomas Reku")
    load = make_load(workshop)
    put_in(load, ready)
    put_in(load, not_yet)
    first, second = trays_of(load)
    start_load(load, [TrayIn(first, first.beads), TrayIn(second, 0)], person=workshop["keeper"])
    assert [tray.pk for tray in trays_of(load)] == [first.pk]
    assert not LoadShare.objects.filter(job=not_yet).exists()


def test_more_beads_than_were_moulded_are_refused(workshop):
    job = moulded_job(workshop)
    load = make_load(workshop)
    put_in(load, job)
    (tray,) = trays_of(load)
    with pytest.raises(NotEnough):
        start_load(load, [TrayIn(tray, job.to_start + 1)], person=workshop["keeper"])
    load.refresh_from_db()
    assert load.state == KilnLoad.State.PLANNED


def test_a_kiln_that_still_burns_is_not_lit_again(workshop):
    burning_load(workshop, moulded_job(workshop))
    second = make_load(workshop)
    put_in(second, moulded_job(workshop, customer="Tomas Reku"))
    with pytest.raises(ValidationError) as refused:
        light(second, workshop["keeper"])
    assert "still holds load" in refused.value.messages[0]


def test_an_empty_load_is_not_lit(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    (tray,) = trays_of(load)
    with pytest.raises(ValidationError):
        start_load(load, [TrayIn(tray, 0)], person=workshop["keeper"])
    assert trays_of(load) == [tray]


def test_more_moulds_than_the_kiln_has_places_are_refused(workshop):
    """13 moulds of 12 beads each in a kiln of 12 places."""
    job = moulded_job(workshop, 8)
    assert job.to_start > 144
    load = make_load(workshop)
    put_in(load, job, 145)
    with pytest.raises(ValidationError) as refused:
        light(load, workshop["keeper"])
    assert "12 places" in refused.value.messages[0]


def test_the_second_keeper_is_told_the_kiln_burns_already(workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    seen_by_both = KilnLoad.objects.select_related("kiln").get(pk=load.pk)
    light(load, workshop["keeper"])
    with pytest.raises(ValidationError) as refused:
        light(seen_by_both, workshop["hand"])
    assert "kiln changed load" in refused.value.messages[0]
