"""`manage.py pack_demo`: make the demo and the empty book anew, for `open` to lay out at once."""

import lzma
import tempfile
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from orders.demo.ready_made import make
from workshop.ready_made import difference

# Any day will do: it is moved by whole weeks. Kept the same, so that only what changed changes.
LAST_DAY = date(2026, 11, 18)


class Command(BaseCommand):
    help = (
        "Make the ready-made book anew, by the migrations and services as they are now, and keep "
        "it in fixtures/. To be run after a change that the demo shows."
    )
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="only compare it with a fresh one")

    def handle(self, *args: Any, check: bool, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError("It is made on SQLite; run it without DATABASE_URL.")
        with tempfile.TemporaryDirectory(prefix="strandwork-demo-") as folder:
            connection.close()
            connection.settings_dict["NAME"] = str(Path(folder) / "book.sqlite3")
            call_command("migrate", verbosity=0, interactive=False, step_by_step=True)
            fresh = make(LAST_DAY)
            connection.close()
        kept = settings.READY_MADE
        if check:
            if differs := difference(kept, fresh):
                raise CommandError(
                    f"{kept.name} is not what is made now ({differs}). If that is what was meant, "
                    "run: python3 manage.py pack_demo"
                )
            self.stdout.write(f"{kept.name} is what is made now.")
            return
        kept.write_bytes(fresh)
        rows = len(lzma.decompress(fresh))
        self.stdout.write(f"{kept}: {len(fresh) / 1000:.0f} kB, unpacked {rows / 1e6:.1f} MB.")
