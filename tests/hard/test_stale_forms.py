"""Two people open the same thing; the second to save is told, and types nothing twice."""

import re
import uuid

import pytest
from django.test import Client
from django.urls import reverse

from orders.models import Order
from tests.builders import make_customer, make_draft, make_kiln, make_person, make_rate
from tests.hard.test_asvs_forms import boxes_of

pytestmark = pytest.mark.django_db


def at(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role, full_name=f"{role.title()} Hand"))
    return client


def opened(client, path) -> dict:
    return boxes_of(client.get(path).content.decode())


def test_the_second_to_save_a_customer_is_told_who_changed_what_and_keeps_the_typing():
    customer = make_customer("Marisa Orlo", phone="+351 900 000 001")
    path = reverse("orders:customer_change", args=[customer.pk])
    owner, counter = at("owner"), at("counter")
    first, second = opened(owner, path), opened(counter, path)
    assert owner.post(path, {**first, "phone": "+351 900 000 002"}).status_code == 302
    answer = counter.post(path, {**second, "note": "comes on Fridays"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Owner Hand changed this" in text
    assert "900 000 002" in text
    assert "comes on Fridays" in text
    customer.refresh_from_db()
    assert (customer.phone, customer.note) == ("+351 900 000 002", "")
    # The form that came back knows the new state; saving it again is meant.
    again = boxes_of(text)
    assert counter.post(path, {**again, "phone": customer.phone}).status_code == 302
    customer.refresh_from_db()
    assert (customer.phone, customer.note) == ("+351 900 000 002", "comes on Fridays")


def test_saving_twice_by_oneself_is_no_conflict():
    path = reverse("orders:customer_change", args=[make_customer().pk])
    client = at("counter")
    for note in ("one", "two"):
        form = {**opened(client, path), "note": note, "key": str(uuid.uuid4())}
        assert client.post(path, form).status_code == 302


def test_the_second_to_change_a_draft_is_told_by_name_and_overwrites_nothing():
    make_kiln(), make_rate()
    order = make_draft(2)
    path = reverse("orders:order_change", args=[order.number])
    owner, counter = at("owner"), at("counter")
    first, second = opened(owner, path), opened(counter, path)
    line = next(name for name in first if re.fullmatch(r"n_\d+", name))
    assert owner.post(path, {**first, line: "5", "do": "draft"}).status_code == 302
    answer = counter.post(path, {**second, line: "9", "do": "draft"})
    assert answer.status_code == 422
    assert "was changed by Owner Hand meanwhile" in answer.content.decode()
    assert Order.objects.get(pk=order.pk).lines.get().strands == 5
    assert re.search(rf'name="{line}"[^>]*value="9"', answer.content.decode())
