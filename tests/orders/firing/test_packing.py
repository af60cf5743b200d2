"""What is done once for a whole order, tags and packing: told with one tap, paid, learned from."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.bench.queries.work import bench_work
from orders.bench.services import string_line
from orders.learning.queries.minutes import minutes
from orders.money.services.pay import pay_due
from stock.models import WorkTicket
from tests.builders import make_bead, make_design, make_order, make_person, make_rate, put_beads
from workshop.models import LabourRate, Role

pytestmark = pytest.mark.django_db


@pytest.fixture
def packing_is_paid(workshop):
    """12 minutes an order and a tenth for rest, 2 minutes to set up, 7.20 an hour."""
    make_rate(
        "Packing", skill="stringing", basis="order", minutes_each=Decimal(12),
        allowance=Decimal("0.10"), setup_min=Decimal(2), hourly=Decimal("7.20"),
    )  # fmt: skip
    return workshop


def ready_order(strands: int = 1):
    """An order whose strands lie strung."""
    bead = make_bead("Packed round")
    put_beads(bead, 60)
    order = make_order(strands, design=make_design(f"Packed {strands}", beads=bead))
    string_line(order.lines.get(), strands, person=make_person(Role.BENCH, username="stringer"))
    order.refresh_from_db()
    return order


def test_a_ready_order_waits_to_be_packed_with_its_standard_minutes(packing_is_paid):
    order = ready_order()
    (waits,) = bench_work().to_pack
    # 2 + 12 × 1.10 = 15.2
    assert (waits.order, waits.minutes) == (order, 15)


def test_one_tap_packs_it_and_it_is_paid_and_taught(client, packing_is_paid):
    order, hand = ready_order(), packing_is_paid["hand"]
    client.force_login(hand)
    page = client.get(reverse("orders:bench")).content.decode()
    assert "Packing" in page and 'value="15"' in page
    url = reverse("orders:bench_pack", args=[order.number])
    said = client.post(url, {"step_0": "25"}, follow=True).content.decode()
    assert f"Order {order.number} is packed." in said
    ticket = WorkTicket.objects.get(step="Packing")
    assert (ticket.hand, ticket.pieces, ticket.minutes) == (hand, 1, 25)
    (line,) = pay_due(hand, ticket.on, ticket.on).lines
    assert line.amount == Decimal("3.00")  # 25 ÷ 60 × 7.20
    (row,) = [row for row in minutes() if row.subject.startswith("Packing")]
    assert row.learned.value == 23  # 25 without the 2 of setting up


def test_an_order_is_packed_once_and_the_second_hand_is_told_by_whom(client, packing_is_paid):
    order = ready_order()
    url = reverse("orders:bench_pack", args=[order.number])
    for role in ("hand", "keeper"):
        client.force_login(packing_is_paid[role])
        said = client.post(url, {"step_0": "15"}, follow=True).content.decode()
    assert "has packed order" in said
    assert WorkTicket.objects.filter(step="Packing").count() == 1
    assert bench_work().to_pack == []


def test_minutes_that_are_none_are_refused_and_stay_typed(client, packing_is_paid):
    client.force_login(packing_is_paid["hand"])
    url = reverse("orders:bench_pack", args=[ready_order().number])
    answer = client.post(url, {"step_0": "a while"})
    assert answer.status_code == 422
    assert "Write whole minutes" in answer.content.decode() and "a while" in answer.content.decode()
    assert not WorkTicket.objects.filter(step="Packing").exists()


def test_an_order_that_is_not_strung_is_not_packed(client, packing_is_paid):
    bead = make_bead("Unstrung round")
    put_beads(bead, 60)
    order = make_order(1, design=make_design("Unstrung", beads=bead))
    client.force_login(packing_is_paid["hand"])
    url = reverse("orders:bench_pack", args=[order.number])
    said = client.post(url, {"step_0": "15"}, follow=True).content.decode()
    assert "is not ready to be packed" in said
    assert not WorkTicket.objects.filter(step="Packing").exists()


def test_the_counter_packs_from_the_orders_page(client, packing_is_paid):
    order = ready_order()
    counter = make_person(Role.COUNTER, username="packer")
    client.force_login(counter)
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    url = reverse("orders:bench_pack", args=[order.number])
    assert url in page
    answer = client.post(url, {"step_0": "9"})
    assert answer["Location"] == reverse("orders:order_detail", args=[order.number])
    assert WorkTicket.objects.get(step="Packing").hand == counter


def test_strands_are_never_paid_as_packing(packing_is_paid):
    """The rate of packing may be the older one: a strung strand is still stringing."""
    LabourRate.objects.filter(step="Packing").update(valid_from="2020-01-01")
    ready_order(2)
    assert WorkTicket.objects.get().step_id == "Stringing"
