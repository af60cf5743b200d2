"""The demo: lived through from the first day, or taken ready-made and lived through from there.

What is ready-made ends on one day and is moved by whole weeks, so that it lies before today. The
days since, a week at most, and all that looks at the present are lived at the desk by the same
services, so that no load lies behind the person who looks at it.
"""

from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from orders.demo.clock import clock_at
from orders.demo.curves import write_curves
from orders.demo.facts import (
    close_days,
    half_a_year_ago,
    load_stock,
    load_wants,
    load_workshop,
    new_passwords,
)
from orders.demo.firing import Waiting
from orders.demo.fuel import weigh_fuel
from orders.demo.history import Tell, finish, lay_in_stock, live_days
from orders.demo.money import pay_the_hands
from orders.demo.story import Story
from orders.demo.tickets import write_tickets
from stock.models import BeadBatch
from workshop.models import Person
from workshop.query_plans import look_at_tables
from workshop.ready_made import (
    fingerprints,
    is_empty_here,
    moved,
    other_tables,
    own_tables,
    packed,
    put_rows,
    ready_made,
    renumbered,
    take_schema,
    take_tables,
)
from workshop.search import find_all_anew

A_DAY = timedelta(days=1)
# The story in the file looks at a day in the middle of the week that may follow its last.
AHEAD = timedelta(days=4)
# Feasts are what they are in every year; what things are found by is written once they lie there.
NOT_MOVED = {"workshop_closedday", "workshop_searchpart"}
# Papers whose numbers begin anew each year: the column of their day, and of their kind.
PAPERS = {"orders_paper": ("issued_on", "kind"), "stock_payout": ("issued_on", "(payout)")}


@transaction.atomic
def load_demo(today: date, *, lived: bool = False, tell: Tell | None = None) -> dict[str, str]:
    """Write the demo into an empty, migrated book; returns a new password for each person.

    `lived` lives all of it through, whatever is ready-made; `tell` hears how many days are done.
    """
    told = None if lived else ready_made()
    if told is not None and is_empty_here():
        story = _go_on(told, today, tell)
    else:
        since = half_a_year_ago(today)
        story = begin(since, today)
        live_days(story, since, today, tell=tell)
    finish(story)
    write_tickets(today)
    weigh_fuel()
    write_curves()
    pay_the_hands(today, owner=Person.objects.filter(role="owner").earliest("pk"))
    look_at_tables()
    return new_passwords()


def make(day: date) -> bytes:
    """The file for a story up to and with a day, on an empty, migrated SQLite book."""
    first = half_a_year_ago(day + AHEAD)
    told: dict[str, Any] = {
        "day": day.isoformat(),
        "first": first.isoformat(),
        "changes": fingerprints(),
        "schema": take_schema(),
        "others": _undated(take_tables(other_tables())),
    }
    with transaction.atomic():
        story = begin(first, day + AHEAD)
        live_days(story, first, day)
    told["zone"] = str(story.zone)
    told["drying"] = [
        [each.batch.pk, each.firing, each.left, each.since.isoformat()] for each in story.drying
    ]
    told["tables"] = take_tables(set(own_tables()) - NOT_MOVED)
    return packed(told)


def begin(first: date, today: date) -> Story:
    """The standing facts of a workshop that was there before its book, on the book's first day."""
    with clock_at(datetime.combine(first, time(7), timezone.get_default_timezone())):
        load_workshop(first)
        load_stock(first)
        load_wants(first)
    story = Story(today)
    lay_in_stock(story, first)
    return story


def _go_on(told: dict[str, Any], today: date, tell: Tell | None) -> Story:
    """Lay out what is ready-made, moved to end before today, and live on up to today."""
    last, first = date.fromisoformat(told["day"]), date.fromisoformat(told["first"])
    by = timedelta(weeks=(today - A_DAY - last).days // 7)
    put_rows(renumbered(moved(told["tables"], by.days, ZoneInfo(told["zone"])), PAPERS))
    look_at_tables()  # what is lived from here on asks tables that were empty a moment ago
    find_all_anew()
    close_days((first + by).year)
    story = Story(today, dice=Random(today.toordinal()))
    batches = BeadBatch.objects.select_related("bead__mould", "bead__programme").in_bulk()
    story.drying = [
        Waiting(batches[key], firing, left, datetime.fromisoformat(since) + by)
        for key, firing, left, since in told["drying"]
    ]
    live_days(story, last + by + A_DAY, today, tell=tell)
    return story


def _undated(others: dict[str, Any]) -> dict[str, Any]:
    """Without the moments at which the changes were made here; they are written when laid out."""
    applied = others["django_migrations"]
    at = applied["columns"].index("applied")
    for row in applied["rows"]:
        row[at] = ""
    return others
