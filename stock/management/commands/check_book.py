"""`manage.py check_book`: is every gram and every bead where the book says it is?"""

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from stock.models import Movement, Posting
from stock.services.check import CHECKS


class Command(BaseCommand):
    help = (
        "Rebuild every balance from the movements and prove the book: zero sums, glass conserved, "
        "no shelf below nothing, every posting with its cause. Ends with an error that names the "
        "first difference."
    )

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        started = time.monotonic()
        postings, movements = Posting.objects.count(), Movement.objects.count()
        for check in CHECKS:
            began = time.monotonic()
            for sentence in check.differences():
                raise CommandError(f"Not true that {check.name}: {sentence}")
            self.stdout.write(f"  ok  {check.name} ({time.monotonic() - began:.2f} s)")
        self.stdout.write(
            f"The book is sound: {postings} postings, {movements} movements, "
            f"{time.monotonic() - started:.2f} s."
        )
