"""What every test stands on: quick passwords, English words, and what this machine can show."""

import ctypes.util
import gc
import os
import re
import shutil
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.configuration import set_hypothesis_home_dir
from hypothesis.database import DirectoryBasedExampleDatabase

from tests.own_database import drop_migrated, migrated

# Whatever tests keep for another run stands with pytest's own; nothing else in the clone.
KEPT = Path(__file__).resolve().parent.parent / ".pytest_cache" / "strandwork"
set_hypothesis_home_dir(KEPT / "hypothesis")
# A shared two-core machine is too uneven for deadlines to mean anything.
settings.register_profile(
    "workshop",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    database=None,
    # The same examples every time, so that a test is red for what was changed and not by chance.
    derandomize=True,
)
settings.register_profile(
    "fresh",
    parent=settings.get_profile("workshop"),
    derandomize=False,
    database=DirectoryBasedExampleDatabase(KEPT / "hypothesis" / "examples"),
)
settings.load_profile("fresh" if os.environ.get("FRESH_EXAMPLES") else "workshop")

# Playwright's loop runs in the thread of the tests, and Django would refuse the database there.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")


def chromium_path() -> str | None:
    """Where Chromium is on this machine, or None."""
    return next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)


def pango_is_here() -> bool:
    """Whether papers can be printed on this machine."""
    return bool(ctypes.util.find_library("pango-1.0"))


def asks_the_database(item: pytest.Item) -> bool:
    """Whether a test could tell one database from another: by its fixtures, its marks, its file."""
    fixtures = {"_django_db_helper", "django_db_setup", "server_database"}
    return bool(
        item.get_closest_marker("django_db")
        or fixtures.intersection(getattr(item, "fixturenames", ()))
        or _names_the_database(item.path)
    )


@cache
def _names_the_database(file: Path) -> bool:
    """Whether a file of tests looks by itself for the database that this run was given."""
    told = r"environ.*DATABASE_URL|TEST_POSTGRES|postgres_url|own_database"
    return bool(re.search(told, file.read_text(encoding="utf-8")))


@pytest.hookimpl(wrapper=True, tryfirst=True)  # the groups before xdist reads them
def pytest_collection_modifyitems(items: list[pytest.Item]) -> Iterator[None]:
    leave_out_what_cannot_be_shown(items)
    for item in items:
        # What is made once for a file is made in one worker: a demo, a workshop, a database.
        if item.get_closest_marker("browser") or (
            not item.get_closest_marker("xdist_group") and _shares_with_its_file(item)
        ):
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
    yield  # Django's own order
    # The longest first, or one core would wait for them at the end.
    items.sort(key=_how_soon)


def leave_out_what_cannot_be_shown(items: list[pytest.Item]) -> None:
    if os.environ.get("DATABASE_URL", "").startswith("postgres"):
        unasked = pytest.mark.skip(reason="No database is asked; the run on SQLite shows it")
        on_sqlite = pytest.mark.skip(reason="On SQLite; the run on SQLite shows it")
        for item in items:
            if not asks_the_database(item):
                item.add_marker(unasked)
            elif "sqlite" in getattr(getattr(item, "callspec", None), "params", {}).values():
                item.add_marker(on_sqlite)
    missing = {}
    if chromium_path() is None:
        missing["browser"] = "Chromium is missing; run: apt-get install -y chromium"
    if not pango_is_here():
        missing["papers"] = "The Pango libraries are missing; see the README's list"
    for item in items:
        for mark, reason in missing.items():
            if item.get_closest_marker(mark):
                item.add_marker(pytest.mark.skip(reason=reason))


def _shares_with_its_file(item: pytest.Item) -> bool:
    """Whether a fixture of the tests' own is made once for all the tests of a file."""
    found = getattr(item, "_fixtureinfo", None)
    fixtures = (each[-1] for each in found.name2fixturedefs.values()) if found else ()
    return any(each.scope == "module" and each.baseid.startswith("tests") for each in fixtures)


def _how_soon(item: pytest.Item) -> int:
    """The servers, one after the other in one worker; then what else is slow; then the rest."""
    if "_django_db_helper" in getattr(item, "fixturenames", ()):
        return 2  # Django's order has its reasons: what empties the database comes last
    if any(mark.args == ("servers",) for mark in item.iter_markers("xdist_group")):
        return 0
    return 1 if item.get_closest_marker("slow") else 2


def pytest_collection_finish() -> None:
    """What was read stays to the end: the collector need not look at it after every test."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 20, 50)


def pytest_unconfigure(config: pytest.Config) -> None:
    """The database that others were copied from goes when the last worker has gone."""
    drop_migrated()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What this machine could not show, and why: once for each reason."""
    reasons = Counter(
        report.longrepr[2].removeprefix("Skipped: ")
        for report in terminalreporter.stats.get("skipped", [])
        if isinstance(report.longrepr, tuple)
    )
    if reasons:
        terminalreporter.section("left out here")
    for reason, count in reasons.most_common():
        terminalreporter.line(f"{count} test{'s' * (count != 1)}: {reason}")


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
    """Where the tests' own database lies: on PostgreSQL a copy of the one that is migrated.

    A browser talks to a server in another thread, and so needs SQLite in a file: threads that
    share a database in memory lock each other out of whole tables.
    """
    from django.db import connection, connections

    if connection.vendor == "postgresql":
        connection.settings_dict["TEST"]["TEMPLATE"] = migrated()
    if not any(item.get_closest_marker("browser") for item in request.session.items):
        return
    for each in connections.all():
        if each.vendor == "sqlite":
            name = tmp_path_factory.mktemp("book") / "test.sqlite3"
            each.settings_dict["TEST"]["NAME"] = str(name)
