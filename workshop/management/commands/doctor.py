"""`manage.py doctor`: is everything in order here, and what to mend if not."""

import importlib.util
import io
import os
import shutil
import sqlite3
from argparse import ArgumentParser
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import WARNING, run_checks
from django.core.management import CommandError, call_command, get_commands
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from workshop.machine import (
    apt_line,
    missing_pango_packages,
    scripts_without_a_font,
    sentence_of,
)
from workshop.management.findings import BAD, CARE, GOOD, Found
from workshop.management.server_looks import (
    SERVER_LOOKS,
    look_at_programs,
    look_at_time,
    look_from_outside,
)
from workshop.models import Business, Person, Role
from workshop.services.advisories import NoList, audit
from workshop.services.clock import clock_doubt, runs_behind, written_ahead
from workshop.services.copies import check_copy, kept_copies
from workshop.services.copy_file import CopyRefused
from workshop.services.nightly import how_set_up
from workshop.troubles import (
    newer_changes,
    newer_sentence,
    not_migrated_sentence,
    sentence_of_book,
)

LEAST_FREE_BYTES = 500 << 20
OLD_COPY_S = 36 * 3600


class Command(BaseCommand):
    help = "Look at the settings, the database, the disk, the clock, the copies and the book."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--advisories", type=Path, metavar="PLACE",
            help="a folder, ZIP or file of advisories in OSV form to hold the packages against",
        )  # fmt: skip
        parser.add_argument(
            "--address", default="", metavar="https://NAME:PORT",
            help="where a server is asked from outside; usually by its first name of ALLOWED_HOSTS",
        )  # fmt: skip

    def handle(
        self, *args: Any, advisories: Path | None = None, address: str = "", **options: Any
    ) -> None:
        bad, looks = 0, [*LOOKS, *SERVER_LOOKS]
        if address:
            looks[looks.index(look_from_outside)] = partial(look_from_outside, address)
        if advisories is not None:
            looks.append(partial(look_at_packages, advisories))
        no_book = False
        for look in looks:
            if no_book and look in NEED_THE_BOOK:
                continue  # what keeps the book shut was said, once
            for found in _safely(look):
                bad += found.how == BAD
                no_book |= found.how == BAD and look is look_at_database
                self.stdout.write(f"  {found.how:4}  {found.sentence}")
        if bad:
            raise CommandError(
                ngettext("One thing wants mending.", "%(n)d things want mending.", bad) % {"n": bad}
            )
        self.stdout.write(_("Everything that was looked at is in order."))


def _safely(look: Callable[[], Iterator[Found]]) -> Iterator[Found]:
    """A look that fails is itself a finding; the others go on."""
    try:
        yield from look()
    except (DatabaseError, OSError, CommandError, NoList) as error:
        yield Found(BAD, _told(look, error))


def _told(look: Callable[[], Iterator[Found]], error: Exception) -> str:
    known = None
    if isinstance(error, DatabaseError):
        known = sentence_of_book(error)
    elif isinstance(error, OSError):
        known = sentence_of(error)
    what = getattr(look, "func", look).__doc__
    return known or _("%(what)s: %(why)s") % {"what": what, "why": error}


def look_at_settings() -> Iterator[Found]:
    """Settings"""
    if settings.DEBUG:
        yield Found(BAD, _("DEBUG is on: it shows the inside to visitors. Set DEBUG=no."))
    if settings.DESK:
        yield Found(GOOD, _("This is a desk: plain HTTP, reached from this computer only."))
        return
    wrong = [
        found
        for found in run_checks(include_deployment_checks=True)
        if found.level >= WARNING and not found.is_silenced()
    ]
    for found in wrong:
        yield Found(BAD, f"{found.id}: {found.msg}")
    if not wrong:
        yield Found(GOOD, _("The settings of a server are safe."))
    if not (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():
        yield Found(BAD, _("Static files are not gathered; run: python3 manage.py collectstatic"))


def look_at_database() -> Iterator[Found]:
    """The database"""
    executor = MigrationExecutor(connection)
    if newer := newer_changes(executor.loader):
        yield Found(BAD, newer_sentence(newer))
        return
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting and not executor.loader.applied_migrations:
        yield Found(BAD, not_migrated_sentence())
        return
    if waiting:
        yield Found(
            BAD,
            ngettext(
                "One change of the book waits; make a copy, then run: python3 manage.py migrate",
                "%(n)d changes of the book wait; make a copy, then run: python3 manage.py migrate",
                len(waiting),
            )
            % {"n": len(waiting)},
        )
        return
    with transaction.atomic():
        # Asks for the right to write, and writes nothing; a delete may first look what there is.
        Business.objects.filter(pk=0).update(name="")
    yield Found(GOOD, _("The database answers and can be written."))
    if connection.vendor == "sqlite" and not connection.is_in_memory_db():
        yield from _look_at_sqlite(str(connection.settings_dict["NAME"]))


def _look_at_sqlite(name: str) -> Iterator[Found]:
    with closing(sqlite3.connect(name, timeout=20)) as book:
        said = book.execute("PRAGMA quick_check").fetchone()[0]
        lost = book.execute("PRAGMA foreign_key_check").fetchone()
        mode = book.execute("PRAGMA journal_mode").fetchone()[0]
    if said != "ok" or lost is not None:
        yield Found(BAD, _("The database file is damaged (%s). Bring back the newest copy.") % said)
    else:
        yield Found(GOOD, _("The database file is sound."))
    if mode != "wal":
        yield Found(CARE, _("The database is not in WAL mode; is it on a network disk?"))


def look_at_disk() -> Iterator[Found]:
    """The disk"""
    place = Path(connection.settings_dict["NAME"]).parent if connection.vendor == "sqlite" else None
    folder = place if place and place.is_dir() else settings.BASE_DIR
    free = shutil.disk_usage(folder).free
    words = {"folder": folder, "free": free >> 20}
    if free < LEAST_FREE_BYTES:
        yield Found(BAD, _("Only %(free)d MB are free at %(folder)s; make room.") % words)
    else:
        yield Found(GOOD, _("%(free)d MB are free at %(folder)s.") % words)
    key = settings.VAR_DIR / "secret_key"
    if key.exists() and os.name == "posix" and key.stat().st_mode & 0o077:
        yield Found(BAD, _("Others can read %s; run: chmod 600 on it.") % key)


def look_at_clock() -> Iterator[Found]:
    """The clock"""
    last = written_ahead()
    words = {
        "now": timezone.now().isoformat("T", "minutes"),
        "last": last.isoformat("T", "minutes") if last else "",
    }
    if last and runs_behind():
        yield Found(
            BAD,
            _(
                "The clock stands at %(now)s, before the last line of the log (%(last)s). One of "
                "the two is wrong: look at a calendar. If the clock is wrong, set it; if it is "
                "right, it ran ahead when that line was written."
            )
            % words,
        )
    elif last:
        yield Found(
            CARE,
            _(
                "The clock ran ahead once: the log has a line of %(last)s, and later ones of "
                "before. Past a paper dated then the owner goes on the paper’s own page."
            )
            % words,
        )
    elif doubt := clock_doubt():
        yield Found(CARE, doubt.sentence())
    else:
        yield Found(GOOD, _("The clock agrees with the log."))


def look_at_people() -> Iterator[Found]:
    """People"""
    owners = Person.objects.filter(role=Role.OWNER, is_active=True).count()
    if not owners:
        yield Found(
            BAD, _("No owner can sign in; run: python3 manage.py first_owner, or changepassword.")
        )
    elif owners == 1:
        yield Found(CARE, _("One owner only; a second could help when a password is lost."))


def look_at_printing() -> Iterator[Found]:
    """Printing"""
    if importlib.util.find_spec("weasyprint") is None or missing_pango_packages():
        yield Found(CARE, _("Papers cannot be printed: the Pango libraries are missing (README)."))
        return
    yield Found(GOOD, _("Papers can be printed."))
    if missing := scripts_without_a_font():
        yield Found(
            CARE,
            _(
                "Names in %(scripts)s letters cannot be printed here: no font has them. If a "
                "customer writes so, run as root: %(line)s"
            )
            % {
                "scripts": ", ".join(missing),
                "line": apt_line(sorted(set(missing.values()))),
            },
        )


def look_at_copies() -> Iterator[Found]:
    """Copies"""
    if settings.DESK and how_set_up() is None:
        yield Found(CARE, _("No copy is made at night; run: python3 manage.py nightly_copies"))
    kept = kept_copies(settings.COPIES_DIR)
    if not kept:
        yield Found(CARE, _("There is no copy yet; run: python3 manage.py backup"))
        return
    age_s = (timezone.now() - kept[0].made_at).total_seconds()
    if age_s > OLD_COPY_S:
        yield Found(CARE, _("The newest copy is %d hours old.") % (age_s // 3600))
    try:
        check_copy(kept[0].path, phrase=settings.COPY_PASSPHRASE)
    except CopyRefused as error:
        yield Found(BAD, f"{kept[0].name}: {error}")
    else:
        yield Found(GOOD, _("The newest copy is whole."))


def look_at_book() -> Iterator[Found]:
    """The glass book"""
    if "check_book" not in get_commands():
        return
    call_command("check_book", stdout=io.StringIO())
    yield Found(GOOD, _("Every gram and bead is where the book says."))


def look_at_packages(advisories: Path) -> Iterator[Found]:
    """The packages"""
    told = audit(settings.BASE_DIR / "requirements.lock", advisories)
    for each in told.found:
        mended = _(" Mended in %s.") % each.mended_in if each.mended_in else ""
        yield Found(
            BAD,
            _("%(package)s %(version)s: %(name)s, %(summary)s.%(mended)s")
            % {**vars(each), "summary": each.summary.rstrip("."), "mended": mended},
        )
    if not told.found:
        yield Found(
            GOOD,
            _("Packages: %(packages)d, advisories: %(advisories)d; none of them holds here.")
            % vars(told),
        )


NEED_THE_BOOK = (look_at_clock, look_at_people, look_at_book, look_at_programs, look_at_time)
LOOKS = (
    look_at_settings,
    look_at_database,
    look_at_disk,
    look_at_clock,
    look_at_people,
    look_at_printing,
    look_at_copies,
    look_at_book,
)
