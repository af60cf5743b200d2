"""What the person at this screen may do from here, by the access table."""

from collections.abc import Iterable
from typing import Any

from django.urls import NoReverseMatch, reverse

from workshop.access import OWNER, YARD, may_open


def may(request, name: str, method: str = "GET") -> bool:
    return may_open(name, method, request.user) == "yes"


def doors(request, pages: Iterable[tuple[Any, str]]) -> list[tuple[Any, str]]:
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


def sees_prices(request) -> bool:
    """What collectors are paid, and so what stock is worth, is for the yard and the owner."""
    return request.user.role in {OWNER, YARD}
