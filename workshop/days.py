"""The workshop's days as moments, so that an index on moments can be asked for a day."""

from datetime import date, datetime, time

from django.utils import timezone


def day_begins(day: date) -> datetime:
    """The first moment of a day where the workshop stands.

    A question about `moment >= day_begins(day)` goes by the index; one that asks each row for the
    day of its moment reads them all.
    """
    return timezone.make_aware(datetime.combine(day, time(0)))
