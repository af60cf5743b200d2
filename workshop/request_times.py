"""How long answers take, by the name of the address, the method and the status; nobody's name.

Counted by prometheus_client, in the folder that the workers share where there are several.
"""

import contextlib
import os
import time
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from prometheus_client import CollectorRegistry, Histogram
from prometheus_client.multiprocess import MultiProcessCollector

from workshop.metrics_folder import NAME

METHODS = {"GET", "HEAD", "POST"}
# A page should be there within a quarter of a second; beyond ten, nobody waits.
BUCKETS_S = (0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
own = CollectorRegistry()
TIMES = Histogram(
    "strandwork_request_seconds",
    "Time from a request to its answer, by address name, method and status.",
    ["address", "method", "status"],
    buckets=BUCKETS_S,
    registry=own,
)


class RequestTimesMiddleware:
    """Outermost of all, so that nothing that takes time is left out."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self.get_response(request)
        method = request.method if request.method in METHODS else "other"
        # Counts whose folder is full, or was swept away, keep nobody from an answer.
        with contextlib.suppress(OSError):
            TIMES.labels(address_name(request), method, str(response.status_code)).observe(
                time.perf_counter() - began
            )
        return response


def address_name(request: HttpRequest) -> str:
    """The name that an address has in the code: no number, word or secret of a path."""
    if request.resolver_match is not None:
        return request.resolver_match.view_name
    return "static" if request.path.startswith(settings.STATIC_URL) else "none"


def counted() -> CollectorRegistry:
    """What all workers have counted so far."""
    if not os.environ.get(NAME):
        return own
    registry = CollectorRegistry()
    MultiProcessCollector(registry)
    return registry
