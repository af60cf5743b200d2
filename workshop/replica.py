"""Pages that only look may read a copy of the book that follows it (`DATABASE_URL_READ`).

Such a copy is a little behind. So whoever has just written reads the book itself for a while, and
everything that decides who may do what is read there always: only what a page's own view asks goes
to the copy, and only of the pages named here, which look back and write nothing.
"""

from collections.abc import Callable
from contextvars import ContextVar
from typing import Any

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.db import DEFAULT_DB_ALIAS, connections
from django.http import HttpRequest, HttpResponse

READ = "read"
LOOK_BACK = frozenset(
    {
        "orders:dates_kept",
        "orders:firing_rejects",
        "orders:money",
        "orders:month_account",
        "orders:month_loads",
        "orders:month_tickets",
        "orders:what_pays",
        "stock:flow",
    }
)
# Within so many seconds after whatever was written, a browser is answered from the book itself.
WRITTEN = "written" if settings.DESK else "__Host-written"
BEHIND_S = 60

_looks_back: ContextVar[bool] = ContextVar("looks back", default=False)


def read_from() -> str:
    """The database that is read here and now; within a transaction always the book itself."""
    if _looks_back.get() and not connections[DEFAULT_DB_ALIAS].in_atomic_block:
        return READ
    return DEFAULT_DB_ALIAS


class ReplicaRouter:
    """Everything is written in the book itself, and only there migrated."""

    def db_for_read(self, model: Any, **hints: Any) -> str:
        return read_from()

    def db_for_write(self, model: Any, **hints: Any) -> str:
        return DEFAULT_DB_ALIAS

    def allow_relation(self, one: Any, other: Any, **hints: Any) -> bool:
        return True

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool:
        return db == DEFAULT_DB_ALIAS


class ReplicaMiddleware:
    """The innermost of all: who asks, and whether they may, was read from the book itself."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        if READ not in settings.DATABASES:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _looks_back.set(False)
        try:
            response = self.get_response(request)
        finally:
            _looks_back.reset(token)
        if request.method not in {"GET", "HEAD"}:
            response.set_cookie(
                WRITTEN, "yes", max_age=BEHIND_S, httponly=True, samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )  # fmt: skip
        return response

    def process_view(self, request: HttpRequest, *_view: Any) -> None:
        page = request.resolver_match.view_name if request.resolver_match else ""
        looks = request.method in {"GET", "HEAD"} and page in LOOK_BACK
        _looks_back.set(looks and WRITTEN not in request.COOKIES)
