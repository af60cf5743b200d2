"""Bringing in a spreadsheet: it is looked at first, then brought in all or nothing."""

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from orders.models import KeptSheet
from orders.money.services.bring_in import COLUMNS, BadRow, bring_in, read_sheet
from orders.money.services.kept_sheets import forget_sheet, keep_sheet, kept_sheet
from workshop.views.edit import add_error
from workshop.views.idempotent import idempotent

KINDS = [
    ("customers", gettext_lazy("customers")),
    ("prices", gettext_lazy("price list")),
    ("balances", gettext_lazy("opening balances")),
]


class SheetForm(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("What the sheet holds"), choices=KINDS, widget=forms.RadioSelect
    )
    sheet = forms.FileField(
        label=gettext_lazy("Sheet"),
        help_text=gettext_lazy("CSV in UTF-8, or XLSX; up to 5 MB and 20,000 rows."),
    )


@idempotent
def money_import(request):
    """Look at a sheet; a clean one waits for its person, who then brings it in or not."""
    waiting = kept_sheet(request.user)
    if request.method == "POST" and waiting and "forget" in request.POST:
        forget_sheet(request.user)
        messages.success(request, _("The sheet is put away; nothing was brought in."))
        return redirect("orders:money_import")
    if request.method == "POST" and "bring" in request.POST:
        return _bring(request, waiting)
    form = SheetForm(request.POST or None, request.FILES or None, initial={"kind": "customers"})
    bad: list[BadRow] = []
    if request.method == "POST" and form.is_valid():
        sheet = form.cleaned_data["sheet"]
        try:
            data = sheet.read()
            brought = read_sheet(form.cleaned_data["kind"], sheet.name, data)
        except ValidationError as error:
            add_error(form, error)
        else:
            bad = brought.bad
            if not bad:
                keep_sheet(brought, sheet.name, data, person=request.user)
                return redirect("orders:money_import")
    return _page(request, form, waiting, bad)


def _bring(request, waiting: KeptSheet | None):
    """Look at the waiting sheet once more, for the book may have changed, and bring it in."""
    form = SheetForm(initial={"kind": waiting.kind if waiting else "customers"})
    if waiting is None:
        messages.error(request, _("No sheet waits any more. Choose it and look at its rows again."))
        return redirect("orders:money_import")
    brought = read_sheet(waiting.kind, waiting.name, bytes(waiting.data))
    if brought.bad:
        return _page(request, form, None, brought.bad)
    count = bring_in(brought, by=request.user)
    forget_sheet(request.user)
    messages.success(
        request,
        ngettext("One row is brought in.", "%(n)d rows are brought in.", count) % {"n": count},
    )
    return redirect("orders:money_import")


def _page(request, form: SheetForm, waiting: KeptSheet | None, bad: list[BadRow]):
    context = {
        "form": form,
        "waiting": waiting,
        "waiting_kind": dict(KINDS).get(waiting.kind) if waiting else "",
        "bad": bad,
        "columns": [(words, ", ".join(COLUMNS[kind])) for kind, words in KINDS],
    }
    status = 422 if form.errors or bad else 200
    return render(request, "orders/money/import.html", context, status=status)
