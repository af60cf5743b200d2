"""What nobody needs any more is let go at night, so that it does not grow with the years."""

from datetime import timedelta

from django.contrib.sessions.models import Session
from django.utils import timezone

from workshop.models import IdempotencyKey, PairingWord

# A phone sends what it wrote down within 30 days; three times that is out of reach.
KEYS_KEPT = timedelta(days=90)


def let_go() -> int:
    """Keys of forms that nobody can send again, sessions and words that are over; how many rows.

    3 statements. Rows of the book itself are never among them.
    """
    now = timezone.now()
    over = (
        IdempotencyKey.objects.filter(sent_at__lt=now - KEYS_KEPT),
        Session.objects.filter(expire_date__lt=now),
        PairingWord.objects.filter(good_until__lt=now),
    )
    return sum(rows.delete()[0] for rows in over)
