"""`manage.py forget_second_step NAME`: for an owner whose telephone and spare codes are lost."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from workshop.models import Person
from workshop.services.second_step import forget_second_step
from workshop.services.sessions import end_sessions


class Command(BaseCommand):
    help = "Take the second step of signing in away from somebody, and sign them out everywhere."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name they sign in with")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        person = Person.objects.filter(username=name).first()
        if person is None:
            raise CommandError(_("Nobody signs in as “%s”.") % name)
        forget_second_step(person, person=None)
        end_sessions(person)
        self.stdout.write(_("%s signs in with the password alone now.") % person)
