"""The page of an order for its customer, behind an address that cannot be guessed."""

import uuid
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from orders.models import Customer, Order
from tests.builders import make_order
from workshop.models import Business, Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(workshop, settings) -> Order:
    settings.DESK = False
    settings.SECURE_SSL_REDIRECT = False
    cache.clear()
    Business.objects.update(customer_pages=True)
    return make_order(2, design=workshop["design"], note="for the fair")


def page_of(order: Order) -> str:
    return reverse("orders:customer_page", args=[order.key])


def test_a_customers_page_tells_how_far_the_sum_and_the_day_and_nothing_else(client, order):
    answer = client.get(page_of(order))
    told = answer.content.decode()
    assert f"Order {order.number}" in told and "waits for glass" in told
    assert "Comes to" in told and "Collect from" in told
    for hidden in (order.customer.name, "Harbour bracelet", "for the fair", "Full cost"):
        assert hidden not in told
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer["X-Robots-Tag"]


def test_a_customers_page_ends_and_is_closed(client, order, settings):
    def answers(**changed) -> int:
        Order.objects.filter(pk=order.pk).update(**changed)
        return client.get(page_of(order)).status_code

    today = timezone.localdate()
    assert answers(state="collected", collected_on=today - timedelta(days=31)) == 200
    assert answers(collected_on=today - timedelta(days=32)) == 404
    assert answers(state="cancelled", collected_on=None) == 404
    assert answers(state="draft") == 404
    assert answers(state="confirmed") == 200
    assert client.post(page_of(order)).status_code in {403, 404, 405}
    assert client.get(reverse("orders:customer_page", args=[uuid.uuid4()])).status_code == 404
    Customer.objects.update(nameless=True)
    assert client.get(page_of(order)).status_code == 404
    Customer.objects.update(nameless=False)
    settings.DESK = True  # nobody else can reach this machine
    assert client.get(page_of(order)).status_code == 404
    settings.DESK = False
    Business.objects.update(customer_pages=False)
    assert client.get(page_of(order)).status_code == 404


def test_who_guesses_addresses_is_turned_away(client, order):
    for _try in range(60):
        guess = reverse("orders:customer_page", args=[uuid.uuid4()])
        assert client.get(guess).status_code == 404
    turned = client.get(page_of(order))
    assert turned.status_code == 429 and turned["Retry-After"] == "60"
    assert client.get(page_of(order), REMOTE_ADDR="192.0.2.7").status_code == 200


def test_the_address_is_told_to_her_by_the_message_sheet(client, order):
    client.force_login(Person.objects.get(role="counter"))
    tell = reverse("orders:order_tell", args=[order.number])
    assert page_of(order) in client.get(tell).content.decode()
    Business.objects.update(customer_pages=False)
    assert page_of(order) not in client.get(tell).content.decode()
