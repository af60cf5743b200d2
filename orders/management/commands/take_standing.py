"""`manage.py take_standing`: the orders that customers want again and again, whose day has come."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from orders.counter.services.standing import take_due
from workshop import formats


class Command(BaseCommand):
    help = (
        "Take the next order of every standing order whose day to be taken has come. Run it as "
        "often as you like: each day is taken once. The nightly copy runs it first."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        taken = take_due()
        for one in taken:
            said = _("Order %(number)s of %(customer)s for %(day)s is taken.") % {
                "number": one.order.number,
                "customer": one.standing.customer,
                "day": formats.date_short(one.wanted_on),
            }
            self.stdout.write(f"{said} {one.refused}".strip())
        if not taken:
            self.stdout.write(_("No standing order is to be taken yet."))
