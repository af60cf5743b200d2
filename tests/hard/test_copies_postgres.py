"""The same on PostgreSQL, by its own pg_dump and pg_restore; where TEST_POSTGRES names a server."""

import re
import shutil
import uuid
from pathlib import Path

import pytest

from tests.hard.server import Server, make_workshop
from tests.hard.test_failing_kindly import SACK
from tests.own_database import postgres_url


def postgres_program(name: str) -> str | None:
    """Where the program is; Debian keeps the server's own beside it."""
    found = shutil.which(name)
    kept = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return found or (str(kept[-1]) if kept else None)


def rows_of(url: str) -> int:
    """All rows of all tables, asked of PostgreSQL itself."""
    import psycopg

    with psycopg.connect(url) as asked:
        names = asked.execute(
            "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
        ).fetchall()
        return sum(
            asked.execute(f'SELECT COUNT(*) FROM "{name}"').fetchone()[0] for (name,) in names
        )


@pytest.fixture
def empty_database():
    import psycopg

    name = f"back_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(postgres_url(), autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        yield f"{postgres_url().rsplit('/', 1)[0]}/{name}"
        admin.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.mark.slow
@pytest.mark.skipif(not postgres_url(), reason="TEST_POSTGRES names no PostgreSQL server")
@pytest.mark.parametrize("server_database", ["postgresql"], indirect=True)
def test_a_book_on_postgresql_is_copied_and_brought_back_into_an_empty_one(
    server_database, empty_database, tmp_path, monkeypatch
):
    if postgres_program("pg_dump") is None:
        pytest.skip("pg_dump is missing; install PostgreSQL's client programs")
    monkeypatch.setenv("COPIES_DIR", str(tmp_path / "copies"))
    monkeypatch.setenv("COPY_PASSPHRASE", "salt wind over the yard")
    first = Server(server_database, tmp_path)
    make_workshop(first)
    first.python("-m", "django", "backup")
    (copy,) = (tmp_path / "copies").glob("*.copy")
    second = Server(empty_database, tmp_path)
    said = second.python("-m", "django", "restore", str(copy))
    assert "is back" in said
    assert (
        int(re.search(r"(\d+) rows", said)[1]) == rows_of(server_database) - 1
    )  # the act of copying is written after
    assert second.python("-c", SACK) == first.python("-c", SACK)
    assert "The book is sound" in second.python("-m", "django", "check_book")
    # Not over a book that stands there.
    with pytest.raises(AssertionError, match="is not empty"):
        second.python("-m", "django", "restore", str(copy))
