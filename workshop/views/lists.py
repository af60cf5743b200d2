"""The page that every plain list is: a filter row, a table, a pager and a CSV download."""

from dataclasses import dataclass
from itertools import islice
from typing import Any
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.forms import NullBooleanField
from django.http import HttpResponse
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _
from django_filters.views import FilterView
from django_tables2 import SingleTableMixin

from workshop.csv_export import csv_response
from workshop.doors import doors, may
from workshop.paging import MOST_COUNTED, ShortCount, beyond
from workshop.typed import whole_number

PRINTING = "orders:long_paper_ask"
GIVEN_OUT_TOGETHER = 1000  # rows of a download


@dataclass(frozen=True)
class Chip:
    """One choice above a list, and how many rows it would show."""

    label: Any
    url: str
    count: int
    current: bool


class ListPage(SingleTableMixin, FilterView):
    """Give it `queryset`, `table_class`, `filterset_class`, `heading`; to add, `add_url_name`.

    `empty` says what to do first when there is nothing to list. `?as=csv` downloads every row
    that the filters leave, not only the page shown.
    """

    template_name = "pages/list.html"
    paginate_by = 50
    paginator_class = ShortCount
    strict = False
    filterset_fields: Any = []
    heading: Any = ""
    lead: Any = ""
    room = ""
    add_url_name = ""
    add_label: Any = _("Add")
    empty: Any = _("Nothing here yet.")
    links: tuple[tuple[Any, str], ...] = ()
    # Rows may be ticked and printed together: which long paper that is, and what its button says.
    prints, print_label = "", _("Print the ticked ones")
    # The sheet from which its rows may be brought in.
    sheet = ""
    # A box of the filter that is chosen above the list, and what it is at first.
    chosen_by = ""
    chosen_first = ""

    def get(self, request, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if request.GET.get("as") == "csv":
            return csv_response(self.csv_rows(), slugify(str(self.heading)) or "list")
        return response

    def paginate_queryset(self, queryset, page_size):
        """The table turns the pages; counted here, every row would be counted twice."""
        return None, None, queryset, False

    def get_table_data(self):
        """The rows, from behind the one where an earlier thousand ended."""
        rows = super().get_table_data()
        after = whole_number(self.request.GET.get("after", ""))
        if after is None or self.request.GET.get("as") == "csv":
            return rows
        return beyond(rows, after)

    def get_table(self, **kwargs: Any):
        """On its last page the table says where it goes on, as the list sorts itself."""
        table = super().get_table(**kwargs)
        table.ticked_for = self.prints if may(self.request, PRINTING, "POST") else ""
        page = getattr(table, "page", None)
        sorted_anew = bool(self.request.GET.get("sort"))
        table.goes_on_after = None
        if page is not None and page.paginator.goes_on and not page.has_next() and not sorted_anew:
            table.goes_on_after = list(table.paginated_rows)[-1].record.pk
        return table

    def get_filterset_kwargs(self, filterset_class):
        """With nothing asked for, a list with chips opens on its first choice."""
        kwargs = super().get_filterset_kwargs(filterset_class)
        asked = self.request.GET.keys() & filterset_class.base_filters.keys()
        if self.chosen_by and not asked:
            kwargs["data"] = {self.chosen_by: self.chosen_first}
        return kwargs

    def get_filterset(self, filterset_class):
        """Its choices in words that are said in a workshop."""
        filterset = super().get_filterset(filterset_class)
        for field in filterset.form.fields.values():
            if isinstance(field, NullBooleanField) and hasattr(field.widget, "choices"):
                field.widget.choices = [("", _("any")), ("true", _("yes")), ("false", _("no"))]
        return filterset

    def chips(self, filterset) -> list["Chip"]:
        """What the box may be, with how many rows there are of each (a query for each)."""
        if not self.chosen_by:
            return []
        field = filterset.filters[self.chosen_by]
        now = (filterset.data or {}).get(self.chosen_by, "")
        rows = self.get_queryset().order_by()
        found = []
        for value, label in [*field.extra["choices"], ("", _("all"))]:
            of_it = rows.filter(**{field.field_name: value}) if value else rows
            count = of_it[: MOST_COUNTED + 1].count()
            found.append(Chip(label, f"?{urlencode({self.chosen_by: value})}", count, value == now))
        return [chip for chip in found if chip.count or chip.current]

    def get_filterset_class(self):
        if self.filterset_class is None:
            self.model = self.get_queryset().model
        return super().get_filterset_class()

    def csv_rows(self):
        """Header and rows of the filtered, sorted table, so many at a time: what is worked out for
        rows together is asked again for each thousand, and no more of them are held in memory."""
        kind = self.get_table_class()
        table = kind(self.object_list, request=self.request)
        if order := self.request.GET.get("sort"):
            table.order_by = order
        yield next(table.as_values())
        rows = table.data.data
        if isinstance(rows, QuerySet):
            rows = rows.iterator(chunk_size=GIVEN_OUT_TOGETHER)
        rows = iter(rows)
        while some := list(islice(rows, GIVEN_OUT_TOGETHER)):
            yield from islice(kind(some, request=self.request).as_values(), 1, None)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        filterset = context.get("filter")
        asked = getattr(filterset, "data", None) or {}
        chips = self.chips(filterset)
        there_are_some = not chips or any(chip.count for chip in chips)
        context.update(
            any_rows=context["table"].paginator.count > 0,
            chips=chips if there_are_some else [],
            most_counted=MOST_COUNTED,
            csv_url=f"?{urlencode(dict(asked) | {'as': 'csv'}, doseq=True)}",
            heading=self.heading,
            lead=self.lead,
            room=self.room,
            add_url=reverse(self.add_url_name) if self.add_url_name and self.may_add() else "",
            add_label=self.add_label,
            print_label=self.print_label,
            empty=self.empty,
            links=[*doors(self.request, self.links), *sheet_link(self.request, self.sheet)],
            filtered=there_are_some
            and any(asked.get(name) for name in getattr(filterset, "filters", {})),
        )
        return context

    def may_add(self) -> bool:
        return may(self.request, self.add_url_name, "POST")


def sheet_link(request: Any, sheet: str) -> list[tuple[Any, str]]:
    """The way to bring rows in from a sheet, for whoever may."""
    if not sheet or not may(request, "orders:moving_in", "POST"):
        return []
    return [(_("Bring in from a sheet"), f"{reverse('orders:moving_in')}?kind={sheet}#{sheet}")]
