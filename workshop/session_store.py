"""Sessions in the database under the hash of their key, and pages to look at while it is read-only.

Whoever reads the database, or a copy of it, finds no key that a browser could show.
"""

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from typing import Any

from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore as InDatabase
from django.db import connection
from django.utils import timezone

log = logging.getLogger("workshop.sessions")


def kept_as(session_key: str) -> str:
    """What the database keeps of a session's key: 160 bits of its SHA-256, as the column is wide.

    The key is random and long (32 letters and digits), so it needs no salt and no slow hash.
    """
    return hashlib.sha256(session_key.encode()).hexdigest()[:40]


class SessionStore(InDatabase):
    """The browser has the key and the database its hash.

    A full disk or a read-only book is no reason to show nobody anything any more.
    """

    def _get_session_from_db(self) -> Any:
        rows = self.model.objects.filter(expire_date__gt=timezone.now())
        row = rows.filter(session_key=kept_as(self.session_key)).first()
        if row is None:
            self._session_key = None
        return row

    def exists(self, session_key: str) -> bool:
        return super().exists(kept_as(session_key))

    def create_model_instance(self, data: dict) -> Any:
        row = super().create_model_instance(data)
        row.session_key = kept_as(row.session_key)
        return row

    def delete(self, session_key: str | None = None) -> None:
        key = session_key or self.session_key
        if key is not None:
            super().delete(kept_as(key))

    # Set while a page is only looked at: it is not kept waiting by those who write.
    only_looks = False

    def save(self, must_create: bool = False) -> None:
        """A session that is there but cannot be changed stays as it was; one that is gone is gone.

        What is lost is who was seen when, and a message that is shown twice. A new session, as at
        signing in, is never taken for written.
        """
        in_a_hurry = self.only_looks and not must_create
        try:
            with _short_wait() if in_a_hurry else nullcontext():
                super().save(must_create)
        except UpdateError as error:
            if not self.exists(self.session_key):
                raise
            log.log(
                logging.INFO if in_a_hurry else logging.ERROR,
                "what a session should remember was not written: %s",
                error.__context__,
            )


@contextmanager
def _short_wait() -> Iterator[None]:
    """SQLite's own wait for a book that somebody is writing in, cut from 20 s to a quarter of one.

    Who was seen when is not worth more waiting than that to somebody who only looks.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 250")
        try:
            yield
        finally:
            cursor.execute("PRAGMA busy_timeout = 20000")
