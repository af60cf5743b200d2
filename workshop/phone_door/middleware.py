"""Who comes in through the phones' door: paired phones, and one page for all others."""

from functools import wraps

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from workshop.phone_door import BY_PHONE
from workshop.services.phones import note_phone_seen, phone_of

# Bound to this very host, sent over TLS alone, read by no script.
PHONE_COOKIE = "__Host-phone"
PHONE_DAYS = 400


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
        response = self.get_response(request)
        for cookie in response.cookies.values():
            cookie["secure"] = True
        return response


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
