"""Search longer for a better plan of the kilns; the keeper finds it on the firing board."""

from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.firing.queries.plan_effects import Figures
from orders.firing.queries.plan_words import plan_words
from orders.firing.services.longer_search import run_search
from orders.models import FiringSearch
from workshop.models import Business, Person


class Command(BaseCommand):
    help = "Search longer for a better plan of the kilns and lay it before the keeper."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seconds", type=float, default=60.0, help="time to spend")
        parser.add_argument("--person", help="who asked for it, by the name they sign in with")
        parser.add_argument("--search", type=int, help="a search asked for at the board")

    def handle(self, *args: Any, **options: Any) -> None:
        search = self._asked(options) or self._new(options)
        with timezone.override(ZoneInfo(Business.current().time_zone)):
            plan = run_search(search)
            if plan is None:
                search.refresh_from_db()
                raise CommandError(search.said)
            self.stdout.write(f"{plan}: {plan_words(Figures(**plan.after), plan)}")

    def _asked(self, options: dict[str, Any]) -> FiringSearch | None:
        if options["search"] is None:
            return None
        found = FiringSearch.objects.filter(pk=options["search"]).first()
        if found is None:
            raise CommandError(_("No search of that number was asked for at the board."))
        return found

    def _new(self, options: dict[str, Any]) -> FiringSearch:
        seconds = options["seconds"]
        if not 1 <= seconds <= 3600:
            raise CommandError(
                _("--seconds should be from 1 to 3600, but it is %(seconds)s.")
                % {"seconds": seconds}
            )
        people = Person.objects.filter(is_active=True)
        name = options["person"]
        person = people.filter(username=name) if name else people.filter(role="owner")
        if not person.exists():
            raise CommandError(_("Nobody of that name signs in here; see the list of people."))
        return FiringSearch.objects.create(asked_by=person[0], seconds=round(seconds))
