"""For the bookkeeper: every money row of some days, as CSV or one workbook."""

from io import BytesIO

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET

from orders.money.queries.money_rows import sheets
from orders.money.views.accounts import asked_days
from workshop.csv_export import csv_response, safe_cell

SHEET_WORDS = {
    "papers": _("Invoices and credit notes"),
    "lines": _("Their lines"),
    "taxes": _("VAT by category and rate"),
    "payments": _("Payments, refunds, cash rounding, fees"),
    "settled": _("What was laid on what"),
    "pay": _("Pay slips"),
    "sacks": _("Paid to collectors"),
    "drawers": _("Drawers counted"),
}
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_GET
def money_export(request):
    """Choose the days; `sheet` gives one CSV, `as=xlsx` all of them in one workbook."""
    form, first_day, last_day = asked_days(request)
    name = f"{first_day:%Y-%m-%d}-{last_day:%Y-%m-%d}"
    found = sheets(first_day, last_day)
    if wanted := request.GET.get("sheet"):
        if wanted not in found:
            raise Http404
        return csv_response(found[wanted], f"{wanted}-{name}")
    if request.GET.get("as") == "xlsx":
        response = HttpResponse(workbook(found), content_type=WORKBOOK)
        response["Content-Disposition"] = f'attachment; filename="money-{name}.xlsx"'
        return response
    days = f"first_day={first_day:%Y-%m-%d}&last_day={last_day:%Y-%m-%d}"
    context = {"form": form, "sheets": SHEET_WORDS.items(), "days": days}
    return render(request, "orders/money/export.html", context)


def workbook(found) -> bytes:
    """One sheet each; text is written as text, so that no cell can run."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    for name, rows in found.items():
        sheet = book.create_sheet(name)
        for row in rows:
            cells = []
            for value in row:
                cell = WriteOnlyCell(sheet, value=safe_cell(value))
                if isinstance(value, str):
                    cell.data_type = "s"
                cells.append(cell)
            sheet.append(cells)
    out = BytesIO()
    book.save(out)
    return out.getvalue()
