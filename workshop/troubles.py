"""What the database refuses, in one sentence with what to do about it."""

import os
import tempfile
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from workshop.machine import NO_ROOM, no_right_sentence, no_room_sentence
from workshop.services.copies import kept_copies

# Less than this is no room for a single page of the log (32 kB) and its index.
NO_ROOM_BYTES = 1 << 20


def sentence_of_book(error: Exception) -> str | None:
    """The sentence for a database that cannot be used; None for a fault of the program."""
    if connection.vendor == "sqlite":
        return _of_sqlite(str(error))
    return _of_postgres(error.__cause__ or error)


def book_file() -> Path | None:
    """The file that the book is; None on PostgreSQL or in memory."""
    if connection.vendor != "sqlite" or connection.is_in_memory_db():
        return None
    return Path(connection.settings_dict["NAME"])


def disk_is_full(folder: Path) -> bool:
    """Whether nothing worth speaking of can be written there: by the disk, or by a quota on it."""
    try:
        with tempfile.TemporaryFile(dir=folder) as trial:
            trial.write(b"\0" * NO_ROOM_BYTES)
    except OSError as error:
        return error.errno in NO_ROOM
    return False


def not_ours(book: Path) -> Path | None:
    """Of the book, the files beside it and their folder, the first this user may not write."""
    beside = [book.with_name(book.name + end) for end in ("", "-wal", "-shm")]
    for place in (*beside, book.parent):
        if place.exists() and not os.access(place, os.W_OK | os.R_OK):
            return place
    return None


def newer_changes(loader: MigrationLoader) -> list[str]:
    """Changes of the book that this program has never heard of: a newer one made them."""
    replaced = {key for each in loader.disk_migrations.values() for key in each.replaces}
    known = {*loader.disk_migrations, *replaced}
    return sorted(
        f"{app}.{name}"
        for app, name in loader.applied_migrations
        if app in loader.migrated_apps and (app, name) not in known
    )


def newer_sentence(changes: list[str]) -> str:
    """Refuse to open a book with changes that would be lost or broken by this program."""
    return _(
        "This book was written by a newer Strandwork: it has %(change)s, and this one does not. "
        "Bring the program up to date (git pull), then run the same line again; the book was "
        "left as it is."
    ) % {"change": changes[-1]}


def damaged_sentence(book: Path, why: str) -> str:
    """How the newest copy takes the place of a damaged book, which is kept aside."""
    kept = kept_copies(settings.COPIES_DIR)
    words = {"book": book, "why": why.strip().splitlines()[-1]}
    said = _("The book %(book)s is damaged (%(why)s).") % words
    if not kept:
        return (
            said
            + " "
            + _(
                "There is no copy of it in %(folder)s. Leave it as it is and look for a copy on "
                "another disk; then: python3 manage.py restore FILE"
            )
            % {"folder": settings.COPIES_DIR}
        )
    return (
        said
        + " "
        + _(
            "Put it aside and bring back the newest copy: "
            "mkdir %(aside)s && mv %(book)s* %(aside)s && python3 manage.py restore %(copy)s"
        )
        % {"aside": book.parent / "damaged", "book": book, "copy": kept[0].path}
    )


def not_migrated_sentence() -> str:
    """The database is there and has no tables yet, or not all of them."""
    return _("The book is not brought up to date yet; run: python3 manage.py migrate")


def _of_sqlite(said: str) -> str | None:
    book = book_file()
    if "no such table" in said or "no such column" in said:
        return not_migrated_sentence()
    if book is None:
        return None
    if "is full" in said or (_is_shut(said) and disk_is_full(book.parent)):
        return no_room_sentence(book.parent)
    if _is_shut(said) and (place := not_ours(book)):
        return no_right_sentence(place)
    if "not a database" in said or "malformed" in said:
        return damaged_sentence(book, said)
    if "locked" in said:
        return _(
            "The book %(book)s is held by another program all the time. Close what else works on "
            "it, then run the same line again."
        ) % {"book": book}
    if _is_shut(said):
        return _(
            "The book %(book)s cannot be opened (%(why)s). See whether its disk is there and well."
        ) % {"book": book, "why": said}
    return None


def _is_shut(said: str) -> bool:
    return any(words in said for words in ("unable to open", "readonly", "disk I/O error"))


def _of_postgres(error: BaseException) -> str | None:
    state, said = getattr(error, "sqlstate", None) or "", str(error).strip()
    where = connection.settings_dict
    names = {
        "user": where["USER"],
        "name": where["NAME"],
        "host": f"{where['HOST'] or 'localhost'}:{where['PORT'] or 5432}",
    }
    if state in {"42P01", "42703"}:
        return not_migrated_sentence()
    if state == "53100":
        return _("The disk of PostgreSQL at %(host)s is full. Make room there.") % names
    if state == "25006":
        return _("PostgreSQL at %(host)s only lets us read: it is a copy, or set so.") % names
    if state:
        return None
    # Before a connection stands psycopg has no code (SQLSTATE), only the server's words.
    if "database" in said and "does not exist" in said:
        return (
            _(
                "There is no database “%(name)s” at %(host)s. Make it, or name another in "
                "DATABASE_URL: createdb %(name)s"
            )
            % names
        )
    if any(words in said for words in ("authentication failed", "no password", "role", "pg_hba")):
        return (
            _(
                "PostgreSQL at %(host)s does not let “%(user)s” in: the user or the password in "
                "DATABASE_URL is not right. Put it right there, or set a new one in PostgreSQL."
            )
            % names
        )
    if "connect" in said or "resolve" in said:
        return (
            _(
                "PostgreSQL at %(host)s cannot be reached. See whether it runs there, and whether "
                "DATABASE_URL names the right place."
            )
            % names
        )
    return None
