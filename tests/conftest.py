"""What every test stands on: quick passwords, English words, and what this machine can show."""

import ctypes.util
import os
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.database import DirectoryBasedExampleDatabase

# A shared two-core machine is too uneven for deadlines to mean anything.
settings.register_profile(
    "workshop",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    database=DirectoryBasedExampleDatabase(
        Path(__file__).resolve().parent.parent / ".hypothesis" / "examples"
    ),
)
# The same examples every time where a change is judged; fresh ones at a developer's desk.
settings.register_profile(
    "judged", parent=settings.get_profile("workshop"), derandomize=True, database=None
)
settings.load_profile("judged" if os.environ.get("CI") else "workshop")

# Playwright's loop runs in the thread of the tests, and Django would refuse the database there.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")


def chromium_path() -> str | None:
    """Where Chromium is on this machine, or None."""
    return next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)


def pango_is_here() -> bool:
    """Whether papers can be printed on this machine."""
    return bool(ctypes.util.find_library("pango-1.0"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    missing = {}
    if chromium_path() is None:
        missing["browser"] = "Chromium is missing; run: apt-get install -y chromium"
    if not pango_is_here():
        missing["papers"] = "The Pango libraries are missing; see the README's list"
    for item in items:
        for mark, reason in missing.items():
            if item.get_closest_marker(mark):
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(autouse=True)
def quick_passwords(settings):
    """Argon2 is slow on purpose; tests sign in hundreds of times."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def english():
    """Sentences in tests are the English ones, whatever the machine speaks."""
    from django.utils import translation

    with translation.override("en"):
        yield


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    """Debian's own Chromium, talking to nobody but the test server."""
    return {
        **browser_type_launch_args,
        "executable_path": chromium_path(),
        "args": [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
        ],
    }


@pytest.fixture(scope="session", autouse=True)
def _flushing_empties_the_book_too():
    """Tests with real transactions end by emptying every table, the append-only ones included.

    On SQLite that is a DELETE, which the book's own triggers refuse; they step aside for it.
    """
    from django.db import connection

    if connection.vendor != "sqlite":
        yield
        return
    DatabaseOperations = type(connection.ops)
    plain = DatabaseOperations.sql_flush

    def sql_flush(self, style, tables, **options):
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            triggers = cursor.fetchall()
        return [
            *[f"DROP TRIGGER {name}" for name, _sql in triggers],
            *plain(self, style, tables, **options),
            *[sql for _name, sql in triggers],
        ]

    DatabaseOperations.sql_flush = sql_flush
    yield
    DatabaseOperations.sql_flush = plain


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    request, django_db_modify_db_settings_parallel_suffix, tmp_path_factory
):
    """A browser talks to a server in another thread, and so needs SQLite in a file.

    Threads that share a database in memory lock each other out of whole tables.
    """
    from django.db import connections

    if not any(item.get_closest_marker("browser") for item in request.session.items):
        return
    for connection in connections.all():
        if connection.vendor == "sqlite":
            name = tmp_path_factory.mktemp("book") / "test.sqlite3"
            connection.settings_dict["TEST"]["NAME"] = str(name)
