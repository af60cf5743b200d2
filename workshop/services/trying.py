"""A try at the book: made like the real act, taken back whole, and nobody waits for it."""

import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def taken_back() -> Iterator[None]:
    """Whatever is written inside is taken back at the end; others write meanwhile.

    SQLite has one writer at a time, so there the try is made on a copy of the book as it stands
    now. On PostgreSQL only whoever needs the very same rows waits. Within a transaction that runs
    already, the try is a part of it.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        with _rolled_back():
            yield
        return
    with tempfile.TemporaryDirectory(prefix="strandwork-try-") as folder:
        connection.ensure_connection()
        book: Any = connection.connection
        params = {**connection.get_connection_params(), "database": f"{folder}/try.sqlite3"}
        with closing(connection.get_new_connection(params)) as aside:
            aside.isolation_level = None  # as Django's own: it says BEGIN by itself
            aside.execute("PRAGMA synchronous = OFF")
            with connection.wrap_database_errors:
                book.backup(aside)
            connection.connection = aside
            try:
                with _rolled_back():
                    yield
            finally:
                connection.connection = book


@contextmanager
def _rolled_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
