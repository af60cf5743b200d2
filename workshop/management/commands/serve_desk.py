"""Serve the workshop at its own desk: what `manage.py open` does once the machine is ready."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection, connections
from django.db.migrations.executor import MigrationExecutor
from django.utils.translation import gettext as _

from workshop.models import Business, Person
from workshop.services.copies import keep_copy, newest_copy_age_s
from workshop.services.copy_file import CopyRefused
from workshop.services.nightly import NoTimer, how_set_up, turn_on

COPY_EVERY_S = 24 * 3600


class Command(BaseCommand):
    help = "Bring the book up to date, fill an empty one with the demo workshop, and serve it."
    # Checks run inside migrate; running them twice would only slow the start.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-demo", action="store_true")
        parser.add_argument("--nightly-copies", action="store_true")

    def handle(
        self,
        *args: Any,
        host: str,
        port: int,
        no_demo: bool,
        nightly_copies: bool,
        **options: Any,
    ) -> None:
        if not settings.DESK:
            raise CommandError(
                _(
                    "This opens a workshop at its own desk, and STRANDWORK_DESK says that this is "
                    "a server. The README tells how a server is started."
                )
            )
        self.bring_up_to_date()
        if Person.objects.exists() or Business.objects.exists():
            self.stdout.write(
                _(
                    "In place of a lost password, set a new one: "
                    "python3 manage.py changepassword NAME"
                )
            )
        elif no_demo:
            call_command("first_owner", stdout=self.stdout)
        else:
            self.stdout.write(_("Loading the demo workshop; everything in it is invented ..."))
            call_command("load_demo", stdout=self.stdout)
        self.see_to_the_night(nightly_copies)
        self.serve(host, port)

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

    def bring_up_to_date(self) -> None:
        """Migrate; a database that cannot be used is told in one sentence."""
        self.stdout.write(_("Bringing the book up to date ..."))
        try:
            self.keep_a_copy_first()
            call_command("migrate", verbosity=0, interactive=False)
        except DatabaseError as error:
            raise CommandError(
                _("The database %(name)s cannot be used: %(reason)s")
                % {"name": connection.settings_dict["NAME"], "reason": str(error).strip()}
            ) from error

    def keep_a_copy_first(self) -> None:
        """A book that is about to be changed, or had no copy since yesterday, is copied first."""
        executor = MigrationExecutor(connection)
        if not executor.loader.applied_migrations:
            return
        changes = executor.migration_plan(executor.loader.graph.leaf_nodes())
        age_s = newest_copy_age_s()
        if not changes and age_s is not None and age_s < COPY_EVERY_S:
            return
        try:
            made = keep_copy(
                settings.COPIES_DIR, keep=settings.COPIES_KEPT, phrase=settings.COPY_PASSPHRASE
            )
        except CopyRefused as error:
            if changes:
                raise CommandError(str(error)) from error
            self.stderr.write(str(error))
            return
        self.stdout.write(_("A copy of the book was kept: %(path)s") % {"path": made.path})

    def serve(self, host: str, port: int) -> None:
        shown = f"[{host}]" if ":" in host else host
        if host not in {*settings.ALLOWED_HOSTS, "::1"}:
            settings.ALLOWED_HOSTS.append(shown)
            self.stdout.write(
                _(
                    "Careful: anyone on the same network can read what is sent to this address, "
                    "passwords too. The README tells how to serve the workshop safely."
                )
            )
        address = f"http://{shown}:{port}/"
        opened = _("The workshop is open at %s (Ctrl-C closes it)") % address
        # Static files come from where they are kept; the folder for gathered ones may be empty.
        settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        connections.close_all()
        # Before the workers are forked, or each would say again what is still waiting to be said.
        self.stdout.flush()
        if sys.platform == "win32":
            self.say_now(opened)
            call_command("runserver", f"{shown}:{port}", use_reloader=False)
            return
        from workshop.desk_server import serve

        serve(f"{shown}:{port}", when_open=lambda: self.say_now(opened))

    def say_now(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()
