"""A browser in which somebody is signed in, and a demo workshop that is loaded only once.

Two at a time, the tests of one file in one worker so that each loads the demo at most once:
`pytest -m browser -n 2 --dist loadfile`.
"""

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from playwright.sync_api import Page, expect

from workshop.models import Person

PATIENCE_MS = 180_000  # how long a busy machine may take over one thing
expect.set_options(timeout=PATIENCE_MS)

_kept: dict[str, Path] = {}


@pytest.fixture
def patient(context):
    """Two cores shared by browser, server and tests: whatever comes, comes in its own time."""
    context.set_default_timeout(PATIENCE_MS)
    context.set_default_navigation_timeout(PATIENCE_MS)
    return context


@pytest.fixture
def signed_in(patient, live_server, settings) -> Callable[[str | Person], Page]:
    """A page for somebody who is signed in already: a person, or the first with a role."""

    def page_of(who: str | Person) -> Page:
        person = Person.objects.filter(role=who).first() if isinstance(who, str) else who
        client = Client()
        client.force_login(person)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        patient.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        return patient.new_page()

    return page_of


@pytest.fixture
def demo(transactional_db, tmp_path_factory) -> None:
    """The demo workshop; loaded the first time, afterwards copied from what was loaded then.

    Ready-made where that fits: another test shows it to be what living through it makes.
    """
    if connection.vendor != "sqlite":
        call_command("load_demo", stdout=io.StringIO())
        return
    connection.ensure_connection()
    if "demo" not in _kept:
        call_command("load_demo", stdout=io.StringIO())  # its passwords are for nobody
        _kept["demo"] = tmp_path_factory.mktemp("demo") / "demo.sqlite3"
        with sqlite3.connect(_kept["demo"]) as copy:
            connection.connection.backup(copy)
        return
    with sqlite3.connect(_kept["demo"]) as copy:
        copy.backup(connection.connection)


@pytest.fixture
def yard(demo, tmp_path):
    """The demo workshop with a desk of its own to open, and phones to pair with it."""
    from tests.browser.paired_phones import yard_in  # it waits as patiently as all here

    return yard_in(tmp_path)
