"""Loads and collection days as an iCalendar feed (RFC 5545)."""

import re
from datetime import UTC, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from orders.firing.queries.kilns import places_taken, times_of
from orders.floor.read_floor import active_loads
from orders.models import Order
from stock.models import KilnLoad
from workshop import formats
from workshop.days import soonest
from workshop.models import Business


def feed(business: Business, *, with_names: bool) -> bytes:
    """Planned and burning loads, and the days open orders are to be collected (10 queries)."""
    calendar = Calendar()
    calendar.add("prodid", "-//Strandwork//Kilns and collections//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", business.name)
    stamp = timezone.now().astimezone(UTC)
    for load in active_loads():
        calendar.add_component(_load_event(load, stamp))
    orders = Order.objects.open().filter(due_on__isnull=False).select_related("customer")
    for order in orders.order_by(soonest(), "number"):
        calendar.add_component(_order_event(order, stamp, with_names))
    return calendar.to_ical()


def _load_event(load: KilnLoad, stamp) -> Event:
    times = times_of(load)
    trays = list(load.trays.all())
    event = Event()
    event.add("uid", f"load-{load.number}@strandwork")
    event.add("dtstamp", stamp)
    event.add("dtstart", times.lit.astimezone(UTC))
    event.add("dtend", times.opened.astimezone(UTC))
    event.add("sequence", load.version)
    event.add(
        "summary",
        _("Load %(number)s, %(kiln)s, %(temp)s")
        % {"number": load.number, "kiln": load.kiln, "temp": formats.celsius(load.hold_c)},
    )
    lines = [
        _("%(taken)s of %(all)s places; held %(minutes)s")
        % {
            "taken": places_taken(trays),
            "all": load.kiln.places,
            "minutes": formats.minutes(load.hold_min),
        }
    ]
    lines += [f"{tray.beads} × {tray.bead.name}" for tray in trays]
    event.add("description", "\n".join(lines))
    return event


def _order_event(order: Order, stamp, with_names: bool) -> Event:
    event = Event()
    event.add("uid", f"order-{order.number}@strandwork")
    event.add("dtstamp", stamp)
    day = order.told_on
    assert day is not None, "an order with a day it is due has a day that is told"
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("sequence", order.version)
    event.add("transp", "TRANSPARENT")
    event.add(
        "summary",
        _("Collection: order %(number)s, %(customer)s")
        % {
            "number": order.number,
            "customer": order.customer if with_names else initials(str(order.customer)),
        },
    )
    return event


def initials(name: str) -> str:
    """The first letter of each word of a name.

    >>> initials("Marisa de Orlo & Sons")
    'M. d. O. S.'
    """
    words = re.findall(r"\w+", name)
    return " ".join(f"{word[0]}." for word in words)
