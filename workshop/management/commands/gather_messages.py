"""Bring the message files up to date with the sources; for whoever works on the program."""

from typing import Any

from django.core.management.base import BaseCommand

from workshop.languages import TRANSLATED
from workshop.message_files import bring_up_to_date


class Command(BaseCommand):
    help = "Write new messages into the message files of every language, and leave out old ones."

    def handle(self, *args: Any, **options: Any) -> None:
        for language in TRANSLATED:
            waiting = bring_up_to_date(language)
            self.stdout.write(f"{language}: {waiting} messages await translation.")
