"""`manage.py migrate`: Django's own, which lays an empty SQLite book out at once where it fits."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS

from workshop.ready_made import lay_out

# Whoever asks for one of these asks about the changes themselves.
ABOUT_CHANGES = ("app_label", "migration_name", "plan", "check_unapplied", "fake", "fake_initial")


class Command(migrate.Command):
    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--step-by-step",
            action="store_true",
            help="make every change of the book in turn, an empty one too",
        )

    def handle(self, *args: Any, step_by_step: bool, **options: Any) -> str | None:
        usual = options["database"] == DEFAULT_DB_ALIAS
        if usual and not step_by_step and not any(options[each] for each in ABOUT_CHANGES):
            lay_out()
        return super().handle(*args, **options)
