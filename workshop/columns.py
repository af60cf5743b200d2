"""Columns of every table: moments by the workshop's clock, yes and no in words."""

from datetime import date, datetime
from typing import Any

import django_tables2 as tables
from django.utils.timezone import is_aware, localtime
from django.utils.translation import gettext_lazy as _
from django_tables2.columns import library

from workshop.days import soonest
from workshop.formats import date_short


@library.register  # before moments, which are days too as far as the library knows
class DayColumn(tables.DateColumn):
    """A day as it is said across a counter; given out as machines read it."""

    def render(self, value: Any, **kwargs: Any) -> str:
        return date_short(value)

    def value(self, value: Any, **kwargs: Any) -> Any:
        return f"{value:%Y-%m-%d}" if isinstance(value, date) else value


@library.register
class MomentColumn(tables.DateTimeColumn):
    """Given out as the page tells it: in the hours of the place where the workshop stands."""

    def value(self, value: Any, **kwargs: Any) -> Any:
        if not isinstance(value, datetime):
            return super().value(value=value, **kwargs)
        return f"{localtime(value) if is_aware(value) else value:%Y-%m-%d %H:%M}"


@library.register
class YesNoColumn(tables.BooleanColumn):
    """A word where the library has a tick or a cross."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"yesno": (_("yes"), _("no")), **kwargs})

    def value(self, record: Any, value: Any, bound_column: Any) -> str:
        return str(self.yesno[int(not self._get_bool_value(record, value, bound_column))])


class DueColumn(DayColumn):
    """A day that a row may be without: sorted up or down, rows without it come last."""

    def order(self, queryset: Any, is_descending: bool) -> tuple[Any, bool]:
        return queryset.order_by(soonest(str(self.accessor), last_first=is_descending)), True
