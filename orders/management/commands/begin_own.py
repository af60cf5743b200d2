"""`manage.py begin_own`: an empty book beside the demo, with what is kept of it."""

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from orders.home.services import KEEPABLE, begin_own_book


class Command(BaseCommand):
    help = "Begin an empty book of one's own beside the demo; `open --own` does it and opens it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--keep", nargs="*", default=[], choices=list(KEEPABLE), help="what goes along"
        )

    def handle(self, *args: Any, keep: list[str], **options: Any) -> None:
        try:
            kept = begin_own_book(keep, person=None)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        words = ", ".join(str(KEEPABLE[key].label) for key in kept)
        self.stdout.write(
            _("A book of your own is begun beside the demo. Kept: %(what)s.")
            % {"what": words or _("nothing")}
        )
