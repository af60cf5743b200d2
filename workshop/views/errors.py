"""The pages for what went wrong: a whole sentence, and nothing about the inside."""

import logging
import sys

from django.conf import settings
from django.core.exceptions import (
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.db import InterfaceError, OperationalError, connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import loader
from django.views.defaults import page_not_found

from workshop.logging import one_line
from workshop.probes import PROBES

log = logging.getLogger("workshop.errors")
RETRY_AFTER_S = "30"
READ_ONLY = "25006"  # PostgreSQL documentation, appendix A: read_only_sql_transaction
TOO_LARGE = (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: what the visitor can mend is told to the visitor, what the operator can to the log."""
    kind = "unreadable"
    if isinstance(exception, DisallowedHost):
        kind = "other name"
        log.error(
            "asked for as %s, and ALLOWED_HOSTS names only %s. If that is not what visitors type, "
            "the web server before this one must pass their Host header on (workshop/deploy.md); "
            "if it is, add it to ALLOWED_HOSTS",
            one_line(request.META.get("HTTP_HOST", "nothing"))[:100],
            ", ".join(settings.ALLOWED_HOSTS) or "nothing",
        )
    elif isinstance(exception, TOO_LARGE):
        kind = "too large"
    response = HttpResponse(loader.render_to_string("400.html", {"kind": kind}), status=400)
    response.headers["Cache-Control"] = "no-store"
    return response


def nothing_here(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404: what no address has and what is closed to somebody read alike, to the letter."""
    request.nothing_here = True  # type: ignore[attr-defined]
    return page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    """500, or 503 when the book itself cannot be reached or written; asks the database nothing."""
    error = sys.exc_info()[1]
    unreachable = isinstance(error, (OperationalError, InterfaceError, OSError)) or (
        getattr(getattr(error, "__cause__", None), "sqlstate", None) == READ_ONLY
    )
    if unreachable:
        log.error("the book cannot be used: %s: %s", type(error).__name__, error)
        forget_connection()
    status = 503 if unreachable else 500
    if request.path in PROBES:
        response = HttpResponse("not ready\n", content_type="text/plain; charset=utf-8")
    else:
        template = "503.html" if unreachable else "500.html"
        response = HttpResponse(loader.render_to_string(template))
    response.status_code = status
    if unreachable:
        response.headers["Retry-After"] = RETRY_AFTER_S
    response.headers["Cache-Control"] = "no-store"
    return response


def forget_connection() -> None:
    """The next request opens the book anew: one opened while it was read-only would stay so."""
    if not connection.in_atomic_block:
        connection.close()


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form from an old page, or from elsewhere; the reason goes to the log, not to the page."""
    log.warning("form refused at %s: %s", request.path, reason)
    return render(request, "403_form.html", status=403)
