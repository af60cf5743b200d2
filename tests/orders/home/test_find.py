"""One search for everything, recent things, the keys, and taking back from an act's message."""

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.home.queries.finding import find
from stock.models import GlassForm, Sack
from stock.services.sacks import weigh_in_sack
from tests.builders import (
    make_collector,
    make_colour,
    make_customer,
    make_order,
    make_person,
    put_glass,
)
from workshop.doors import open_to
from workshop.services.acts import record_act

pytestmark = pytest.mark.django_db


def found(words: str, role: str = "owner") -> dict[str, list[str]]:
    person = make_person(role)
    groups = find(words, lambda page: open_to(person, page))
    return {group.kind: [hit.name for hit in group.hits] for group in groups}


@pytest.fixture
def sack(db) -> Sack:
    return weigh_in_sack(
        collector=make_collector(), colour=make_colour(), gross_g=5000, person=make_person("yard")
    )


def test_an_order_is_found_by_its_number_and_by_who_it_is_for(workshop):
    order = make_order(2, design=workshop["design"], customer=make_customer("Marisa Orlo"))
    line = f"{order.number} Marisa Orlo"
    assert found(str(order.number))["orders"] == [line]
    assert found("orlo")["orders"] == [line]
    assert found("orlo")["people"] == ["Marisa Orlo"]


@pytest.mark.parametrize("written", ["0470 112", "0470112", "112-233", "+0470 11 22"])
def test_a_telephone_is_found_however_it_is_spaced(db, written):
    customer = make_customer("Rita Hask")
    customer.phone = "0470 11 22 33"
    customer.save()
    assert found(written)["people"] == ["Rita Hask"]


def test_designs_beads_sacks_and_colours_keep_their_names(workshop, sack):
    assert found(workshop["design"].name[:5])["designs"] == [workshop["design"].name]
    assert found(workshop["bead"].name)["beads"] == [workshop["bead"].name]
    assert found(str(sack.number))["sacks"] == [str(sack)]


def test_what_is_closed_to_somebody_is_not_found_by_them(workshop, sack):
    make_order(2, design=workshop["design"], customer=make_customer("Marisa Orlo"))
    assert found("orlo", "yard") == {}
    assert "sacks" not in found(str(sack.number), "counter")


def test_one_letter_and_nothing_find_nothing(workshop):
    assert found("") == found(" ") == found("o") == {}


def test_the_only_thing_found_opens_at_once(client, workshop):
    order = make_order(2, design=workshop["design"], customer=make_customer("Marisa Orlo"))
    client.force_login(make_person("kiln"))
    answer = client.get(reverse("orders:find"), {"q": "marisa"})
    assert answer.url == reverse("orders:order_detail", args=[order.number])


def test_nothing_found_says_what_may_be_written(client, workshop):
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:find"), {"q": "<b>nobody"}).content.decode()
    assert "Nothing is called “&lt;b&gt;nobody”" in page


def test_recent_things_are_those_one_did_something_to(client, workshop):
    person = make_person("owner")
    order = make_order(2, design=workshop["design"])
    for _again in range(3):
        record_act(person, "look twice", order)
    client.force_login(person)
    page = client.get(reverse("orders:find")).content.decode()
    assert page.count(f"Order {order.number}") == 1


def test_the_search_own_page_and_safety_stand_on_every_page(client, workshop):
    client.force_login(make_person("bench"))
    page = client.get(reverse("orders:bench")).content.decode()
    for name in ("orders:find", "workshop:own_page", "workshop:safety"):
        assert reverse(name) in page


@pytest.mark.parametrize("many", [1, 4])
def test_finding_takes_a_query_for_each_kind(workshop, many, django_assert_max_num_queries):
    for _n in range(many):
        make_order(1, design=workshop["design"])
    person = make_person("owner")
    with django_assert_max_num_queries(9):
        find("a1", lambda page: open_to(person, page))


# --- taking back --------------------------------------------------------------------------------


def log_a_preparation(client, colour):
    address = reverse("stock:preparation_log")
    form = client.get(address).context["form"]
    ((_heap, box),) = form.raw_boxes()
    sent = {"form": "powder", box.html_name: "2 kg", f"out_{colour.pk}": "1.7 kg", "minutes": "30"}
    who = client.session["_auth_user_id"]
    sent |= {"hand": who, "on": timezone.localdate().isoformat()}
    return client.post(address, sent, follow=True).content.decode()


def test_what_was_written_into_the_book_can_be_taken_back_from_its_message(client, db):
    colour = make_colour()
    put_glass(colour, GlassForm.RAW, 5)
    client.force_login(make_person("yard"))
    page = log_a_preparation(client, colour)
    assert "Take it back" in page.split('id="messages"')[1].split("</div>")[0]


def test_whoever_may_not_take_back_is_not_offered_it(client, db):
    colour = make_colour()
    put_glass(colour, GlassForm.RAW, 5)
    client.force_login(make_person("bench"))
    page = log_a_preparation(client, colour)
    assert "Take it back" not in page.split('id="messages"')[1].split("</div>")[0]
