"""Write the first person who may sign in: an owner with a password made on the spot."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from workshop.models import Person
from workshop.models.people import Role
from workshop.services.people import new_password


class Command(BaseCommand):
    help = "Write the first person of an empty book, an owner, and show a password for them once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name", default="owner", help="the name to sign in with")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        if Person.objects.exists():
            raise CommandError(
                _(
                    "There are people in the book already. An owner can add more under Workshop; "
                    "for a lost password run: python3 manage.py changepassword NAME"
                )
            )
        password = new_password()
        Person.objects.create_user(name, password=password, role=Role.OWNER)
        self.stdout.write(
            _(
                "The book is empty. Sign in as “%(name)s” with this password, "
                "shown only now: %(word)s"
            )
            % {"name": name, "word": password}
        )
