"""`manage.py check_book`: is every gram and every bead where the book says it is?"""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction

from stock.models import Movement, Posting
from stock.services.check import CHECKS, MORE_CHECKS

LEAN = {"temp_store": 1, "cache_size": -8000}  # sort in a file; 8 MB of pages


@contextmanager
def little_memory() -> Iterator[None]:
    """SQLite sorts on disk meanwhile, so that a long book needs no more memory than a short one."""
    sorts_in_memory = connection.vendor == "sqlite" and not connection.in_atomic_block
    if not sorts_in_memory:
        yield
        return
    with connection.cursor() as cursor:
        before = {}
        for name, lean in LEAN.items():
            cursor.execute(f"PRAGMA {name}")
            before[name] = int(cursor.fetchone()[0])
            cursor.execute(f"PRAGMA {name} = {lean}")
        try:
            yield
        finally:
            for name, value in before.items():
                cursor.execute(f"PRAGMA {name} = {value}")


class Command(BaseCommand):
    help = (
        "Rebuild every balance from the movements and prove the book: zero sums, glass conserved, "
        "no shelf below nothing, every posting with its cause. Ends with an error that names the "
        "first difference."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with little_memory(), transaction.atomic():
            self.check_all()

    def check_all(self) -> None:
        started = time.monotonic()
        postings, movements = Posting.objects.count(), Movement.objects.count()
        for check in [*CHECKS, *MORE_CHECKS]:
            began = time.monotonic()
            for sentence in check.differences():
                raise CommandError(f"Not true that {check.name}: {sentence}")
            self.stdout.write(f"  ok  {check.name} ({time.monotonic() - began:.2f} s)")
        self.stdout.write(
            f"The book is sound: {postings} postings, {movements} movements, "
            f"{time.monotonic() - started:.2f} s."
        )
