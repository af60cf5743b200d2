"""The workshop's days as moments, so that an index on moments can be asked for a day."""

from datetime import date, datetime, time

from django.db.models import F
from django.db.models.expressions import OrderBy
from django.utils import timezone


def day_begins(day: date) -> datetime:
    """The first moment of a day where the workshop stands.

    A question about `moment >= day_begins(day)` goes by the index; one that asks each row for the
    day of its moment reads them all.
    """
    return timezone.make_aware(datetime.combine(day, time(0)))


def soonest(day: str = "due_on", *, last_first: bool = False) -> OrderBy:
    """Rows by a day, those without one last: left to themselves, SQLite puts them first and
    PostgreSQL last."""
    field = F(day)
    return field.desc(nulls_last=True) if last_first else field.asc(nulls_last=True)
