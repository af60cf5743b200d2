"""Beads painted for the shelf: moulded, fired, painted and fired again for nobody's order.

What one painted bead bears is worked by hand: hands = beads × standard minutes × pay of a minute,
set-up once for a posting that is for no order, and the paint (IAS 2.12: costs of conversion).
"""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.bench.queries.work import bench_work
from orders.firing.queries.trays import not_ready, trays_of
from orders.firing.services.log import TrayIn, TrayOut, log_firing, start_load
from orders.floor.read_floor import read_floor
from orders.learning.queries.minutes import minutes
from orders.money.services.pay import pay_due
from stock.models import Balance, LoadTray, Posting, PostingKind, WorkTicket
from stock.services.beads import load_beads, log_good_beads, mould_beads, paint_beads
from stock.services.check import MORE_CHECKS, first_difference
from stock.services.places import PAINTED, TO_PAINT
from stock.services.undo import take_back
from tests.builders import make_rate
from tests.orders.firing.conftest import make_load, make_workshop, painted_bead

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(db):
    found = make_workshop()
    make_rate(
        "Painting", skill="painting", basis="bead", minutes_each=Decimal("0.5"),
        setup_min=Decimal(6), allowance=Decimal("0.2"), piece=None, hourly=Decimal(12),
    )  # fmt: skip
    bead = painted_bead()
    bead.paint_price_each = Decimal("0.02")
    bead.save()
    return found | {"bead": bead}


@pytest.fixture
def batch(workshop):
    """48 moulded, 40 of them sound out of their first firing."""
    found = mould_beads(workshop["bead"], 48, person=workshop["hand"])
    log_good_beads(found, good=40, rejected=8, firing=1, person=workshop["hand"])
    return found


def spots(batch) -> dict[str, int]:
    rows = Balance.objects.inside().filter(item__batch=batch, quantity__gt=0)
    return {row.place.spot: row.quantity for row in rows.select_related("place")}


def worth(batch) -> Decimal:
    return sum(row.value for row in Balance.objects.inside().filter(item__batch=batch))


def paint(client, batch, **given):
    typed = {"count": "40", "on": timezone.localdate().isoformat(), "minutes": "31"}
    return client.post(reverse("stock:batch_paint", args=[batch.pk]), typed | given)


def agrees() -> None:
    assert first_difference() is None
    assert [said for check in MORE_CHECKS for said in check.differences()] == []


def test_painting_for_the_shelf_is_borne_paid_and_learned(client, workshop, batch):
    client.force_login(workshop["hand"])
    before = worth(batch)
    page = client.get(reverse("stock:batch", args=[batch.pk])).content.decode()
    assert reverse("stock:batch_paint", args=[batch.pk]) in page
    assert paint(client, batch).status_code == 302
    assert spots(batch) == {PAINTED: 40}
    # 40 × 0.5 × 1.2 + 6 = 30 min at 12 ÷ 60: 6.00; paint 40 × 0.02: 0.80.
    charges = Posting.objects.get(kind=PostingKind.PAINTING).charges
    of = {each.name: each.amount for each in charges.all()}
    assert (of["hands"], of["materials"]) == (Decimal(6), Decimal("0.8"))
    assert worth(batch) - before == sum(each.amount for each in charges.all()) >= Decimal("6.8")
    ticket = WorkTicket.objects.get(step="Painting")
    assert (ticket.pieces, ticket.minutes, ticket.belongs_ref) == (40, 31, f"batch {batch.number}")
    today = timezone.localdate()
    assert pay_due(workshop["hand"], today, today).earned == Decimal("6.20")  # 31 × 12 ÷ 60
    rows = minutes(today - timedelta(days=30))
    assert any("Painting" in str(row.subject) for row in rows)
    agrees()


def test_painting_taken_back_leaves_neither_cost_nor_pay(client, workshop, batch):
    client.force_login(workshop["hand"])
    before = worth(batch)
    paint(client, batch)
    take_back(
        Posting.objects.get(kind=PostingKind.PAINTING), person=workshop["keeper"], why="not dry"
    )
    assert spots(batch) == {TO_PAINT: 40}
    assert worth(batch) == before
    assert not WorkTicket.objects.exists()
    agrees()


def test_some_are_painted_today_and_only_those_go_into_the_fire(workshop, batch):
    paint_beads(batch, 25, person=workshop["hand"])
    assert spots(batch) == {PAINTED: 25, TO_PAINT: 15}
    with pytest.raises(ValidationError):
        load_beads(batch, 26, person=workshop["keeper"], firing=2)
    load_beads(batch, 25, person=workshop["keeper"], firing=2)
    assert spots(batch) == {"kiln": 25, TO_PAINT: 15}
    agrees()


def test_the_page_that_lights_the_kiln_offers_as_many_as_are_painted(client, workshop, batch):
    load = make_load(workshop, hold_c=620, hold_min=20)
    tray = LoadTray.objects.create(
        load=load, bead=batch.bead, batch=batch, firing=2, moulds=4, beads=40
    )
    paint_beads(batch, 25, person=workshop["hand"])
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:load_start", args=[load.number]))
    assert page.context["form"][f"beads_{tray.pk}"].value() == "25"


def test_a_part_still_to_be_fired_once_is_not_sorted_as_painted(client, workshop):
    """60 moulded, 24 of them sorted after their first firing and 20 painted."""
    batch = mould_beads(workshop["bead"], 60, person=workshop["hand"])
    client.force_login(workshop["hand"])
    url = reverse("stock:batch_finish", args=[batch.pk])
    typed = {"good": "20", "rejected": "4", "rejects_to": "remade", "minutes": "7"}
    typed["on"] = timezone.localdate().isoformat()
    client.post(url, typed)
    # Its minutes are paid though its beads are polished and counted only after the paint.
    ticket = WorkTicket.objects.get()
    assert (ticket.pieces, ticket.rejected, ticket.minutes) == (0, 0, 7)
    assert "36 × Painted round wait, firing 1 of 2" in client.get(url).content.decode()
    paint_beads(batch, person=workshop["hand"])
    assert "20 × Painted round wait, firing 2 of 2" in client.get(url).content.decode()
    client.post(url, typed | {"good": "19", "rejected": "1"})
    assert spots(batch) == {"moulded": 36, "beads": 19}
    assert "36 × Painted round wait, firing 1 of 2" in client.get(url).content.decode()
    agrees()


def test_beads_to_be_painted_are_not_sorted_behind_the_paint(client, workshop, batch):
    with pytest.raises(ValidationError, match="40 beads .* are to be painted first"):
        log_good_beads(batch, good=40, rejected=0, firing=2, person=workshop["hand"])
    paint_beads(batch, person=workshop["hand"])
    log_good_beads(batch, good=38, rejected=2, firing=2, person=workshop["hand"])
    assert spots(batch) == {"beads": 38}
    agrees()


def test_a_tray_for_the_shelf_waits_for_its_paint_and_is_fired_then(workshop, batch):
    load = make_load(workshop, hold_c=620, hold_min=20)
    LoadTray.objects.create(load=load, bead=batch.bead, batch=batch, firing=2, moulds=4, beads=40)
    assert "to be painted" in not_ready(trays_of(load)[0])
    paint_beads(batch, person=workshop["hand"])
    (tray,) = trays_of(load)
    assert not_ready(tray) == ""
    start_load(load, [TrayIn(tray, 40)], person=workshop["keeper"])
    log_firing(load, [TrayOut(tray, 39, 1)], person=workshop["keeper"], to_shelf=True)
    assert spots(batch) == {"beads": 39}
    agrees()


def test_the_bench_and_the_plan_know_beads_to_be_painted_for_the_shelf(workshop, batch, client):
    (waits,) = bench_work().shelf_to_paint
    assert (waits.batch, waits.beads, waits.minutes) == (batch, 40, 30)
    client.force_login(workshop["hand"])
    assert reverse("stock:batch_paint", args=[batch.pk]) in client.get("/bench/").content.decode()
    unpainted = next(work for work in read_floor().work.values() if work.batch_id == batch.pk)
    paint_beads(batch, person=workshop["hand"])
    painted = next(work for work in read_floor().work.values() if work.batch_id == batch.pk)
    assert (unpainted.first, painted.first, painted.beads) == (2, 2, 40)
    assert unpainted.release_min > painted.release_min
    assert not bench_work().shelf_to_paint


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"count": "41"}, "40 beads of batch"),
        ({"count": "0"}, "1"),
        ({"on": "2040-01-01"}, "future"),
        ({"minutes": "soon"}, "minutes"),
    ],
)
def test_what_cannot_be_is_refused_at_its_box_and_nothing_is_painted(
    client, workshop, batch, typed, said
):
    client.force_login(workshop["hand"])
    answer = paint(client, batch, **typed)
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == set(typed)
    assert said in str(answer.context["form"].errors)
    assert spots(batch) == {TO_PAINT: 40}
