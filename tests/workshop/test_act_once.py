"""A form that is sent twice acts once, and one that fails leaves nothing behind."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from tests.builders import make_person
from workshop.models import IdempotencyKey, Kiln

pytestmark = pytest.mark.django_db

KILN = {
    "name": "Beach kiln",
    "places": "12",
    "lowest_c": "500",
    "highest_c": "900",
    "preheat_min": "60",
    "cooling_min": "90",
    "fuel": "wood",
    "fuel_price": "0,14",
    "efficiency": "12",
    "moisture": "20",
    "in_use": "on",
}


@pytest.fixture
def owner(client):
    person = make_person("owner")
    client.force_login(person)
    return person


def test_a_form_sent_twice_with_one_key_makes_one_kiln(client, owner):
    form = {**KILN, "key": str(uuid.uuid4())}
    first = client.post(reverse("workshop:kiln_add"), form)
    second = client.post(reverse("workshop:kiln_add"), form)
    assert (first.status_code, second.status_code) == (302, 302)
    assert first.url == second.url
    assert Kiln.objects.count() == 1


def test_the_same_key_with_other_figures_keeps_the_first(client, owner):
    key = str(uuid.uuid4())
    client.post(reverse("workshop:kiln_add"), {**KILN, "key": key})
    answer = client.post(
        reverse("workshop:kiln_add"), {**KILN, "name": "Other", "key": key}, follow=True
    )
    assert list(Kiln.objects.values_list("name", flat=True)) == ["Beach kiln"]
    assert "the first ones were kept" in answer.content.decode()


def test_a_form_with_an_error_keeps_what_was_typed_and_may_be_sent_again(client, owner):
    key = str(uuid.uuid4())
    wrong = client.post(reverse("workshop:kiln_add"), {**KILN, "places": "0", "key": key})
    assert wrong.status_code == 422
    assert "Beach kiln" in wrong.content.decode()
    assert key in wrong.content.decode()
    assert not Kiln.objects.exists()
    assert not IdempotencyKey.objects.exists()
    right = client.post(reverse("workshop:kiln_add"), {**KILN, "key": key})
    assert right.status_code == 302
    assert Kiln.objects.get().fuel_price == Decimal("0.14")


def test_somebody_elses_key_does_not_answer_for_me(client, owner, django_user_model):
    key = str(uuid.uuid4())
    client.post(reverse("workshop:kiln_add"), {**KILN, "key": key})
    other = make_person("owner", username="another")
    client.force_login(other)
    answer = client.post(reverse("workshop:kiln_add"), {**KILN, "name": "Mine", "key": key})
    assert answer.status_code == 409
    assert "reload the page" in answer.content.decode()
    assert Kiln.objects.count() == 1
