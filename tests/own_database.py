"""Databases for real processes: a file of SQLite, or one of its own on PostgreSQL.

On PostgreSQL every change of the book takes its time, in each database anew. So one database is
migrated for a whole run of the tests, and all others are copied from it, those of the workers too.
"""

import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
# The same in every process of a run; the first of them names it, and tidies up.
FIRST = "STRANDWORK_TEST_RUN" not in os.environ
RUN = os.environ.setdefault("STRANDWORK_TEST_RUN", uuid.uuid4().hex[:12])
MIGRATED = f"migrated_{RUN}"


def postgres_url() -> str:
    """The PostgreSQL server that tests may use, if one is named."""
    for name in ("TEST_POSTGRES", "DATABASE_URL"):
        if os.environ.get(name, "").startswith("postgres"):
            return os.environ[name]
    return ""


def address_on_postgres(name: str) -> str:
    return f"{postgres_url().rsplit('/', 1)[0]}/{name}"


def admin():
    """A connection to the PostgreSQL server that tests may use."""
    psycopg = pytest.importorskip("psycopg")
    return psycopg.connect(postgres_url(), autocommit=True)


def migrated() -> str:
    """The name of the database that others are copied from; whoever comes first makes it."""
    with admin() as asked:
        asked.execute("SELECT pg_advisory_lock(hashtext(%s))", [MIGRATED])
        there = asked.execute("SELECT 1 FROM pg_database WHERE datname = %s", [MIGRATED])
        if there.fetchone() is None:
            making = f"{MIGRATED}_making"
            asked.execute(f"DROP DATABASE IF EXISTS {making} WITH (FORCE)")
            asked.execute(f"CREATE DATABASE {making}")
            _migrate(address_on_postgres(making))
            asked.execute(f"ALTER DATABASE {making} RENAME TO {MIGRATED}")
    return MIGRATED


def _migrate(url: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "django", "migrate", "--verbosity=0"],
        env={**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "workshop.settings",
             "PYTHONPATH": str(ROOT)},
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]


def make_database(name: str = "own") -> str:
    """The address of a new database on that server, migrated, with nothing in it."""
    own, template = f"{name}_{uuid.uuid4().hex[:12]}", migrated()
    with admin() as asked:
        asked.execute(f"CREATE DATABASE {own} TEMPLATE {template}")
    return address_on_postgres(own)


def drop_database(url: str) -> None:
    with admin() as asked:
        asked.execute(f"DROP DATABASE IF EXISTS {url.rsplit('/', 1)[1]} WITH (FORCE)")


def drop_migrated() -> None:
    """Once the first process of a run ends; a server that is gone by then keeps nothing either."""
    if FIRST and postgres_url():
        with suppress(Exception):
            drop_database(address_on_postgres(MIGRATED))


@contextmanager
def own_database(kind: str, folder: Path, name: str) -> Iterator[str]:
    """The address of a database with nothing in it; left out where no server is named."""
    if kind == "sqlite":
        yield f"sqlite:///{folder}/{name}.sqlite3"
        return
    if not postgres_url():
        pytest.skip("TEST_POSTGRES names no PostgreSQL server")
    url = make_database(name)
    try:
        yield url
    finally:
        drop_database(url)
