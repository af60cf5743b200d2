"""Acts are tried in the demo: who is let in, where it is offered, and where it is not.

That a desk really opens it beside its own book is shown in tests/test_own_book.py.
"""

import pytest
from django.core import signing
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.services import practice

pytestmark = pytest.mark.django_db


def way_in(role: str = "yard", back: str = "http://127.0.0.1:8000/") -> str:
    said = signing.dumps({"role": role, "back": back}, salt=practice.SALT)
    return reverse("workshop:practise_in", args=[said])


def test_a_pass_leads_into_the_demo_in_the_same_role_with_the_way_back(client, settings):
    settings.BOOK = "practice"
    make_business()
    keeper = make_person("yard")
    page = client.get(way_in(), follow=True)
    assert page.context["user"] == keeper
    assert "nothing here is real" in page.content.decode()
    assert 'href="http://127.0.0.1:8000/"' in page.content.decode()
    glass = client.get(reverse("stock:glass")).content.decode()
    assert "Back to your own book" in glass


def test_the_door_is_shut_at_ones_own_book_and_for_old_and_made_up_passes(
    client, settings, monkeypatch
):
    make_business()
    make_person("yard")
    assert client.get(way_in()).status_code == 404
    settings.BOOK = "practice"
    assert client.get(reverse("workshop:practise_in", args=["made:up"])).status_code == 404
    assert client.get(way_in("kiln")).status_code == 404  # nobody has that role there
    monkeypatch.setattr(practice, "PASS_S", -1)
    assert client.get(way_in()).status_code == 404
    settings.DESK = False
    assert not practice.practises_here()


def test_a_server_or_a_desk_without_the_demo_says_that_there_is_no_practice(client):
    make_business()
    client.force_login(make_person("owner"))
    assert "Try it in the demo" not in client.get(reverse("workshop:facts")).content.decode()
    answer = client.post(reverse("workshop:practise"))
    assert answer.status_code == 422
    assert "On a server or a phone it is not there." in answer.content.decode()


@pytest.mark.parametrize(
    ("host", "offered"),
    [("127.0.0.1:8000", True), ("localhost:8000", True), ("strandwork.local:8001", False)],
)
def test_it_is_offered_at_the_desk_itself_and_to_no_other_address(
    rf, settings, monkeypatch, host, offered
):
    settings.OPENS_AGAIN, settings.ALLOWED_HOSTS = True, ["*"]
    monkeypatch.setattr(practice, "can_practise", lambda book, var: True)
    assert practice.may_practise(rf.get("/", HTTP_HOST=host)) is offered
