"""Wrong passwords: who waits, and who need not.

Counted by name and by address, in the database, so that every worker knows. A browser in which
somebody has signed in before carries a signed mark of it and is counted by itself: strangers who
try an owner's name all day long do not keep the owner out (OWASP's device cookies).
"""

import ipaddress
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_parameters, get_client_username
from django.conf import settings
from django.core import signing
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse

# Several people sign in from one address, so it may err more often than one name.
TRIES_PER_ADDRESS = 4
KNOWN_DAYS = 180
SALT = "workshop.known-browser"


def client_address(request: HttpRequest) -> str:
    """Where a request came from: the network's word, or that of our own proxies.

    X-Forwarded-For is read only when PROXY_COUNT says that proxies of ours write it, and only
    the entries they added themselves, counted from the right; a visitor can write the rest.
    """
    from_network = request.META.get("REMOTE_ADDR", "")
    if not settings.PROXY_COUNT:
        return from_network
    hops = [hop.strip() for hop in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
    if len(hops) < settings.PROXY_COUNT:
        return from_network
    try:
        return str(ipaddress.ip_address(hops[-settings.PROXY_COUNT]))
    except ValueError:
        return from_network


def known_browser_name() -> str:
    """The name of the cookie; over TLS with the prefix that ties it to this very host."""
    return "known" if settings.DESK else "__Host-known"


def remember_browser(response: HttpResponse, username: str) -> None:
    """Mark the browser of somebody who has just signed in."""
    response.set_cookie(
        known_browser_name(),
        signing.dumps(username.casefold(), salt=SALT),
        max_age=KNOWN_DAYS * 24 * 60 * 60,
        secure=not settings.DESK,
        httponly=True,
        samesite="Lax",
    )


def is_known_browser(request: Any, username: str | None) -> bool:
    """Whether this browser has been used by the person of this name."""
    mark = getattr(request, "COOKIES", {}).get(known_browser_name(), "")
    if not mark or not username:
        return False
    try:
        name = signing.loads(mark, salt=SALT, max_age=KNOWN_DAYS * 24 * 60 * 60)
    except signing.BadSignature:
        return False
    return name == username.casefold()


def count_by(request: Any, credentials: dict | None = None) -> list:
    """What wrong passwords are counted by, for this request."""
    if is_known_browser(request, get_client_username(request, credentials)):
        return [["username", "ip_address", "user_agent"]]
    return ["username", "ip_address"]


class SignInLimits(AxesDatabaseHandler):
    """Counts kept in the database, an address being allowed more of them than a name."""

    def get_failures(self, request: Any, credentials: dict | None = None) -> int:
        counted = []
        kinds = get_client_parameters(
            get_client_username(request, credentials) or "",
            request.axes_ip_address,
            request.axes_user_agent,
            request,
            credentials,
        )
        for kind, attempts in zip(kinds, self.get_user_attempts(request, credentials), strict=True):
            total = attempts.aggregate(n=Sum("failures_since_start"))["n"] or 0
            counted.append(total // TRIES_PER_ADDRESS if set(kind) == {"ip_address"} else total)
        return max(counted, default=0)
