"""An operator's mistake is told to the log, nothing false to visitors; no log fills a disk."""

import logging

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.urls import reverse

from tests.builders import make_person
from tests.hard.coming_in import sign_in
from workshop.logging import SAME_TOLD, Bounded
from workshop.models import AuditEntry

pytestmark = pytest.mark.django_db


def test_a_proxy_that_keeps_the_host_header_to_itself_is_told_to_the_log(client, settings, caplog):
    settings.ALLOWED_HOSTS = ["beads.example"]
    answer = client.get(reverse("workshop:sign_in"), HTTP_HOST="127.0.0.1:8000")
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "does not know itself by the name you asked for" in page
    assert "too large" not in page and "file" not in page and "127.0.0.1" not in page
    (said,) = [line for line in caplog.records if line.name == "workshop.errors"]
    assert "asked for as 127.0.0.1:8000, and ALLOWED_HOSTS names only beads.example" in (
        said.getMessage()
    )
    assert "must pass their Host header on (workshop/deploy.md)" in said.getMessage()


def test_a_form_with_far_too_many_boxes_is_called_too_large(client, settings):
    answer = client.post(reverse("workshop:sign_in"), {f"box{n}": "1" for n in range(2001)})
    assert answer.status_code == 400
    assert "more than a form of the workshop holds" in answer.content.decode()


def test_a_probe_on_the_machine_itself_need_not_know_the_name(client, settings):
    settings.ALLOWED_HOSTS = ["beads.example"]
    health = reverse("workshop:health")
    assert client.get(health, HTTP_HOST="127.0.0.1:8000").status_code == 200
    # Through the proxy, or from elsewhere, the name must be right.
    through = {"HTTP_HOST": "127.0.0.1:8000", "HTTP_X_FORWARDED_FOR": "203.0.113.9"}
    assert client.get(health, **through).status_code == 400
    away = {"HTTP_HOST": "127.0.0.1:8000", "REMOTE_ADDR": "203.0.113.9"}
    assert client.get(health, **away).status_code == 400


# --- the log does not fill the disk ---


def told(filter_: Bounded, message: str, level: int = logging.ERROR) -> str | None:
    record = logging.LogRecord("workshop", level, "", 0, message, None, None)
    return record.getMessage() if filter_.filter(record) else None


def test_the_same_trouble_is_told_a_few_times_a_minute_and_then_by_its_number(monkeypatch):
    now = [1000.0]
    monkeypatch.setattr("workshop.logging.time.monotonic", lambda: now[0])
    bounded = Bounded()
    lines = [told(bounded, "the book cannot be used") for _ in range(100)]
    assert [line for line in lines if line] == ["the book cannot be used"] * SAME_TOLD
    assert told(bounded, "another trouble") == "another trouble"
    now[0] += 61
    assert told(bounded, "the book cannot be used") == (
        f"the book cannot be used (and {100 - SAME_TOLD} more like it)"
    )
    # Who was refused is always written.
    assert all(told(bounded, "sign-in refused", logging.WARNING) for _ in range(100))


def test_a_database_that_is_away_leaves_no_trace_of_the_code_in_the_log(caplog):
    def away(execute, sql, params, many, context):
        raise OperationalError("could not connect to server")

    asked = Client(raise_request_exception=False)
    with connection.execute_wrapper(away):
        assert asked.get(reverse("workshop:sign_in")).status_code == 503
    assert "the book cannot be used: OperationalError: could not connect" in caplog.text
    assert "Traceback" not in caplog.text


def test_wrong_passwords_while_shut_out_add_little_to_the_log_of_acts(client, settings):
    person = make_person("owner")
    for _try in range(settings.AXES_FAILURE_LIMIT):
        sign_in(client, person.username, "wrong")
    written = AuditEntry.objects.filter(act="sign in", refused=True).count()
    assert written == settings.AXES_FAILURE_LIMIT
    for _try in range(20):
        assert sign_in(client, person.username, "wrong").status_code == 429
    written = AuditEntry.objects.filter(act="sign in", refused=True).count()
    assert written <= 2 * settings.AXES_FAILURE_LIMIT


def test_a_crowd_of_addresses_and_invented_names_fills_no_disk(client, monkeypatch):
    monkeypatch.setattr("workshop.views.sign_in.UNKNOWN_WRITTEN", 10)
    for number in range(30):
        sign_in(client, f"nobody{number}", "wrong", REMOTE_ADDR=f"203.0.113.{number}")
    assert AuditEntry.objects.filter(act="sign in", refused=True).count() == 10
