"""The page that every plain list is: a filter row, a table, a pager and a CSV download."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _
from django_filters.views import FilterView
from django_tables2 import SingleTableMixin

from workshop.csv_export import csv_response
from workshop.doors import doors, may


class ListPage(SingleTableMixin, FilterView):
    """Give it `queryset`, `table_class`, `filterset_class`, `heading`; to add, `add_url_name`.

    `empty` says what to do first when there is nothing to list. `?as=csv` downloads every row
    that the filters leave, not only the page shown.
    """

    template_name = "pages/list.html"
    paginate_by = 50
    strict = False
    filterset_fields: Any = []
    heading: Any = ""
    lead: Any = ""
    room = ""
    add_url_name = ""
    add_label: Any = _("Add")
    empty: Any = _("Nothing here yet.")
    links: tuple[tuple[Any, str], ...] = ()
    # The sheet from which its rows may be brought in.
    sheet = ""

    def get(self, request, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if request.GET.get("as") == "csv":
            return csv_response(self.csv_rows(), slugify(str(self.heading)) or "list")
        return response

    def get_filterset_class(self):
        if self.filterset_class is None:
            self.model = self.get_queryset().model
        return super().get_filterset_class()

    def csv_rows(self):
        """Header and rows of the filtered, sorted table."""
        table = self.get_table_class()(self.object_list, request=self.request)
        if order := self.request.GET.get("sort"):
            table.order_by = order
        return table.as_values()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        context.update(
            heading=self.heading,
            lead=self.lead,
            room=self.room,
            add_url=reverse(self.add_url_name) if self.add_url_name and self.may_add() else "",
            add_label=self.add_label,
            empty=self.empty,
            links=[*doors(self.request, self.links), *sheet_link(self.request, self.sheet)],
            filtered=any(
                self.request.GET.get(name) for name in getattr(context.get("filter"), "filters", {})
            ),
        )
        return context

    def may_add(self) -> bool:
        return may(self.request, self.add_url_name, "POST")


def sheet_link(request: Any, sheet: str) -> list[tuple[Any, str]]:
    """The way to bring rows in from a sheet, for whoever may."""
    if not sheet or not may(request, "orders:moving_in", "POST"):
        return []
    return [(_("Bring in from a sheet"), f"{reverse('orders:moving_in')}?kind={sheet}#{sheet}")]
