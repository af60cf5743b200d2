"""`manage.py backup`: the whole book in one file, while people work."""

from argparse import ArgumentParser
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils.translation import gettext as _

from workshop.services.copies import KeptCopy, back_up
from workshop.services.copy_file import CopyRefused
from workshop.services.letting_go import let_go
from workshop.services.second_place import send_away, try_if_due


class Command(BaseCommand):
    help = (
        "Copy the whole book, papers included, into one file, while it is in use; the copy is read "
        "back before it counts. COPY_PASSPHRASE locks it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", nargs="?", type=Path, help="usually COPIES_DIR")
        parser.add_argument("--keep", type=int, default=settings.COPIES_KEPT, help="newest to keep")

    def handle(self, *args: Any, folder: Path | None, keep: int, **options: Any) -> None:
        if keep < 1:
            raise CommandError(_("--keep must be at least 1."))
        try:
            made = back_up(
                folder or settings.COPIES_DIR, keep=keep, phrase=settings.COPY_PASSPHRASE
            )
        except CopyRefused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            _("The copy %(name)s is made and read back: %(size).1f MB%(locked)s.")
            % {
                "name": made.path,
                "size": made.size / 1_000_000,
                "locked": _(", locked") if made.locked else "",
            }
        )
        if folder is None:
            # The copy that still has them lies there now; a book that is only read keeps them.
            with suppress(DatabaseError):
                let_go()
            self.second_place(made, keep)

    def second_place(self, made: KeptCopy, keep: int) -> None:
        """Carry it to the second place, and try once a month what lies there."""
        if not settings.SECOND_PLACE:
            return
        try:
            send_away(made, keep=keep)
            self.stdout.write(_("It lies in the second place too."))
            if try_if_due():
                self.stdout.write(_("The newest copy there was restored for a trial: it is sound."))
        except CopyRefused as error:
            raise CommandError(_("The second place: %s") % error) from error
