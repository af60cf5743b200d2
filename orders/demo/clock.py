"""A clock that stands where the demo's story stands."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.utils import timezone


@contextmanager
def clock_at(moment: datetime) -> Iterator[None]:
    """Everything that asks Django for the time is told `moment`, or now if that is still ahead.

    For the demo's half year only, so that its days are written by the same services that
    write real ones. Not for a process that serves people at the same time.
    """
    real = timezone.now
    # A book written in the future would look as if the computer's clock had been set back.
    timezone.now = lambda: min(moment, real())
    try:
        yield
    finally:
        timezone.now = real
