"""Pages of a list that cost the same however long it is: counts end at a thousand, and what lies
behind that is reached from the last row shown, by its key."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import F, OrderBy, Q, QuerySet
from django.http import HttpRequest
from django.utils.functional import cached_property

MOST_COUNTED = 1000
MOST_CARDS = 48


class ShortCount(Paginator):
    """Counts no further than a thousand rows; `goes_on` says that there are more."""

    @cached_property
    def _counted(self) -> int:
        rows = self.object_list
        rows = getattr(getattr(rows, "data", None), "data", rows)  # of a table, what it was made of
        if not isinstance(rows, QuerySet):
            return len(rows)
        return rows.order_by().values("pk")[: MOST_COUNTED + 1].count()

    @cached_property
    def count(self) -> int:
        return min(self._counted, MOST_COUNTED)

    @property
    def goes_on(self) -> bool:
        return self._counted > MOST_COUNTED


def cards_of(request: HttpRequest, rows: QuerySet) -> Page:
    """The page of a wall of drawn cards that is asked for: no more are drawn than fill some screens
    of a telephone (2 queries)."""
    return ShortCount(rows, MOST_CARDS).get_page(request.GET.get("page"))


def beyond(rows: QuerySet, key: int) -> QuerySet:
    """The rows that come after one of them, as they are sorted (1 query).

    Sorted by several columns, what comes after has more in the first, or as much and more in the
    second, and so on. A row that is not there, or has nothing in a column, leaves the list whole.
    """
    columns = [_column(each) for each in sorted_by(rows)]
    found = rows.filter(pk=key).values_list(*(name for name, _down in columns)).first()
    if found is None or None in found:
        return rows
    after, so_far = Q(), Q()
    for (name, down), value in zip(columns, found, strict=True):
        after |= so_far & Q(**{f"{name}__{'lt' if down else 'gt'}": value})
        so_far &= Q(**{name: value})
    return rows.filter(after).order_by(*sorted_by(rows))


def sorted_by(rows: QuerySet) -> list[Any]:
    """What the rows are sorted by, their key last, so that no two of them tie."""
    order = list(rows.query.order_by or rows.model._meta.ordering)
    names = {_column(each)[0] for each in order}
    return order if names & {"pk", "id"} else [*order, "-pk"]


def _column(each: Any) -> tuple[str, bool]:
    """The name of a column and whether the largest comes first."""
    if isinstance(each, OrderBy):
        expression = each.expression
        return (expression.name if isinstance(expression, F) else str(expression)), each.descending
    return each.lstrip("-"), each.startswith("-")
