"""A fresh database for real processes: a file of SQLite, or one of its own on PostgreSQL."""

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def postgres_url() -> str:
    for name in ("TEST_POSTGRES", "DATABASE_URL"):
        if os.environ.get(name, "").startswith("postgres"):
            return os.environ[name]
    return ""


@contextmanager
def own_database(kind: str, folder: Path, name: str) -> Iterator[str]:
    """The address of an empty database, dropped in the end; left out where no server is named."""
    if kind == "sqlite":
        yield f"sqlite:///{folder}/{name}.sqlite3"
        return
    server = postgres_url()
    if not server:
        pytest.skip("TEST_POSTGRES names no PostgreSQL server")
    psycopg = pytest.importorskip("psycopg")
    own = f"{name}_{uuid.uuid4().hex[:12]}"
    admin = psycopg.connect(server, autocommit=True)
    admin.execute(f"CREATE DATABASE {own}")
    try:
        yield f"{server.rsplit('/', 1)[0]}/{own}"
    finally:
        admin.execute(f"DROP DATABASE {own} WITH (FORCE)")
        admin.close()
