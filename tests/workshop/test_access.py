"""Who may open what: the table covers every address, and no role gets further than its row."""

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.builders import make_person
from workshop.access import ACCESS, may_open
from workshop.models import Role

# Pages that are about one thing named after the question mark; without it they are not there.
ASKED_WITH = {"orders:payment_take"}


def view_names(resolver=None, namespace=""):
    """Every named address of the project, namespaces included."""
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
            yield from view_names(pattern, inner)
        elif isinstance(pattern, URLPattern):
            yield f"{namespace}{pattern.name}"


def test_every_address_stands_in_the_access_table():
    assert sorted(set(view_names()) - set(ACCESS)) == []


def test_the_access_table_names_no_address_that_is_gone():
    assert sorted(set(ACCESS) - set(view_names())) == []


def test_only_the_way_in_is_open_to_strangers():
    public = {name for name, row in ACCESS.items() if row.public}
    # The strand tag's page and the calendar feed have secret addresses; health says nothing.
    assert public <= {
        "workshop:sign_in",
        "workshop:choose_password",
        "workshop:health",
        "workshop:metrics",
        "workshop:phone_pair",
        "workshop:phone_back",
        "workshop:phone_manifest",
        "workshop:phone_worker",
        # Only where the program is the demo opened to practise in, by a pass good for a minute.
        "workshop:practise_in",
        "orders:calendar",
        "orders:customer_page",
        "orders:calendar_feed",
        "orders:strand_story",
        "stock:strand_story",
    }


@pytest.mark.django_db
@pytest.mark.parametrize("role", Role.values)
def test_a_page_that_a_role_may_not_open_does_not_exist_for_it(client, role):
    """Every address without arguments, asked for by every role: closed is 404, open is not."""
    person = make_person(role)
    client.force_login(person)
    for name in sorted(set(view_names()) - ASKED_WITH):
        try:
            address = reverse(name)
        except Exception:
            continue  # an address of one thing; its own tests ask for it
        status = client.get(address).status_code
        if may_open(name, "GET", person) == "no":
            assert status == 404, f"{role} reached {name}"
        else:
            assert status < 500, f"{name} fails for {role}"
            assert status in {200, 302, 405, 422}, f"{role} cannot open {name}: {status}"


@pytest.mark.django_db
@pytest.mark.parametrize("role", [role for role in Role.values if role != "owner"])
def test_an_act_that_a_role_may_not_do_changes_nothing(client, role):
    person = make_person(role)
    client.force_login(person)
    for name, row in ACCESS.items():
        if row.public or role in row.act:
            continue
        try:
            address = reverse(name)
        except Exception:
            address = None
        if address is not None:
            assert client.post(address).status_code == 404, f"{role} acted at {name}"


def test_a_stranger_is_sent_to_the_door(client, db):
    answer = client.get(reverse("workshop:facts"))
    assert answer.status_code == 302
    assert answer.url.startswith(reverse("workshop:sign_in"))


def test_an_address_without_a_row_is_closed_even_to_the_owner(db):
    assert may_open("workshop:no-such-page", "GET", make_person("owner")) == "no"
