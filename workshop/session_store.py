"""Sessions in the database, and pages to look at even while the database cannot be written."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore as InDatabase
from django.db import connection

log = logging.getLogger("workshop.sessions")


class SessionStore(InDatabase):
    """A full disk or a read-only book is no reason to show nobody anything any more."""

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
