"""Lists given out as CSV say what the page says, however long they are."""

from datetime import UTC, datetime

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.builders import make_business, make_person
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db


def sheet(client) -> str:
    answer = client.get(reverse("workshop:act_list"), {"as": "csv"})
    return b"".join(answer.streaming_content).decode()


@pytest.fixture
def owner_far_from_greenwich(client):
    make_business(time_zone="Asia/Kolkata")
    client.force_login(make_person("owner"))
    return client


def test_times_are_told_where_the_workshop_stands(owner_far_from_greenwich):
    """21:10 at Greenwich is 02:40 of the next day five hours and a half to the east."""
    with time_machine.travel(datetime(2026, 3, 1, 21, 10, tzinfo=UTC), tick=False):
        AuditEntry.objects.create(act="log sack", subject_kind="sack", subject_ref="1")
    page = owner_far_from_greenwich.get(reverse("workshop:act_list")).content.decode()
    assert "02:40" in page or "2:40" in page
    told = sheet(owner_far_from_greenwich)
    assert "2:40" in told
    assert "21:10" not in told and "9:10" not in told


def test_a_long_list_asks_no_more_than_a_short_one(owner_far_from_greenwich):
    def lines(many: int) -> int:
        AuditEntry.objects.bulk_create(
            AuditEntry(act="log sack", subject_kind="sack", subject_ref=str(n)) for n in range(many)
        )
        with CaptureQueriesContext(connection) as asked:
            assert sheet(owner_far_from_greenwich).count("\n") > many
        return len(asked)

    assert lines(5) == lines(200)
