"""Bringing in a spreadsheet: a dry run first, then all or nothing."""

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.services.bring_in import COLUMNS, Brought, bring_in, read_sheet
from workshop.views.edit import add_error
from workshop.views.once import act_once

KINDS = [
    ("customers", gettext_lazy("customers")),
    ("prices", gettext_lazy("price list")),
    ("balances", gettext_lazy("opening balances")),
]
MOST_BAD_SHOWN = 200


class SheetForm(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("What the sheet holds"), choices=KINDS, widget=forms.RadioSelect
    )
    sheet = forms.FileField(
        label=gettext_lazy("Sheet"), help_text=gettext_lazy("CSV in UTF-8, or XLSX; up to 5 MB.")
    )


@act_once
def money_import(request):
    """Look at a sheet (`try`), or bring it in; a bad row stops everything."""
    form = SheetForm(request.POST or None, request.FILES or None, initial={"kind": "customers"})
    brought: Brought | None = None
    if request.method == "POST" and form.is_valid():
        sheet = form.cleaned_data["sheet"]
        try:
            brought = read_sheet(form.cleaned_data["kind"], sheet.name, sheet.read())
            if brought.clean and "bring" in request.POST:
                count = bring_in(brought, by=request.user)
                messages.success(request, _("%(n)d rows are brought in.") % {"n": count})
                return redirect("orders:money_import")
        except ValidationError as error:
            add_error(form, error)
    context = {
        "form": form,
        "brought": brought,
        "bad": brought.bad[:MOST_BAD_SHOWN] if brought else [],
        "columns": [(words, ", ".join(COLUMNS[kind])) for kind, words in KINDS],
    }
    wrong = bool(form.errors) or bool(brought and brought.bad)
    return render(request, "orders/money/import.html", context, status=422 if wrong else 200)
