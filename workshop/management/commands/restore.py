"""`manage.py restore`: a copy becomes a book again."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from workshop.services.copies import SQLITE_PART
from workshop.services.copy_file import CopyRefused
from workshop.services.restoring import restore, restore_in_place


class Command(BaseCommand):
    help = (
        "Check a copy from end to end, bring its book up to date, and put it into an empty folder; "
        "without a folder, where the settings look for the book, if none stands there."
    )
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("folder", nargs="?", type=Path)
        parser.add_argument(
            "--no-papers", action="store_true", help="leave aside what an old copy kept as files"
        )

    def handle(
        self, *args: Any, file: Path, folder: Path | None, no_papers: bool, **options: Any
    ) -> None:
        try:
            if folder is None:
                copy = restore_in_place(
                    file, phrase=settings.COPY_PASSPHRASE, with_papers=not no_papers
                )
            else:
                copy = restore(file, folder.resolve(), phrase=settings.COPY_PASSPHRASE)
        except CopyRefused as error:
            raise CommandError(str(error)) from error
        rows = sum(copy.rows.values())
        self.stdout.write(
            ngettext(
                "The book of %(day)s is back: %(rows)d row.",
                "The book of %(day)s is back: %(rows)d rows.",
                rows,
            )
            % {"day": copy.made_at, "rows": rows}
        )
        if folder is not None:
            self.stdout.write(
                _("Open it with DATABASE_URL=sqlite:///%(book)s")
                % {"book": folder.resolve() / SQLITE_PART}
            )
