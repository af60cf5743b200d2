"""What probes ask, on the machine itself and through the web server before it."""

from django.core import signing
from django.http import HttpRequest

# A probe wants a number, not a page.
PROBES = ("/workshop/health/", "/workshop/metrics/")
LOOPBACK = {"127.0.0.1", "::1"}
SIGNED_QUESTION, QUESTION_LASTS_S = "seen", 60
SALT = "workshop.health"


def asked_from_here(request: HttpRequest) -> bool:
    """Whether a request comes from this machine itself and not through a proxy."""
    here = request.META.get("REMOTE_ADDR") in LOOPBACK
    return here and "X-Forwarded-For" not in request.headers


def sign_question() -> str:
    """What makes the probe tell `manage.py doctor` how the asker looks from inside."""
    return signing.dumps("seen", salt=SALT)


def is_signed(word: str) -> bool:
    """Whether the question is the doctor's own, of this minute."""
    try:
        return bool(word) and bool(signing.loads(word, salt=SALT, max_age=QUESTION_LASTS_S))
    except signing.BadSignature:
        return False
