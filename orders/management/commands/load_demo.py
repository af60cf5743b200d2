"""`manage.py load_demo`: an invented workshop with half a year behind it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from orders.demo.curves import write_curves
from orders.demo.facts import half_a_year_ago, load_stock, load_wants, load_workshop
from orders.demo.fuel import weigh_fuel
from orders.demo.history import live_through
from orders.demo.money import pay_the_hands
from orders.demo.tickets import write_tickets
from workshop.models import Business, Person


class Command(BaseCommand):
    help = "Loads the invented workshop Tidewrack Beads into an empty database."

    def handle(self, *args: Any, **options: Any) -> None:
        if Business.objects.exists() or Person.objects.exists():
            raise CommandError("The demo goes into an empty database only; this one is in use.")
        with transaction.atomic():
            today = timezone.localdate()
            since = half_a_year_ago(today)
            passwords = load_workshop(since)
            load_stock(since)
            load_wants(since)
            live_through(since, today)
            write_tickets(today)
            weigh_fuel()
            write_curves()
            pay_the_hands(today, owner=Person.objects.filter(role="owner").earliest("pk"))
        self.stdout.write("The demo workshop is invented: its people, its town, its figures.")
        for person in Person.objects.order_by("pk"):
            password = passwords[person.username]
            self.stdout.write(f"  {person.role:8} signs in as {person.username:8} {password}")
