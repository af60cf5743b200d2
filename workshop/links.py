"""Links in tables that lead only where the reader may go."""

from collections.abc import Callable
from typing import Any

from django.urls import reverse

from workshop.access import may_open


def if_open(name: str) -> Callable[..., str | None]:
    """For a column's `linkify`: the address of the row's own page, or none if it is closed."""

    def address(record: Any, table: Any) -> str | None:
        request = getattr(table, "request", None)
        if request is not None and may_open(name, "GET", request.user) != "yes":
            return None
        return reverse(name, kwargs={"pk": record.pk})

    return address
