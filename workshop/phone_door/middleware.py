"""Who comes in through the phones' door: paired phones, and one page for all others."""

from datetime import datetime, timedelta
from functools import wraps

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from workshop.phone_door import BY_PHONE
from workshop.phone_door.offline import HAPPENED, KEEP, KEPT, LATEST_DAYS, ONLY_KEPT, UNKNOWN
from workshop.services.acts import happened_at
from workshop.services.phones import note_phone_seen, phone_of

# Bound to this very host, sent over TLS alone, read by no script.
PHONE_COOKIE = "__Host-phone"
PHONE_DAYS = 400
# A phone knows the desk's clock but for what its question took on the way.
NEARLY_NOW = timedelta(minutes=2)


class PhoneDoorMiddleware:
    """`request.phone` is the paired phone, and `request.by_phone` says which door it was."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request) -> HttpResponse:
        request.by_phone, request.phone = bool(request.environ.get(BY_PHONE)), None
        if not request.by_phone:
            return self.get_response(request)
        request.phone = phone_of(request.COOKIES.get(PHONE_COOKIE, ""))
        if request.phone is None and request.path != reverse("workshop:phone_pair"):
            return redirect("workshop:phone_pair")
        if request.phone is not None:
            note_phone_seen(request.phone)
        request.is_late = HAPPENED in request.headers
        request.only_kept = ONLY_KEPT in request.headers
        request.happened = late_hour(request)
        with happened_at(request.happened):
            response = self.get_response(request)
        if request.phone is None:
            response.headers[UNKNOWN] = "unknown"
        elif may_be_kept(request, response):
            response.headers[KEEP] = str(request.user.pk)
        for cookie in response.cookies.values():
            cookie["secure"] = True
        return response


def may_be_kept(request, response: HttpResponse) -> bool:
    """Whether a phone may keep a page as it was last seen, for the person it was made for."""
    match, user = getattr(request, "resolver_match", None), getattr(request, "user", None)
    return bool(
        request.method == "GET"
        and response.status_code == 200
        and match is not None
        and match.view_name in KEPT
        and user is not None
        and user.is_authenticated
    )


def late_hour(request) -> datetime | None:
    """When an act happened that a phone sends late, by the phone; none if that cannot be."""
    try:
        hour = datetime.fromisoformat(request.headers.get(HAPPENED, ""))
    except ValueError:
        return None
    now = timezone.now()
    if hour.tzinfo is None or not now - timedelta(days=LATEST_DAYS) < hour < now + NEARLY_NOW:
        return None
    return min(hour, now)


def remember_phone(response: HttpResponse, secret: str) -> None:
    """Give a phone that was just paired its secret."""
    response.set_cookie(
        PHONE_COOKIE,
        secret,
        max_age=PHONE_DAYS * 24 * 60 * 60,
        secure=True,
        httponly=True,
        samesite="Lax",
    )


def only_by_phone(view):
    """A page for phones at their own door; who opens it elsewhere is led to where it is told."""

    @wraps(view)
    def wrapped(request, *args, **kwargs):
        if not request.by_phone:
            return redirect("workshop:phones")
        return view(request, *args, **kwargs)

    return wrapped
