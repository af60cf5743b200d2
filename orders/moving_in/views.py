"""Moving in: the sheets to fill in, a look at every row, and bringing them in, all or nothing."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from orders.moving_in.cells import read_file
from orders.moving_in.reading import ReadFile, ReadSheet, read
from orders.moving_in.services import (
    BadCell,
    Look,
    bring_in,
    forget_sheet,
    keep_sheet,
    kept_sheet,
    look_at,
)
from orders.moving_in.sheet import Sheet
from orders.moving_in.sheets import BY_KEY, SHEETS
from orders.moving_in.words import allowed
from workshop.views.edit import refusals_in
from workshop.views.idempotent import idempotent

SHOWN_ROWS = 8  # of each sheet, before it is brought in
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
EVERYTHING, BOOK = "workshop", "from-this-book"
ANY = "any"


class SheetForm(forms.Form):
    sheet = forms.FileField(
        label=gettext_lazy("Workbook or sheet"),
        help_text=gettext_lazy(
            "XLSX, or CSV in UTF-8; up to 5 MB and 3,000 rows, for nobody else can write anything "
            "down while they come in."
        ),
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx,.csv"}),
    )
    kind = forms.ChoiceField(
        label=gettext_lazy("What it holds"),
        choices=[
            (ANY, gettext_lazy("as its name and its heads say")),
            *((sheet.key, sheet.title) for sheet in SHEETS),
        ],
    )

    def clean_kind(self) -> str:
        kind = self.cleaned_data["kind"]
        return "" if kind == ANY else kind


@dataclass(frozen=True)
class Preview:
    """One sheet as it was read: its first rows under its heads, and what was left out."""

    title: str
    heads: list[str]
    rows: list[tuple[int, list[str]]]
    count: int
    more: int
    passed_over: int
    unknown: str


def moving_in(request: HttpRequest) -> HttpResponse:
    """Look at a file; a clean one waits for its person, who then brings it in or not.

    Neither reading nor looking holds anybody up; only bringing in does.
    """
    if request.method == "POST" and "forget" in request.POST:
        return _forget(request)
    if request.method == "POST" and "bring" in request.POST:
        return _bring(request, _kept_file(request))
    if request.method != "POST":
        return _page(request, SheetForm(initial={"kind": request.GET.get("kind", "")}))
    form = SheetForm(request.POST, request.FILES)
    look = None
    if form.is_valid():
        chosen, kind = form.cleaned_data["sheet"], form.cleaned_data["kind"]
        with refusals_in(form):
            data = chosen.read()
            file = read(read_file(chosen.name, data), kind)
            look = look_at(file, person=request.user)
            if look.clean:
                keep_sheet(
                    chosen.name, data, kind=kind, rows=file.count, worth=look.worth,
                    person=request.user,
                )  # fmt: skip
                return redirect("orders:moving_in")
            if not look.bad:
                form.add_error(None, _("Only examples stand in it. Add the rows to bring in."))
    return _page(request, form, look)


def _kept_file(request: HttpRequest) -> ReadFile | None:
    waiting = kept_sheet(request.user)
    return read(read_file(waiting.name, bytes(waiting.data)), waiting.kind) if waiting else None


@idempotent
def _forget(request: HttpRequest) -> HttpResponse:
    forget_sheet(request.user)
    messages.success(request, _("The file is put away; nothing was brought in."))
    return redirect("orders:moving_in")


@idempotent
def _bring(request: HttpRequest, file: ReadFile | None) -> HttpResponse:
    """Look at the waiting file once more, for the book may have changed, and bring it in."""
    if file is None:
        messages.error(request, _("No file waits any more. Choose it and look at its rows again."))
        return redirect("orders:moving_in")
    look = bring_in(file, person=request.user)
    if not look.clean:
        return _page(request, SheetForm(), look, waits=False)
    forget_sheet(request.user)
    what = ", ".join(f"{title} {count}" for title, count in look.counts.items())
    messages.success(request, _("Brought in: %s.") % what)
    return redirect("orders:moving_in")


def _page(
    request: HttpRequest, form: SheetForm, look: Look | None = None, *, waits: bool = True
) -> HttpResponse:
    bad: list[BadCell] = look.bad if look else []
    file = _kept_file(request) if waits and not bad else None
    waiting = kept_sheet(request.user) if file else None
    opened = str(form["kind"].value() or "")
    context: dict[str, Any] = {
        "form": form,
        "bad": bad,
        "waiting": waiting,
        "file": file,
        "previews": [_preview(sheet) for sheet in file.sheets if sheet.entries] if file else [],
        "kinds": [_told(sheet, opened=sheet.key == opened) for sheet in SHEETS],
    }
    status = 422 if form.errors or bad else 200
    return render(request, "orders/moving_in/page.html", context, status=status)


def _preview(read_sheet: ReadSheet) -> Preview:
    rows = [row for entry in read_sheet.entries for row in entry.rows]
    # A column in which nobody wrote anything says nothing.
    filled = {place for row in rows for place, cell in enumerate(row.cells) if cell}
    places = [place for place in read_sheet.columns if place in filled]
    return Preview(
        title=read_sheet.title,
        heads=[read_sheet.columns[place].head for place in places],
        rows=[
            (row.number, [row.cells[place] if place < len(row.cells) else "" for place in places])
            for row in rows[:SHOWN_ROWS]
        ],
        count=len(rows),
        more=max(0, len(rows) - SHOWN_ROWS),
        passed_over=read_sheet.passed_over,
        unknown=", ".join(read_sheet.unknown_heads),
    )


def _told(sheet: Sheet, *, opened: bool) -> dict[str, Any]:
    columns = sheet.columns()
    return {
        "key": sheet.key,
        "title": sheet.title,
        "about": sheet.about,
        "opened": opened,
        "columns": [
            {
                "head": column.head,
                "needed": column.needed,
                "note": column.note,
                "allowed": allowed(column.box) if not column.refers_to else _("a name of its list"),
            }
            for column in columns
        ],
    }


@require_safe
def sheet_file(
    request: HttpRequest, name: str, ending: str
) -> HttpResponse | StreamingHttpResponse:
    """A sheet to fill in, all of them in one workbook, or the book's own facts in the same."""
    from orders.moving_in.workbook import make_workbook, sheet_csv

    if name in {EVERYTHING, BOOK} and ending == "xlsx":
        answer = HttpResponse(make_workbook(SHEETS, filled=name == BOOK), content_type=XLSX)
    elif name in BY_KEY and ending == "xlsx":
        answer = HttpResponse(make_workbook([BY_KEY[name]]), content_type=XLSX)
    elif name in BY_KEY and ending == "csv":
        answer = StreamingHttpResponse(
            sheet_csv(BY_KEY[name]), content_type="text/csv; charset=utf-8"
        )
    else:
        raise Http404
    answer["Content-Disposition"] = f'attachment; filename="{name}.{ending}"'
    return answer
