"""Which pages are open to the person at this screen, by the access table.

Every view, table and menu that offers a way on asks here, so that no link leads to a closed door.
"""

from collections.abc import Callable, Iterable
from typing import Any

from django.urls import NoReverseMatch, reverse

from workshop.access import may_open


def open_to(user: Any, name: str, method: str = "GET") -> bool:
    """Whether a person may look at a page, or with `method="POST"` act there."""
    return may_open(name, method, user) == "yes"


def may(request: Any, name: str, method: str = "GET") -> bool:
    """The same for the person who asked for the page being made."""
    return open_to(request.user, name, method)


def doors(request: Any, pages: Iterable[tuple[Any, str]]) -> list[tuple[Any, str]]:
    """(words, address) of those pages that exist and are open to this person."""
    found = []
    for label, name in pages:
        try:
            url = reverse(name)
        except NoReverseMatch:
            continue
        if may(request, name):
            found.append((label, url))
    return found


def if_open(name: str) -> Callable[..., str | None]:
    """For a column's `linkify`: the address of the row's own page, or none if it is closed."""

    def address(record: Any, table: Any) -> str | None:
        request = getattr(table, "request", None)
        if request is not None and not may(request, name):
            return None
        return reverse(name, kwargs={"pk": record.pk})

    return address
