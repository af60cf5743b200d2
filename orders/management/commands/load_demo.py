"""`manage.py load_demo`: an invented workshop with half a year behind it."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orders.demo.ready_made import load_demo
from workshop.machine import Progress
from workshop.models import Business, Person


class Command(BaseCommand):
    help = "Loads the invented workshop Tidewrack Beads into an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--lived", action="store_true", help="live all of it through; nothing ready-made"
        )

    def handle(self, *args: Any, lived: bool, **options: Any) -> None:
        if Business.objects.exists() or Person.objects.exists():
            raise CommandError("The demo goes into an empty database only; this one is in use.")
        progress = Progress("its days")
        passwords = load_demo(timezone.localdate(), lived=lived, tell=progress.at)
        progress.over()
        self.stdout.write("The demo workshop is invented: its people, its town, its figures.")
        for person in Person.objects.order_by("pk"):
            password = passwords[person.username]
            self.stdout.write(f"  {person.role:8} signs in as {person.username:8} {password}")
