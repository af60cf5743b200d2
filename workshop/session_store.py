"""Sessions in the database, and pages to look at even while the database cannot be written."""

import logging

from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore as InDatabase

log = logging.getLogger("workshop.sessions")


class SessionStore(InDatabase):
    """A full disk or a read-only book is no reason to show nobody anything any more."""

    def save(self, must_create: bool = False) -> None:
        """A session that is there but cannot be changed stays as it was; one that is gone is gone.

        What is lost is who was seen when, and a message that is shown twice. A new session, as at
        signing in, is never taken for written.
        """
        try:
            super().save(must_create)
        except UpdateError as error:
            if not self.exists(self.session_key):
                raise
            log.error("what a session should remember was not written: %s", error.__context__)
