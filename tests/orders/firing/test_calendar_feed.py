"""Loads and collections in a calendar of one's own, behind a secret address (RFC 5545)."""

from datetime import UTC, timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from orders.models import CalendarAddress
from tests.builders import make_person
from tests.orders.firing.conftest import make_load, moulded_job, put_in

pytestmark = pytest.mark.django_db


def new_address(client, **boxes) -> str:
    client.force_login(make_person("owner"))
    client.post(reverse("orders:calendar_address"), boxes)
    secret = CalendarAddress.objects.get().secret
    client.logout()
    return reverse("orders:calendar_feed", args=[secret])


def test_a_load_stands_in_the_calendar_from_lighting_to_opening(client, workshop):
    load = make_load(workshop)
    put_in(load, moulded_job(workshop))
    answer = client.get(new_address(client))
    assert answer["Content-Type"].startswith("text/calendar")
    (event,) = [
        each for each in Calendar.from_ical(answer.content).walk("VEVENT")
        if str(each["uid"]).startswith("load-")
    ]  # fmt: skip
    assert event.decoded("dtstart") == load.starts_at.astimezone(UTC)
    # 60 preheat, 30 held, 90 cooling.
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(minutes=180)
    assert "Clay kiln" in event["summary"] and "Green round" in event["description"]


def test_the_day_of_collection_is_a_whole_day(client, workshop):
    order = moulded_job(workshop, customer="Tomas Reku").order
    answer = client.get(new_address(client))
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert event.decoded("dtstart") == order.due_on
    assert event.decoded("dtend") == order.due_on + timedelta(days=1)
    assert f"order {order.number}, T. R." in event["summary"]


def test_names_are_told_only_where_the_owner_says_so(client, workshop):
    moulded_job(workshop, customer="Tomas Reku")
    assert b"Reku" not in client.get(new_address(client)).content
    assert b"Tomas Reku" in client.get(new_address(client, with_names="on")).content
    assert b"Reku" not in client.get(new_address(client)).content


def test_every_event_and_the_calendar_have_what_the_standard_demands(client, workshop):
    """RFC 5545 §3.6: PRODID and VERSION; §3.6.1: UID and DTSTAMP in each event. §3.1: lines of
    at most 75 octets, ended by CRLF."""
    put_in(make_load(workshop), moulded_job(workshop, customer="A very long name " * 6))
    body = client.get(new_address(client)).content
    calendar = Calendar.from_ical(body)
    assert calendar["version"] == "2.0" and calendar["prodid"]
    assert all(event["uid"] and event["dtstamp"] for event in calendar.walk("VEVENT"))
    lines = body.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


def test_it_says_nothing_about_money(client, workshop):
    order = moulded_job(workshop).order
    body = client.get(new_address(client)).content.decode()
    assert str(order.total) not in body and "€" not in body


def test_renewing_closes_the_old_address(client, workshop):
    old = new_address(client)
    assert client.get(old).status_code == 200
    new = new_address(client)
    assert new != old
    assert client.get(old).status_code == 404
    assert client.get(new).status_code == 200


def test_a_guessed_address_is_no_address(client, workshop):
    assert client.get(reverse("orders:calendar_feed", args=["guess"])).status_code == 404


@pytest.mark.parametrize("role", ["counter", "kiln", "bench", "yard"])
def test_only_the_owner_sees_and_renews_the_address(client, workshop, role):
    client.force_login(make_person(role))
    assert client.get(reverse("orders:calendar_address")).status_code == 404
    assert client.post(reverse("orders:calendar_address")).status_code == 404
    assert not CalendarAddress.objects.exists()
