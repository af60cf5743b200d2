"""Work for the shelf is paid like work for an order: moulding, sorting, stringing to stock."""

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.money.services.pay import pay_due
from stock.models import BeadBatch, GlassForm, WorkTicket
from stock.services.beads import mould_beads
from stock.services.undo import take_back
from tests.builders import (
    make_bead,
    make_colour,
    make_design,
    make_person,
    make_rate,
    put_beads,
    put_glass,
)
from workshop.models import Role

pytestmark = pytest.mark.django_db


@pytest.fixture
def hand(client):
    person = make_person(Role.BENCH, username="benchhand")
    client.force_login(person)
    return person


def test_moulding_for_the_shelf_is_paid_by_the_mould(client, hand):
    make_rate("Filling", skill="moulding", basis="mould", minutes_each=Decimal(6), piece=Decimal(2))
    put_glass(make_colour(), GlassForm.POWDER, 5)
    bead, today = make_bead(), timezone.localdate()
    moulds = -(-25 // bead.mould.cavities)
    given = {"bead": bead.pk, "count": "25", "on": today.isoformat(), "minutes": "20"}
    client.post(reverse("stock:batch_mould"), given)
    ticket = WorkTicket.objects.get()
    assert (ticket.step_id, ticket.pieces, ticket.minutes) == ("Filling", moulds, 20)
    assert ticket.belongs_ref == f"batch {BeadBatch.objects.get().number}"
    assert pay_due(hand, today, today).earned == 2 * moulds


def test_sorting_for_the_shelf_is_paid_for_what_came_good(client, hand):
    make_rate(
        "Polishing", skill="polishing", basis="bead", minutes_each=Decimal("0.1"),
        piece=Decimal("0.05"),
    )  # fmt: skip
    put_glass(make_colour(), GlassForm.POWDER, 5)
    bead, today = make_bead(), timezone.localdate()
    batch = mould_beads(bead, 40, person=hand)
    given = {"good": "36", "rejected": "4", "rejects_to": "remade", "on": today.isoformat()}
    client.post(reverse("stock:batch_finish", args=[batch.pk]), given | {"minutes": "9"})
    ticket = WorkTicket.objects.get()
    assert (ticket.pieces, ticket.rejected, ticket.minutes) == (36, 4, 9)
    assert pay_due(hand, today, today).earned == Decimal("1.80")  # 36 × 0.05


def test_stringing_to_stock_is_paid_by_the_strand(client, hand):
    make_rate(
        "Stringing", skill="stringing", basis="strand", minutes_each=Decimal(5), piece=Decimal(1)
    )
    bead, today = make_bead(), timezone.localdate()
    put_beads(bead, 100)
    design = make_design(beads=bead)
    given = {"strands": "3", "on": today.isoformat(), "minutes": "14"}
    client.post(reverse("orders:design_string", args=[design.pk]), given)
    ticket = WorkTicket.objects.get()
    assert (ticket.step_id, ticket.pieces, ticket.minutes) == ("Stringing", 3, 14)
    assert pay_due(hand, today, today).earned == 3


def test_sorting_mixed_glass_is_paid_and_taken_back_with_it(client):
    owner = make_person("owner")
    client.force_login(owner)
    make_rate(
        "Sorting", skill="preparing", basis="kg", form="raw", minutes_each=Decimal(4),
        hourly=Decimal(12),
    )  # fmt: skip
    green, today = make_colour(), timezone.localdate()
    put_glass(None, GlassForm.RAW, 10)
    given = {"taken_g": "10", f"colour_{green.pk}": "9.6", "on": today.isoformat()}
    sent = client.post(reverse("stock:sack_sort"), given | {"minutes": "45"})
    assert sent.status_code == 302, sent.context["form"].errors
    ticket = WorkTicket.objects.get()
    assert (ticket.step_id, ticket.pieces, ticket.minutes) == ("Sorting", 10, 45)
    assert pay_due(owner, today, today).earned == 9  # 45 × 12 ÷ 60
    take_back(ticket.posting, person=owner, why="the wrong heap")
    assert not WorkTicket.objects.exists()
