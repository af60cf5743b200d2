"""A clock that stands where the demo's story stands."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.utils import timezone


@contextmanager
def clock_at(moment: datetime) -> Iterator[None]:
    """Everything that asks Django for the time is told `moment`.

    For the demo's half year only, so that its days are written by the same services that
    write real ones. Not for a process that serves people at the same time.
    """
    real = timezone.now
    timezone.now = lambda: moment
    try:
        yield
    finally:
        timezone.now = real
