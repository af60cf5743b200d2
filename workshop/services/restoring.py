"""A copy brought back: checked whole first, brought up to date aside, then put in its place."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.utils.translation import gettext as _

from workshop.machine import NO_RIGHT, sentence_of, this_user
from workshop.models import AuditEntry, Person
from workshop.query_plans import look_at_tables
from workshop.services.copies import (
    PAPERS,
    POSTGRES_PART,
    SQLITE_PART,
    back_up,
    count_rows,
    known_migrations,
    postgres_command,
    prove_sqlite,
)
from workshop.services.copy_file import Copy, CopyRefused, read_copy
from workshop.services.running import run_manage


def restore(file: Path, folder: Path, *, phrase: str = "") -> Copy:
    """Put the book and papers of a copy into an empty folder, brought up to date; all or nothing.

    Raises CopyRefused when the folder holds anything, or the copy is not whole, too new or locked.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CopyRefused(
            _("%(folder)s is not empty. Name an empty folder, so that nothing is written over.")
            % {"folder": folder}
        )
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        # Inside it, not beside it: a folder may be ours where the one around it is not.
        with _work_folder(folder) as work:
            copy = _ready(file, work, phrase)
            # The book last: while it is not there, the folder is not taken for a workshop's.
            for part in sorted(work.iterdir(), key=lambda each: each.name == SQLITE_PART):
                part.rename(folder / part.name)
    except (CopyRefused, OSError) as error:
        if made:
            with suppress(OSError):
                folder.rmdir()
        if isinstance(error, OSError):
            raise CopyRefused(_no_folder(folder, error)) from error
        raise
    folder.chmod(0o700)
    return copy


def _no_folder(folder: Path, error: OSError) -> str:
    if error.errno in NO_RIGHT:
        return _(
            "Nothing can be written into %(folder)s by %(user)s. Name a folder of your own, such "
            "as %(own)s, or have this one made for you, as root: install -d -o %(user)s %(folder)s"
        ) % {"folder": folder, "user": this_user(), "own": Path.home() / folder.name}
    return sentence_of(error) or _("Nothing can be written into %(folder)s: %(why)s.") % {
        "folder": folder,
        "why": error.strerror or error,
    }


def restore_in_place(file: Path, *, phrase: str = "", with_papers: bool) -> Copy:
    """Put a copy where this machine's settings look for the book, if no book stands there yet."""
    if connection.vendor != "sqlite":
        return _restore_postgres(file, phrase, with_papers)
    book, papers = Path(connection.settings_dict["NAME"]), Path(settings.MEDIA_ROOT)
    # A log of another book beside it would be written into this one when it is opened.
    for place in (book, book.with_name(book.name + "-wal"), papers):
        if place.is_file() or (place.is_dir() and any(place.iterdir())):
            raise CopyRefused(
                _(
                    "%(place)s is there already. Move it away, or name an empty folder for the "
                    "copy, so that nothing is written over."
                )
                % {"place": place}
            )
    book.parent.mkdir(parents=True, exist_ok=True)
    with _work_folder(book.parent) as work:
        copy = _ready(file, work, phrase)
        if (work / PAPERS).is_dir():
            if papers.is_dir():
                papers.rmdir()
            shutil.move(work / PAPERS, papers)
        (work / SQLITE_PART).replace(book)
    return copy


def put_back(file: Path, *, phrase: str = "", person: Person) -> Copy:
    """Replace the book in use by a copy, after keeping a copy of it as it stands now.

    SQLite only: its online copy writes the old book into the live file as one transaction, so
    whoever reads meanwhile sees either the one or the other.
    """
    if connection.vendor != "sqlite" or connection.is_in_memory_db():  # type: ignore[attr-defined]
        raise CopyRefused(
            _("Here a copy is brought back at the computer itself: python3 manage.py restore")
        )
    back_up(
        settings.COPIES_DIR,
        keep=settings.COPIES_KEPT + 1,
        phrase=settings.COPY_PASSPHRASE,
        person=person,
    )
    with tempfile.TemporaryDirectory(prefix=".back-", dir=settings.COPIES_DIR) as work:
        copy = _ready(file, Path(work), phrase)
        connection.close()
        live = sqlite3.connect(connection.settings_dict["NAME"], timeout=20)
        with closing(live), closing(sqlite3.connect(Path(work) / SQLITE_PART)) as old:
            old.backup(live)
        if (Path(work) / PAPERS).is_dir():
            shutil.copytree(Path(work) / PAPERS, settings.MEDIA_ROOT, dirs_exist_ok=True)
    AuditEntry.objects.create(
        person=Person.objects.filter(pk=person.pk, username=person.username).first(),
        act="bring back copy",
        subject_kind="copy",
        subject_ref=file.name[:80],
    )
    return copy


def _ready(file: Path, work: Path, phrase: str) -> Copy:
    """Lay out a copy in a folder of its own, prove it, and bring it up to date there."""
    copy = read_copy(file, work, phrase)
    (work / ".unlocked").unlink(missing_ok=True)
    if copy.database != "sqlite":
        raise CopyRefused(
            _(
                "This copy is of a PostgreSQL database. Set DATABASE_URL to an empty one of those "
                "and run restore again, without a folder."
            )
        )
    check_version(copy)
    book = work / SQLITE_PART
    if not book.is_file():
        raise CopyRefused(_("There is no book in this copy. Take another copy."))
    prove_sqlite(book, copy)
    _migrate(book)
    for leaf in work.rglob("*"):
        if leaf.is_file():
            with leaf.open("rb") as handle:
                os.fsync(handle.fileno())
    return copy


def check_version(copy: Copy) -> None:
    """Refuse a copy with changes of the book that this program has never heard of."""
    strange = sorted(set(copy.migrations) - known_migrations())
    if strange:
        raise CopyRefused(
            _(
                "This copy was made by another Strandwork (%(version)s): it knows %(change)s, and "
                "this one does not. Bring the program up to date first."
            )
            % {"version": copy.version, "change": strange[-1]}
        )


def _migrate(book: Path) -> None:
    """Bring an old book up to date before anybody sees it, in a process of its own."""
    try:
        run_manage("migrate", "--verbosity=0", "--no-input", DATABASE_URL=f"sqlite:///{book}")
    except CopyRefused as error:
        why = str(error).rstrip(".")
        raise CopyRefused(
            _("The book in it cannot be brought up to date: %(why)s.") % {"why": why}
        ) from error


def _restore_postgres(file: Path, phrase: str, with_papers: bool) -> Copy:
    if set(connection.introspection.table_names()):
        raise CopyRefused(
            _("The database %(name)s is not empty; make a new one and name it in DATABASE_URL.")
            % {"name": connection.settings_dict["NAME"]}
        )
    with tempfile.TemporaryDirectory(prefix="strandwork-back-") as work:
        copy = read_copy(file, Path(work), phrase)
        if copy.database != "postgresql":
            raise CopyRefused(_("This copy is of an SQLite book; name a folder for it."))
        check_version(copy)
        connection.close()
        postgres_command(
            "pg_restore",
            "--no-owner",
            "--exit-on-error",
            "--single-transaction",
            str(Path(work) / POSTGRES_PART),
        )
        papers = Path(work) / PAPERS
        if with_papers and papers.is_dir():
            shutil.copytree(papers, settings.MEDIA_ROOT, dirs_exist_ok=True)
    with connection.cursor() as cursor:
        rows = count_rows(connection, cursor)
    # Copies of an older program do not say how many rows they hold.
    if copy.rows and rows != dict(copy.rows):
        raise CopyRefused(
            _("Not as many rows came back as the copy holds. Do not use this database.")
        )
    call_command("migrate", verbosity=0, interactive=False, skip_checks=True)
    look_at_tables()
    return replace(copy, rows=rows)


@contextmanager
def _work_folder(beside: Path) -> Iterator[Path]:
    """A folder on the same disk, gone afterwards unless it was renamed."""
    work = Path(tempfile.mkdtemp(prefix=".bringing-back-", dir=beside))
    try:
        yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)
