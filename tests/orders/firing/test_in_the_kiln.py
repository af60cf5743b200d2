"""One load holds a kiln; out of a kiln kept hot the beads of those before it cool apart."""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.burning import burning
from orders.firing.queries.trays import trays_of
from orders.firing.queries.waiting import waiting_on_firing
from orders.firing.services.log import TrayIn, TrayOut, log_firing, log_piercing, start_load
from stock.models import KilnLoad, Posting
from stock.services.undo import take_back
from tests.orders.firing.conftest import burning_load, make_load, moulded_job, put_in

pytestmark = pytest.mark.django_db


def _round(hot, job, hours_ago: float) -> KilnLoad:
    """A round with an order's beads, put in some hours ago."""
    at = timezone.now() - timedelta(hours=hours_ago)
    load = make_load(hot, starts_at=at, hold_c=860)
    put_in(load, job)
    trays = trays_of(load)
    return start_load(load, [TrayIn(t, t.beads) for t in trays], person=hot["keeper"], at=at)


def _holds() -> list[int]:
    return list(KilnLoad.objects.filter(in_kiln=True).values_list("number", flat=True))


def test_the_round_before_leaves_the_kiln_when_the_next_goes_in(hot):
    one = _round(hot, moulded_job(hot, 1), 3)
    assert _holds() == [one.number]
    two = _round(hot, moulded_job(hot, 1, customer="Ilka Dorn"), 0.1)
    assert _holds() == [two.number]
    assert [each.is_out for each in burning()] == [True, False]


def test_a_pierced_round_leaves_the_kiln_empty(hot):
    load = _round(hot, moulded_job(hot, 1, design=hot["chunky"]), 3)
    assert [each.is_out for each in burning()] == [False]  # nobody said yet that it was pierced
    now = timezone.now()
    log_piercing(load, until=now, hands=[hot["hand"]], person=hot["keeper"])
    assert _holds() == [] and [each.is_out for each in burning()] == [True]


def test_a_closed_kiln_is_held_until_its_load_is_logged(workshop):
    one = burning_load(workshop, moulded_job(workshop, 1))
    two = make_load(workshop)
    put_in(two, moulded_job(workshop, 1, customer="Ilka Dorn"))
    with pytest.raises(ValidationError, match=f"still holds load {one.number}"):
        start_load(
            two, [TrayIn(t, t.beads) for t in trays_of(two)], person=workshop["keeper"]
        )  # fmt: skip
    log_firing(one, [TrayOut(t, t.beads) for t in trays_of(one)], person=workshop["keeper"])
    assert _holds() == []


def test_a_load_taken_out_again_or_logged_by_mistake(workshop):
    load = burning_load(workshop, moulded_job(workshop, 1))
    loading = Posting.objects.get(kind="loading")
    log_firing(load, [TrayOut(t, t.beads) for t in trays_of(load)], person=workshop["keeper"])
    take_back(
        Posting.objects.filter(kind="firing").latest("pk"), person=workshop["keeper"], why="counted"
    )
    assert _holds() == [load.number]  # the log is taken back: it stands in the kiln again
    take_back(loading, person=workshop["keeper"], why="the wrong tray")
    assert _holds() == []


def test_no_kiln_holds_two_loads_and_none_that_does_not_burn(workshop):
    """The database itself refuses, whatever way is taken to it."""
    burning_load(workshop, moulded_job(workshop, 1))
    for given in ({"state": "firing"}, {"state": "planned"}, {"state": "cooled"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            make_load(workshop, in_kiln=True, **given)


def test_what_cools_apart_does_not_burn_on_home_or_board(hot, client):
    _round(hot, moulded_job(hot, 1), 3)
    job = moulded_job(hot, 1, customer="Ilka Dorn")
    _round(hot, job, 0.1)
    said = [
        (each.holds, each.brief.split(",")[0], each.reasons[0].sentence.split(",")[0])
        for each in waiting_on_firing()
    ]
    assert said == [
        ("cooling", "cools apart", "cooling apart"),
        ("burning", "burns", "burning"),
    ]
    client.force_login(hot["keeper"])
    board = client.get(reverse("orders:firing")).content.decode()
    assert "1 burns" in board and "1 cools apart" in board
    assert "cooling apart, out of load" in client.get(reverse("orders:home")).content.decode()


def test_a_book_from_before_knows_what_stands_in_each_kiln(hot):
    """Of rounds that are lit the last one is inside; one that is pierced is not."""
    _one, two = (_round(hot, moulded_job(hot, 1, customer=c), h) for c, h in (("A", 3), ("B", 1)))
    fill = import_module("stock.migrations.0023_lit_loads_stand_in_their_kiln").fill
    KilnLoad.objects.update(in_kiln=False)
    fill(apps, None)
    assert _holds() == [two.number]
    KilnLoad.objects.update(in_kiln=False, pierced_until=timezone.now())
    fill(apps, None)
    assert _holds() == []
