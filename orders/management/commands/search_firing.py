"""Search longer for a better plan of the kilns; the keeper finds it on the firing board."""

from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.queries.plan_words import plan_words
from orders.queries.plans import Figures
from orders.services.firing_plan import propose_plan
from workshop.models import Business, Person


class Command(BaseCommand):
    help = "Search longer for a better plan of the kilns and lay it before the keeper."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seconds", type=float, default=60.0, help="time to spend")
        parser.add_argument("--person", help="who asked for it, by the name they sign in with")

    def handle(self, *args: Any, **options: Any) -> None:
        seconds = options["seconds"]
        if not 0 < seconds <= 3600:
            raise CommandError(
                _("--seconds should be more than 0 and at most 3600, but it is %(seconds)s.")
                % {"seconds": seconds}
            )
        people = Person.objects.filter(is_active=True)
        person = (
            people.filter(username=options["person"]).first()
            if options["person"]
            else people.filter(role="owner").first()
        )
        if person is None:
            raise CommandError(_("Nobody of that name signs in here; see the list of people."))
        with timezone.override(ZoneInfo(Business.current().time_zone)):
            try:
                # A third of the time for a whole new plan, the rest to better it.
                plan = propose_plan(person=person, seconds=seconds / 3, search_s=seconds * 2 / 3)
            except ValidationError as error:
                raise CommandError(" ".join(error.messages)) from error
        self.stdout.write(f"{plan}: {plan_words(Figures(**plan.after), plan)}")
