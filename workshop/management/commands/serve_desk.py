"""Serve the workshop at its own desk: what `manage.py open` does once the machine is ready."""

import contextlib
import os
import signal
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

import segno
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection, connections
from django.db.migrations.executor import MigrationExecutor
from django.utils.translation import gettext as _

from workshop.books import book_path, is_where_it_belongs
from workshop.look_only import copy_into_memory, forget_the_copy
from workshop.machine import check_port, no_right_sentence, open_browser
from workshop.models import Business, Person
from workshop.phone_door.folder import is_open, set_open
from workshop.ready_made import lay_out, ready_made
from workshop.services.copies import back_up, newest_copy_age_s
from workshop.services.copy_file import CopyRefused
from workshop.services.nightly import NoTimer, how_set_up, turn_on
from workshop.services.practice import close_after
from workshop.troubles import (
    book_file,
    damaged_sentence,
    disk_is_full,
    newer_changes,
    newer_sentence,
    not_ours,
    sentence_of_book,
)

COPY_EVERY_S = 24 * 3600


class Command(BaseCommand):
    help = "Bring the book up to date, fill an empty one with the demo workshop, and serve it."
    # Checks run inside migrate; running them twice would only slow the start.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-demo", action="store_true")
        parser.add_argument("--own", action="store_true")
        parser.add_argument("--keep", nargs="*", default=[])
        parser.add_argument("--again", action="store_true", help="a browser shows it already")
        parser.add_argument("--nightly-copies", action="store_true")
        parser.add_argument("--phones", action="store_true")
        parser.add_argument("--beside", type=int, default=0, help="closes with that process")

    def handle(
        self,
        *args: Any,
        host: str,
        port: int,
        no_demo: bool,
        own: bool,
        keep: list[str],
        again: bool,
        nightly_copies: bool,
        phones: bool,
        beside: int,
        **options: Any,
    ) -> None:
        if not settings.DESK:
            raise CommandError(
                _(
                    "This opens a workshop at its own desk, and STRANDWORK_DESK says that this is "
                    "a server. workshop/deploy.md tells how a server is started."
                )
            )
        try:
            self.make_ready(no_demo=no_demo, own=own)
            if own and Business.current().invented:
                call_command("begin_own", keep=keep, stdout=self.stdout)
                self.open_again(host, port)
        except DatabaseError as error:
            if not self.opens_to_look():
                sentence = sentence_of_book(error)
                raise CommandError(sentence or self.unusual(error)) from error
        self.see_to_the_night(nightly_copies)
        if phones:
            set_open(settings.PHONES_DIR, True)
        self.serve(host, port, again=again, beside=beside)

    def see_to_the_night(self, wanted: bool) -> None:
        """Set up the nightly copy where it is asked for; else say how, until it is."""
        if wanted:
            try:
                self.stdout.write(turn_on())
            except NoTimer as error:
                # A workshop opens all the same.
                self.stderr.write(str(error))
        elif how_set_up() is None:
            self.stdout.write(
                _(
                    "No copy of the book is made at night yet; this sets it up: "
                    "python3 manage.py open --nightly-copies"
                )
            )

    def make_ready(self, *, no_demo: bool, own: bool) -> None:
        """A sound book of this program's own age, with somebody in it who can sign in."""
        self.look_at_the_file()
        self.bring_up_to_date()
        if no_demo and not own and Business.current().invented:
            raise CommandError(
                _(
                    "The book here is the demo workshop. This begins an empty one beside it, and "
                    "the demo stays to practise in: python3 manage.py open --own"
                )
            )
        if Person.objects.exists() or Business.objects.exists():
            self.stdout.write(
                _(
                    "In place of a lost password, set a new one: "
                    "python3 manage.py changepassword NAME"
                )
            )
        elif no_demo or own:
            call_command("first_owner", stdout=self.stdout)
        else:
            self.stdout.write(_("Loading the demo workshop; everything in it is invented ..."))
            call_command("load_demo", stdout=self.stdout)

    def look_at_the_file(self) -> None:
        """Refuse a book that this user may not write, or that is damaged, before it is opened."""
        book = book_file()
        if book is None or not book.exists():
            return
        if place := not_ours(book):
            raise CommandError(no_right_sentence(place))
        if not disk_is_full(book.parent):
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA quick_check(1)")
                said = cursor.fetchone()[0]
            if said != "ok":
                raise CommandError(damaged_sentence(book, said))

    def opens_to_look(self) -> bool:
        """Whether the disk is full and the book, as it stands, could be laid into memory."""
        book = book_file()
        if book is None or not book.exists() or not disk_is_full(book.parent):
            return False
        connections.close_all()
        try:
            copy = copy_into_memory(book)
        except OSError:
            return False
        connection.settings_dict["NAME"] = str(copy)
        if not Person.objects.exists():
            connection.close()
            forget_the_copy(copy)
            return False
        settings.LOOK_ONLY = True
        self.stdout.write(
            _(
                "The disk is full (%(folder)s). The book is open to look at, and nothing can be "
                "written. Make room, close the workshop with Ctrl-C and open it again."
            )
            % {"folder": book.parent}
        )
        return True

    def unusual(self, error: DatabaseError) -> str:
        return _("The database %(name)s cannot be used: %(reason)s") % {
            "name": connection.settings_dict["NAME"],
            "reason": str(error).strip(),
        }

    def bring_up_to_date(self) -> None:
        """Copy the book where that is due, and make the changes that wait; none by a newer one."""
        executor = MigrationExecutor(connection)
        if changes := newer_changes(executor.loader):
            raise CommandError(newer_sentence(changes))
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
        if executor.loader.applied_migrations:
            self.keep_a_copy_first(changes=bool(waiting))
        elif lay_out() and ready_made() is not None:
            return
        if waiting:
            self.stdout.write(_("Bringing the book up to date ..."))
            call_command("migrate", verbosity=0, interactive=False)

    def keep_a_copy_first(self, *, changes: bool) -> None:
        """A book that is about to be changed, or had no copy since yesterday, is copied first."""
        age_s = newest_copy_age_s()
        if not changes and age_s is not None and age_s < COPY_EVERY_S:
            return
        try:
            made = back_up(
                settings.COPIES_DIR, keep=settings.COPIES_KEPT, phrase=settings.COPY_PASSPHRASE
            )
        except (CopyRefused, DatabaseError) as error:
            if changes:
                raise CommandError(str(error)) from error
            self.stderr.write(str(error))
            return
        self.stdout.write(_("A copy of the book was kept: %(path)s") % {"path": made.path})

    def serve(self, host: str, port: int, *, again: bool, beside: int = 0) -> None:
        shown = f"[{host}]" if ":" in host else host
        if host not in {*settings.ALLOWED_HOSTS, "::1"}:
            settings.ALLOWED_HOSTS.append(shown)
            self.stdout.write(
                _(
                    "Careful: anyone on the same network can read what is sent to this address, "
                    "passwords too. workshop/deploy.md tells how to serve it safely."
                )
            )
        address = f"http://{shown}:{port}/"
        opened = _("The workshop is open at %s (Ctrl-C closes it)") % address
        # Static files come from where they are kept; the folder for gathered ones may be empty.
        with contextlib.suppress(OSError):
            settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        connections.close_all()
        # Before the workers are forked, or each would say again what is still waiting to be said.
        self.stdout.flush()
        if sys.platform == "win32":
            self.say_now(opened)
            call_command("runserver", f"{shown}:{port}", use_reloader=False)
            return
        from workshop.desk_server import serve

        book, phones = Path(connection.settings_dict["NAME"]), is_open(settings.PHONES_DIR)

        def when_open() -> None:
            self.say_now(opened)
            if beside:
                close_after(beside, lambda: os.kill(os.getpid(), signal.SIGTERM))
            if not again:
                open_browser(address)

        def when_closed() -> None:
            forget_the_copy(book)
            if telling:
                telling.terminate()

        settings.OPENS_AGAIN = is_where_it_belongs(book, settings.VAR_DIR)
        telling = None
        more: dict[str, Any] = {}
        if phones:
            telling, more = self.open_to_phones(port)
        try:
            serve(
                [f"{shown}:{port}", *more.pop("bind", [])],
                when_open=when_open,
                when_closed=when_closed,
                **more,
            )
        except SystemExit:
            # Unless a page began a book of one's own, or turned the switch for phones, it is
            # closed now.
            same_book = book_path(settings.VAR_DIR, settings.BOOK) == book
            if not settings.OPENS_AGAIN or (same_book and is_open(settings.PHONES_DIR) == phones):
                raise
        self.open_again(host, port, "--again")

    def open_to_phones(self, port: int) -> tuple[Any, dict[str, Any]]:
        """See to the certificates, tell the name, and say where a phone begins."""
        from workshop.phone_door import announce
        from workshop.phone_door.folder import Desk, door_here
        from workshop.phone_door.worker import allow_hosts

        for each in (port + 1, port + 2):
            check_port("", each)
        settings.PHONES = Desk(Business.current().name, port)
        door = door_here(settings.PHONES_DIR, settings.PHONES)
        allow_hosts(door)
        self.stdout.write(
            _(
                "Phones of this network come in at %(address)s once they are paired (Workshop, "
                "Phones). A new phone begins at %(first)s"
            )
            % {"address": door.address(), "first": door.certificate_address}
        )
        # In blocks, as a telephone reads it from the terminal.
        if self.stdout.isatty():
            segno.make(door.certificate_address).terminal(out=self.stdout._out, compact=True)
        ports = (door.ports.phones, door.ports.certificate)
        everywhere = "0.0.0.0"  # noqa: S104 - whoever is not near is turned away at the socket
        return announce.begin(door.host, door.ports.phones), {
            "bind": [f"{everywhere}:{each}" for each in ports],
            "worker": "workshop.phone_door.worker.DoorWorker",
        }

    def open_again(self, host: str, port: int, *more: str) -> None:
        """The same desk from the start, in the book that is the workshop's own now."""
        self.stdout.flush()
        connections.close_all()
        here = ["serve_desk", "--host", host, "--port", str(port), "--no-demo", *more]
        os.execv(sys.executable, [sys.executable, str(settings.BASE_DIR / "manage.py"), *here])

    def say_now(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()
