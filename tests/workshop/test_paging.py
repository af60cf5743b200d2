"""A list costs the same however long it is: it counts to a thousand and goes on by key."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.builders import make_business, make_customer, make_person
from workshop.models import AuditEntry
from workshop.paging import beyond

pytestmark = pytest.mark.django_db


@pytest.fixture
def log(client):
    make_business()
    client.force_login(make_person("owner"))
    AuditEntry.objects.bulk_create(
        AuditEntry(act="tap", subject_kind="bead", subject_ref=f"tap-{n:04}") for n in range(1070)
    )
    return reverse("workshop:act_list")


def seen(page: str) -> list[str]:
    return re.findall(r"tap-\d{4}", page)


def test_every_row_of_a_long_list_is_reached_once(client, log):
    found, address = [], log
    for _page in range(40):
        page = client.get(address).content.decode()
        found += dict.fromkeys(seen(page))
        onward = re.search(r'rel="next"\s+href="([^"]+)"', page)
        if onward is None:
            break
        address = log + onward[1].replace("&amp;", "&")
    assert found == [f"tap-{n:04}" for n in range(1069, -1, -1)]


def test_the_count_ends_at_a_thousand(client, log):
    with CaptureQueriesContext(connection) as asked:
        page = client.get(log).content.decode()
    assert "of 1,000 and more" in " ".join(page.split())
    counted = [query["sql"] for query in asked if "COUNT(" in query["sql"]]
    assert counted and all("LIMIT 1001" in query for query in counted)


def test_rows_that_tie_are_neither_left_out_nor_told_twice():
    names = ["Orlo", "Brandt", "Orlo", "Brandt", "Orlo"]
    people = [make_customer(name) for name in names]
    rows = type(people[0]).objects.order_by("name")
    in_order = list(rows.order_by("name", "-pk"))
    for place, person in enumerate(in_order):
        assert list(beyond(rows, person.pk)) == in_order[place + 1 :]
