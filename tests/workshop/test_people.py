"""People who sign in: invited once, sent away with all their sessions, kept out by wrong tries."""

import re

import pytest
from django.urls import reverse

from tests.builders import make_person
from tests.pages import marks_of
from workshop.models import Person

pytestmark = pytest.mark.django_db


def test_an_invited_person_chooses_a_password_once(client):
    client.force_login(make_person("owner"))
    form = {"username": "mirela", "full_name": "Mirela", "role": "bench", "is_active": "on"}
    client.post(reverse("workshop:person_add"), form)
    person = Person.objects.get(username="mirela")
    assert not person.has_usable_password()
    page = client.post(reverse("workshop:person_invite", args=[person.pk])).content.decode()
    link = re.search(r'value="(http[^"]+)"', page).group(1)
    client.logout()
    first = client.get(link, follow=True)
    address = first.redirect_chain[-1][0]
    chosen = {"new_password1": "tide and kiln 77", "new_password2": "tide and kiln 77"}
    assert client.post(address, chosen).status_code == 302
    again = client.get(link, follow=True).content.decode()
    assert "used already" in again


@pytest.mark.parametrize("bad", ["short", "password1234", "mirelamirela"])
def test_a_short_common_or_own_name_password_is_refused(client, bad):
    person = make_person("bench", username="mirelamirel")
    client.force_login(person)
    answer = client.post(
        reverse("workshop:own_page"),
        {"old_password": "sea glass 42", "new_password1": bad, "new_password2": bad},
    )
    assert answer.status_code == 422
    person.refresh_from_db()
    assert person.check_password("sea glass 42")


def test_a_person_who_may_not_sign_in_any_more_is_out_at_the_next_page(client):
    hand = make_person("bench")
    client.force_login(hand)
    assert client.get(reverse("workshop:own_page")).status_code == 200
    owner_client = type(client)()
    owner_client.force_login(make_person("owner"))
    form = {"username": hand.username, "full_name": "", "role": "bench"}
    page = reverse("workshop:person_change", args=[hand.pk])
    owner_client.post(page, form | marks_of(owner_client, page))
    assert client.get(reverse("workshop:own_page")).status_code == 302


def test_an_owner_cannot_take_the_role_from_themselves(client):
    owner = make_person("owner")
    client.force_login(owner)
    answer = client.post(
        reverse("workshop:person_change", args=[owner.pk]),
        {"username": owner.username, "role": "bench", "is_active": "on"},
    )
    assert "let another owner do it" in answer.content.decode()
    owner.refresh_from_db()
    assert owner.role == "owner"


def test_too_many_wrong_passwords_shut_the_door_for_a_while(client):
    make_person("counter", username="dario")
    address = reverse("workshop:sign_in")
    for _try in range(5):
        client.post(address, {"username": "dario", "password": "wrong"})
    answer = client.post(address, {"username": "dario", "password": "sea glass 42"})
    assert answer.status_code == 429
    assert "quarter of an hour" in answer.content.decode()
