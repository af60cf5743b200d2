"""A workshop that has taken no order yet is led through its facts in the right order."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from tests.builders import make_business, make_kiln, make_order, make_person, make_rate
from workshop.models import Business

pytestmark = pytest.mark.django_db


def front_page(client, role: str = "owner") -> str:
    client.force_login(make_person(role))
    return client.get(reverse("orders:home")).content.decode()


def steps_on(page: str) -> list[str]:
    listed = page.partition('class="first-steps"')[2].partition("</ol>")[0]
    return re.findall(r"<a [^>]*>([^<]+)</a>", listed)


def test_each_step_needs_only_those_before_it(client):
    Business.current()
    told = steps_on(front_page(client))
    assert told[0] == "Your business" and told[-1] == "The first order"
    for earlier, later in (
        ("Kilns", "Firing programmes"),
        ("Firing programmes", "Moulds"),
        ("Moulds", "Beads"),
        ("Glass colours", "Beads"),
        ("Beads", "Strand designs"),
        ("Strand designs", "The first order"),
    ):
        assert told.index(earlier) < told.index(later)


def test_every_step_leads_to_a_page_where_it_can_be_done(client):
    Business.current()
    page = front_page(client)
    listed = page.partition('class="first-steps"')[2].partition("</ol>")[0]
    for address in re.findall(r'href="([^"]+)"', listed):
        assert client.get(address).status_code == 200, address


def test_what_stands_there_already_is_marked(client):
    make_business()
    assert front_page(client).count('class="done"') == 1  # it has a name of its own
    make_kiln()
    assert front_page(client).count('class="done"') == 2


def test_the_list_goes_when_the_first_order_is_taken(client):
    make_business()
    make_kiln()
    make_rate()
    make_order(1, price=Decimal(40))
    assert steps_on(front_page(client)) == []


def test_only_the_owner_sets_a_workshop_up(client):
    make_business()
    assert steps_on(front_page(client, "kiln")) == []
