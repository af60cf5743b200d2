"""Wrong passwords: who waits, and who need not.

Counted by name and by address, in the database, so that every worker knows. A browser in which
somebody has signed in before carries a signed mark of its own and is counted by that: strangers who
try an owner's name all day long do not keep the owner out (OWASP's device cookies). Nothing that a
visitor may choose, such as what a browser calls itself, has a part in it.
"""

import ipaddress
import secrets
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


def remember_browser(request: Any, response: HttpResponse, username: str) -> None:
    """Mark the browser of somebody who has just signed in; a mark of theirs stays the same."""
    mark = browser_mark(request, username) or secrets.token_urlsafe(12)
    response.set_cookie(
        known_browser_name(),
        signing.dumps([username.casefold(), mark], salt=SALT),
        max_age=KNOWN_DAYS * 24 * 60 * 60,
        secure=not settings.DESK,
        httponly=True,
        samesite="Lax",
    )


def browser_mark(request: Any, username: str | None) -> str:
    """The mark of a browser that the person of this name has used; "" for any other."""
    cookie = getattr(request, "COOKIES", {}).get(known_browser_name(), "")
    if not cookie or not username:
        return ""
    try:
        said = signing.loads(cookie, salt=SALT, max_age=KNOWN_DAYS * 24 * 60 * 60)
    except signing.BadSignature:
        return ""
    name, mark = said if isinstance(said, list) and len(said) == 2 else ("", "")
    return mark if name == username.casefold() else ""


def count_by(request: Any, credentials: dict | None = None) -> list:
    """What wrong passwords are counted by, for this request."""
    if browser_mark(request, get_client_username(request, credentials)):
        return [["username", "user_agent"]]
    return ["username", "ip_address"]


class SignInLimits(AxesDatabaseHandler):
    """Counts kept in the database, an address being allowed more of them than a name.

    The column for what a browser calls itself keeps its mark instead, so a stranger who changes
    that name with every try fills one row and not a thousand.
    """

    def get_user_attempts(self, request: Any, credentials: dict | None = None) -> list:
        self._know(request, credentials)
        return super().get_user_attempts(request, credentials)

    def user_login_failed(
        self, sender: Any, credentials: dict, request: Any = None, **kwargs: Any
    ) -> None:
        self._know(request, credentials)
        super().user_login_failed(sender, credentials, request, **kwargs)

    @staticmethod
    def _know(request: Any, credentials: dict | None) -> None:
        if request is not None:
            mark = browser_mark(request, get_client_username(request, credentials))
            request.axes_user_agent = f"browser {mark}" if mark else "any browser"

    def get_failures(self, request: Any, credentials: dict | None = None) -> int:
        self._know(request, credentials)
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
