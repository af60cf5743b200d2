"""`manage.py nightly_copies`: a copy every night, by this computer's own timer."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from workshop.services.nightly import NoTimer, turn_off, turn_on


class Command(BaseCommand):
    help = (
        "Let this computer keep a copy of the book every night: by a timer of systemd's for this "
        "user, or else by a line of cron's. Run it again after a change of the settings."
    )
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--at", default="02:00", help="time of day; usually 02:00")
        parser.add_argument("--off", action="store_true", help="make no more copies at night")

    def handle(self, *args: Any, at: str, off: bool, **options: Any) -> None:
        if off:
            self.stdout.write(
                _("No more copies are made at night.")
                if turn_off()
                else _("No copies were made at night.")
            )
            return
        try:
            self.stdout.write(turn_on(at))
        except NoTimer as error:
            raise CommandError(str(error)) from error
