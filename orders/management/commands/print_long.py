"""Print a long paper that somebody asked for; its page tells how far it has come."""

from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orders.models import LongPaper
from orders.papers.long_run import print_long
from workshop.models import Business


class Command(BaseCommand):
    help = "Print a long paper that was asked for on a page, piece by piece."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("paper", type=int, help="its key")

    def handle(self, *args: Any, **options: Any) -> None:
        paper = LongPaper.objects.defer("pdf").filter(pk=options["paper"], ended_at=None).first()
        if paper is None:
            raise CommandError("No long paper of that key waits to be printed.")
        with timezone.override(ZoneInfo(Business.current().time_zone)):
            done = print_long(paper)
        self.stdout.write("printed" if done else "not printed")
