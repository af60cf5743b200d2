"""Copies of the book: made while people work, kept by number, checked from end to end."""

import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import AuditEntry, Person
from workshop.services.copy_file import Copy, CopyRefused, read_copy, write_copy
from workshop.services.copy_lock import is_locked

SQLITE_PART, POSTGRES_PART = "strandwork.sqlite3", "strandwork.pgdump"
PAPERS = "papers"
NAME = re.compile(r"strandwork-(\d{8}T\d{6}Z)(-\d+)?\.copy")
SPARE_BYTES = 64 << 20
LONGEST_COPY_S = 300


@dataclass(frozen=True)
class KeptCopy:
    """One file in the folder of copies."""

    name: str
    path: Path
    made_at: datetime
    size: int
    locked: bool


def back_up(folder: Path, *, keep: int, phrase: str = "", person: Person | None = None) -> KeptCopy:
    """Copy the whole book into `folder` while it is in use, and let go of the oldest copies.

    The copy is read back before it counts. Raises CopyRefused when there is no room, the book
    is damaged, or a program that is needed is missing.
    """
    _make_folder(folder)
    try:
        with tempfile.TemporaryDirectory(prefix=".making-", dir=folder) as work:
            parts, facts = _take(Path(work))
            target = _free_name(folder)
            write_copy(target, parts, facts, phrase)
            with tempfile.TemporaryDirectory(prefix=".reading-", dir=folder) as again:
                read_copy(target, Path(again), phrase)
    except OSError as error:
        raise CopyRefused(_cannot_write(folder, error)) from error
    made = _kept(target)
    for old in kept_copies(folder)[max(keep, 1) :]:
        old.path.unlink(missing_ok=True)
    AuditEntry.objects.create(
        person=person,
        act="keep copy",
        subject_kind="copy",
        subject_ref=made.name,
        after={"bytes": made.size},
    )
    return made


def kept_copies(folder: Path) -> list[KeptCopy]:
    """The copies in a folder, the newest first."""
    if not folder.is_dir():
        return []
    found = [_kept(path) for path in folder.iterdir() if NAME.fullmatch(path.name)]
    return sorted(found, key=lambda copy: copy.name, reverse=True)


def newest_copy_age_s() -> float | None:
    """Seconds since the newest copy of the usual folder; None while there is none."""
    kept = kept_copies(settings.COPIES_DIR)
    return (timezone.now() - kept[0].made_at).total_seconds() if kept else None


def check_copy(path: Path, *, phrase: str = "") -> Copy:
    """Read a copy from end to end and open its book; raises CopyRefused for whatever is amiss."""
    with tempfile.TemporaryDirectory(prefix="strandwork-check-") as work:
        copy = read_copy(path, Path(work), phrase)
        if copy.database == "sqlite":
            prove_sqlite(Path(work) / SQLITE_PART, copy)
        return copy


def prove_sqlite(path: Path, copy: Copy | None = None) -> None:
    """The file is a sound SQLite database and holds the rows that the copy speaks of."""
    try:
        with closing(sqlite3.connect(path)) as book:
            said = book.execute("PRAGMA integrity_check").fetchone()[0]
            lost = book.execute("PRAGMA foreign_key_check").fetchone()
            rows = _rows_of(book) if copy else {}
    except sqlite3.DatabaseError as error:
        raise CopyRefused(_("The book in it is damaged: %(why)s.") % {"why": error}) from error
    if said != "ok" or lost is not None:
        raise CopyRefused(
            _("The book in it is damaged: %(why)s.") % {"why": said if said != "ok" else lost}
        )
    if copy and rows != dict(copy.rows):
        raise CopyRefused(_("The book in it has not as many rows as its list says."))


def _take(work: Path) -> tuple[dict[str, Path], dict[str, Any]]:
    """The book and its papers as files, and what the manifest says of them."""
    if connection.vendor == "sqlite":
        book = work / SQLITE_PART
        copy_sqlite(book)
        with closing(sqlite3.connect(book)) as copied:
            rows = _rows_of(copied)
            applied = copied.execute("SELECT app, name FROM django_migrations").fetchall()
    else:
        book = work / POSTGRES_PART
        applied = [(row.app, row.name) for row in MigrationRecorder.Migration.objects.all()]
        rows = _dump_postgres(book)
    parts = {book.name: book}
    papers = Path(settings.MEDIA_ROOT)
    if papers.is_dir():
        for path in sorted(papers.rglob("*")):
            if path.is_file() and not path.is_symlink():
                parts[f"{PAPERS}/{path.relative_to(papers).as_posix()}"] = path
    facts = {
        "made_at": timezone.now().astimezone(UTC).isoformat(timespec="seconds"),
        "version": program_version(),
        "database": "sqlite" if connection.vendor == "sqlite" else "postgresql",
        "migrations": sorted(f"{app}.{name}" for app, name in applied),
        "rows": rows,
    }
    return parts, facts


def copy_sqlite(target: Path) -> None:
    """SQLite's own online copy: one moment of the book, while others go on writing."""
    try:
        if connection.is_in_memory_db():  # type: ignore[attr-defined]  # SQLite's own
            connection.ensure_connection()
            target.write_bytes(connection.connection.serialize())
        else:
            _copy_online(Path(connection.settings_dict["NAME"]), target)
        with closing(sqlite3.connect(target)) as copied:
            # One file, without a write-ahead log beside it.
            copied.execute("PRAGMA journal_mode=DELETE")
    except (sqlite3.DatabaseError, TimeoutError) as error:
        raise CopyRefused(
            _("The book cannot be copied: %(why)s. Nothing was written.") % {"why": error}
        ) from error
    prove_sqlite(target)


def _copy_online(book: Path, target: Path) -> None:
    _check_room(target.parent, book.stat().st_size * 2)
    give_up_at = time.monotonic() + LONGEST_COPY_S

    def look_at_the_time(status: int, remaining: int, total: int) -> None:
        # Python's own loop would wait for a locked book for ever.
        if time.monotonic() > give_up_at:
            raise TimeoutError(_("it was locked all the time"))

    source = sqlite3.connect(f"{book.resolve().as_uri()}?mode=ro", uri=True, timeout=20)
    with closing(source), closing(sqlite3.connect(target)) as copied:
        source.backup(copied, progress=look_at_the_time)


def postgres_command(program: str, *arguments: str) -> None:
    """Run PostgreSQL's own program on the book; the password goes by the environment."""
    found = shutil.which(program)
    if found is None:
        raise CopyRefused(
            _("%(program)s is missing; install PostgreSQL’s client programs.")
            % {"program": program}
        )
    said = connection.settings_dict
    where = [
        *(f"--{name}={said[key]}" for name, key in _WHERE.items() if said[key]),
        f"--dbname={said['NAME']}",
        "--no-password",
    ]
    environment = {**os.environ, **({"PGPASSWORD": said["PASSWORD"]} if said["PASSWORD"] else {})}
    done = subprocess.run(
        [found, *where, *arguments], capture_output=True, text=True, env=environment, check=False
    )
    if done.returncode:
        why = (done.stderr.strip().splitlines() or ["?"])[-1]
        raise CopyRefused(_("%(program)s says: %(why)s") % {"program": program, "why": why})


_WHERE = {"host": "HOST", "port": "PORT", "username": "USER"}


def _dump_postgres(target: Path) -> dict[str, int]:
    """One moment of the book into `target`; the rows of that same moment by table."""
    own: Any = connection.copy()  # type: ignore[no-untyped-call]
    try:
        with _reading_of(own) as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            cursor.execute("SELECT pg_export_snapshot()")
            moment = cursor.fetchone()[0]
            rows = count_rows(own, cursor)
            postgres_command(
                *("pg_dump", "--format=custom", "--no-owner"),
                *(f"--snapshot={moment}", f"--file={target}"),
            )
    finally:
        own.close()
    return rows


@contextmanager
def _reading_of(own: Any) -> Iterator[Any]:
    """A transaction on a connection beside Django's own; it only reads, so it is given up."""
    own.set_autocommit(False)
    with own.cursor() as cursor:
        yield cursor
    own.rollback()


def count_rows(own: Any, cursor: Any) -> dict[str, int]:
    """The rows of every table of a PostgreSQL book."""
    counted = {}
    for name in sorted(own.introspection.table_names(cursor)):
        cursor.execute("SELECT COUNT(*) FROM " + own.ops.quote_name(name))
        counted[name] = cursor.fetchone()[0]
    return counted


def program_version() -> str:
    """The version of Strandwork, by its metadata or, in a plain clone, its project file."""
    try:
        return version("strandwork")
    except PackageNotFoundError:
        text = (settings.BASE_DIR / "pyproject.toml").read_text(encoding="utf-8")
        found = re.search(r'^version = "([^"]+)"', text, re.MULTILINE)
        return found[1] if found else "?"


def known_migrations() -> set[str]:
    """Every change of the book that this program knows."""
    from django.db.migrations.loader import MigrationLoader

    loader = MigrationLoader(None, ignore_no_migrations=True)
    replaced = {key for migration in loader.disk_migrations.values() for key in migration.replaces}
    return {f"{app}.{name}" for app, name in {*loader.disk_migrations, *replaced}}


def _rows_of(book: sqlite3.Connection) -> dict[str, int]:
    names = book.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    count = "SELECT COUNT(*) FROM "
    return {
        name: book.execute(count + '"' + name.replace('"', '""') + '"').fetchone()[0]
        for (name,) in names
    }


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise CopyRefused(_cannot_write(folder, error)) from error
    if not os.access(folder, os.W_OK):
        raise CopyRefused(_("Nothing can be written into %(folder)s.") % {"folder": folder})


def _check_room(folder: Path, needed: int) -> None:
    free = shutil.disk_usage(folder).free
    if free < needed + SPARE_BYTES:
        raise CopyRefused(
            _("There is no room in %(folder)s: %(free)d MB are free and %(needed)d MB are needed.")
            % {
                "folder": folder,
                "free": free >> 20,
                "needed": (needed + SPARE_BYTES) >> 20,
            }
        )


def _cannot_write(folder: Path, error: OSError) -> str:
    return _("The copy cannot be written into %(folder)s: %(why)s.") % {
        "folder": folder,
        "why": error.strerror or error,
    }


def _free_name(folder: Path) -> Path:
    stamp = timezone.now().astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    path, number = folder / f"strandwork-{stamp}.copy", 1
    while path.exists():
        number += 1
        path = folder / f"strandwork-{stamp}-{number}.copy"
    return path


def _kept(path: Path) -> KeptCopy:
    found = NAME.fullmatch(path.name)
    assert found is not None, "only files named like a copy are listed"
    made_at = datetime.strptime(found[1], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    return KeptCopy(path.name, path, made_at, path.stat().st_size, is_locked(path))
