"""The money room: who owes what, one customer's account, reminders."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from orders.models import Customer, Document, Payment
from orders.money.forms.money import DayInput
from orders.money.papers.reminders import mail_link, sms_link
from orders.money.papers.statements import owing, statement_html, statements_html
from orders.money.queries.accounts import Aged, ageing, not_charged_yet, total_of
from orders.money.queries.statements import (
    OpenItem,
    Statement,
    statement_of,
    statements,
    usual_first_day,
)
from orders.money.services.payment_allocations import spendable
from orders.money.services.payments import e164, free_credits
from orders.papers.respond import printed, printed_or_asked
from workshop import formats
from workshop.csv_export import csv_response
from workshop.drawing.small import bar_svg
from workshop.invoicing_law import caution
from workshop.languages import NAMES
from workshop.letterhead import read_in

MOST_SHOWN = 200

BUCKET_COLOURS = {
    "not_due": "#2f6b4a",
    "late_1": "#e9a92f",
    "late_2": "#94560f",
    "late_3": "#a9391f",
    "late_over": "#a9391f",
}


@dataclass(frozen=True)
class Bar:
    """One bucket as the page draws it."""

    words: str
    amount: Decimal
    picture: str


@require_GET
def money(request):
    """Who owes what, by age; what came in lately."""
    everybody = ageing()
    if request.GET.get("as") == "csv":
        return _ageing_csv(everybody)
    rows = [row for row in everybody if row.owed > 0]
    foot, all_of_them = total_of(rows), total_of(everybody)
    today = timezone.localdate()
    context = {
        "rows": rows[:MOST_SHOWN],
        "more": max(0, len(rows) - MOST_SHOWN),
        "foot": foot,
        "held": all_of_them.held,
        "free": all_of_them.free,
        "in_credit": [row for row in everybody if row.free > 0][:MOST_SHOWN],
        "not_charged": not_charged_yet(),
        "bars": _bars(foot),
        "payments": Payment.objects.select_related("customer").order_by("-id")[:8],
        "papers": Document.objects.select_related("customer")
        .defer("content")
        .exclude(kind__in=["receipt", "refund"])[:8],
        "today": today,
        "caution": caution(request.business.country),
        "languages": [each for each in NAMES if each[0] != request.business.language],
    }
    return render(request, "orders/money/room.html", context)


class DaysForm(forms.Form):
    """From which day to which."""

    first_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    last_day = forms.DateField(label=gettext_lazy("To"), widget=DayInput)

    def clean(self):
        said = super().clean()
        first, last = said.get("first_day"), said.get("last_day")
        if first and last and first > last:
            raise forms.ValidationError(
                _("The first day lies after the last; write them the other way round.")
            )
        return said


def asked_days(request) -> tuple[DaysForm, date, date]:
    """The days a page was asked for, else the last three months."""
    usual = {"first_day": usual_first_day(), "last_day": timezone.localdate()}
    asked = {name: request.GET.get(name) or day for name, day in usual.items()}
    form = DaysForm(asked)
    if not form.is_valid():
        return form, usual["first_day"], usual["last_day"]
    return form, form.cleaned_data["first_day"], form.cleaned_data["last_day"]


@require_GET
def statement(request, pk):
    """One customer's account: open items, dated lines, what may be done."""
    customer = get_object_or_404(Customer, pk=pk)
    form, first_day, last_day = asked_days(request)
    account = statement_of(customer, first_day, last_day)
    context = {
        "customer": customer,
        "account": account,
        "form": form,
        "reminder": reminder_for(account, request.business) if account.open_items else None,
        "free_credit": sum(map(spendable, free_credits(customer)), Decimal(0)),
        "owes": any(item.open > 0 for item in account.open_items),
    }
    return render(request, "orders/money/statement.html", context)


@require_GET
def statement_pdf(request, pk):
    """The statement on paper."""
    customer = get_object_or_404(Customer, pk=pk)
    _form, first_day, last_day = asked_days(request)
    html = statement_html(statement_of(customer, first_day, last_day), request.business)
    return printed(request, html, f"statement-{customer.pk}-{last_day:%Y-%m-%d}")


@require_GET
def statements_pdf(request):
    """The statements of everybody who owes, in one run."""
    _form, first_day, last_day = asked_days(request)
    if not owing().exists():
        messages.success(request, _("Nobody owes anything, so there is no statement to print."))
        return redirect("orders:money")
    asked = {"first_day": first_day.isoformat(), "last_day": last_day.isoformat()}

    def html() -> str:
        made = statements(list(owing()), first_day, last_day)
        return statements_html(made, request.business)

    return printed_or_asked(request, "statements", asked, html)


@dataclass(frozen=True)
class Reminder:
    """The words, and the links that open them in the phone's messages or the mail program."""

    text: str
    sms: str
    mail: str


def reminder_for(account: Statement, business) -> Reminder:
    """Friendly words about what is open; the links exist where the customer left an address."""
    owing = [item for item in account.open_items if item.open > 0]
    late = [item for item in owing if item.days_late]
    customer = account.customer
    with read_in(business, customer):
        text = _reminder_text(customer, late or owing, business)
        subject = _("What is open with %s") % business.name
    try:
        sms = sms_link(e164(customer.phone, business.country), text) if customer.phone else ""
    except ValidationError:
        sms = ""
    return Reminder(text, sms, mail_link(customer.email, subject, text) if customer.email else "")


def _reminder_text(customer: Customer, items: Sequence[OpenItem], business) -> str:
    return "\n".join(
        [
            _("Good day %(name)s,") % {"name": customer.name},
            _("these are still open with us:"),
            *map(_open_words, items),
            _("Together %(sum)s. If it is on its way, thank you, and never mind this note.")
            % {"sum": formats.money(sum((item.open for item in items), Decimal(0)))},
            business.name,
        ]
    )


def _open_words(item: OpenItem) -> str:
    words = {
        "number": item.number,
        "day": formats.date_short(item.issued_on),
        "open": formats.money(item.open),
    }
    if not item.due_on:
        return _("%(number)s of %(day)s: %(open)s") % words
    words["due"] = formats.date_short(item.due_on)
    return _("%(number)s of %(day)s: %(open)s, due %(due)s") % words


def _bars(foot: Aged) -> list[Bar]:
    most = max([*foot.buckets, Decimal(1)])
    return [
        Bar(age.words, age.amount, bar_svg(float(age.amount / most), BUCKET_COLOURS[age.name]))
        for age in foot.ages
    ]


def _ageing_csv(rows: list[Aged]) -> HttpResponse:
    words = [age.words for age in total_of(rows).ages]
    head = [_("customer"), *words, _("credit"), _("held for orders"), _("balance")]
    body = [
        [row.name, *row.buckets, row.free, row.held, row.balance] for row in [*rows, total_of(rows)]
    ]
    return csv_response([head, *body], "ageing")
