"""Who reads, decides: a person's own language on her pages, a customer's on her papers."""

import pytest
from django.conf import settings
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.models import Person

pytestmark = pytest.mark.django_db

SIGN_IN, OWN = "workshop:sign_in", "workshop:own_page"


def language_of(answer) -> str:
    """What the page itself says it is written in, as its header says too."""
    said = answer.headers["Content-Language"]
    assert f'<html lang="{said}" dir="ltr"' in answer.content.decode()
    return said


def test_a_stranger_is_met_in_the_language_the_browser_asks_for(client):
    # RFC 9110, 12.5.4: what weighs most comes first; a language we lack is passed over.
    for asked, found in (
        ("de-AT,de;q=0.9,en;q=0.5", "de"),
        ("en;q=0.5, pt-BR;q=0.9", "pt"),
        ("ja,es;q=0.3", "es"),
        ("ja", "en"),
        ("", "en"),
    ):
        answer = client.get(reverse(SIGN_IN), headers={"accept-language": asked})
        assert language_of(answer) == found
        assert {"Accept-Language", "Cookie"} <= set(answer.headers["Vary"].split(", "))


def test_where_nobody_says_anything_the_workshop_does(client):
    make_business(language="pt")
    assert language_of(client.get(reverse(SIGN_IN))) == "pt"
    client.force_login(make_person("yard"))
    assert language_of(client.get(reverse(OWN))) == "pt"


def test_a_choice_at_the_door_is_remembered_and_becomes_ones_own(client):
    person = make_person("owner")
    door = reverse(SIGN_IN)
    assert language_of(client.get(door, {"language": "fr", "next": "/x/"})) == "fr"
    assert language_of(client.get(door)) == "fr", "the browser remembers it"
    typed = {"username": "owner", "password": "sea glass 42", "language": "fr"}
    client.post(door, typed)
    person.refresh_from_db()
    assert person.language == "fr"
    assert language_of(client.get(reverse(OWN), headers={"accept-language": "de"})) == "fr"


def test_a_language_that_is_not_spoken_here_changes_nothing(client):
    answer = client.get(reverse(SIGN_IN), {"language": "../../etc"})
    assert language_of(answer) == "en"
    assert settings.LANGUAGE_COOKIE_NAME not in answer.cookies
    client.force_login(make_person("owner"))
    client.post(reverse("workshop:own_language"), {"language": "xx"})
    assert Person.objects.get().language == ""


def test_two_who_share_a_computer_each_read_their_own(client):
    """The second is not made to read what the first has chosen."""
    make_person("yard", language="es")
    make_person("owner", language="de")
    door = reverse(SIGN_IN)
    for name, own in (("yard", "es"), ("owner", "de"), ("yard", "es")):
        client.post(door, {"username": name, "password": "sea glass 42"})
        assert language_of(client.get(reverse(OWN))) == own
        client.post(reverse("workshop:sign_out"))
        assert language_of(client.get(door)) == own, "the door speaks as its last visitor"
    assert dict(Person.objects.values_list("username", "language")) == {"yard": "es", "owner": "de"}


def test_a_person_changes_the_language_on_her_own_page_and_leaves_it_to_the_browser_again(client):
    client.force_login(make_person("bench"))
    change = reverse("workshop:own_language")
    assert language_of(client.post(change, {"language": "de"}, follow=True)) == "de"
    german = {"accept-language": "fr"}
    assert language_of(client.get(reverse(OWN), headers=german)) == "de"
    client.post(change, {"language": ""})
    assert language_of(client.get(reverse(OWN), headers=german)) == "fr"


def test_a_page_that_is_not_there_speaks_to_whoever_looked_for_it(client):
    client.force_login(make_person("owner", language="pt"))
    answer = client.get("/nothing/of/that/kind/")
    assert answer.status_code == 404
    assert language_of(answer) == "pt"
