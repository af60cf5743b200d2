"""The account of a month: what was spent, what of it is in the goods, and where the rest went."""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from orders.money.queries.month_account import (
    OfDays,
    account_of,
    excess_of,
    loads_opened,
    tickets_opened,
)
from orders.money.views.accounts import DaysForm
from orders.papers.live import base_context
from orders.papers.respond import printed
from stock.services.excess import take_off_excess
from workshop import formats
from workshop.costs.account import printed as printed_account
from workshop.csv_export import csv_response
from workshop.formats import date_short
from workshop.letterhead import read_in
from workshop.models import Business
from workshop.views.idempotent import idempotent

WORDS = {
    "hands": gettext_lazy("Hands"),
    "fuel": gettext_lazy("Fuel"),
    "glass": gettext_lazy("Glass"),
    "materials": gettext_lazy("Findings, paint, pigment"),
    "moulds": gettext_lazy("Moulds and kiln wash"),
    "wear": gettext_lazy("Wear of the kilns"),
    "workshop": gettext_lazy("Workshop: rent, tools, water"),
    "office": gettext_lazy("Office and selling"),
    "top_up": gettext_lazy("made up to the agreed least"),
    "order_steps": gettext_lazy("steps once an order, such as packing"),
    "spoiled_hands": gettext_lazy("tending spoiled and empty loads"),
    "empty_hands": gettext_lazy("empty places, tending"),
    "more_minutes": gettext_lazy("more minutes than the standard"),
    "spoiled_fuel": gettext_lazy("spoiled and empty loads"),
    "empty_fuel": gettext_lazy("empty places"),
    "burned": gettext_lazy("burned more than usual"),
    "spoiled_wear": gettext_lazy("spoiled and empty loads"),
    "empty_wear": gettext_lazy("empty places"),
    "unborne": gettext_lazy("no work has borne it"),
    "before": gettext_lazy("Goods before"),
    "put_in": gettext_lazy("put in"),
    "bought": gettext_lazy("clasps, cord, paint, fuel bought in"),
    "used": gettext_lazy("paint, wash, fuel used up"),
    "opening": gettext_lazy("here before the book began"),
    "anew": gettext_lazy("valued anew"),
    "sold": gettext_lazy("sold"),
    "accident": gettext_lazy("accidents"),
    "beyond": gettext_lazy("rejects beyond the usual"),
    "spoiled": gettext_lazy("spoiled loads"),
    "apart": gettext_lazy("taken apart"),
    "lost": gettext_lazy("nothing came good"),
    "count": gettext_lazy("count differences"),
    "written": gettext_lazy("written down to what they bring"),
    "reversal": gettext_lazy("reversals"),
    "after": gettext_lazy("Goods after"),
}
# Below nothing the same amount has a name of its own.
LESS = {
    "more_minutes": gettext_lazy("fewer minutes than the standard"),
    "burned": gettext_lazy("burned less than usual"),
    "unborne": gettext_lazy("work has borne more than it cost"),
}
BY_TICKETS = {"hands", "top_up", "order_steps", "more_minutes"}
BY_LOADS = {"spoiled_hands", "empty_hands", "spoiled_fuel", "empty_fuel", "burned"}
BY_LOADS |= {"spoiled_wear", "empty_wear"}


@dataclass(frozen=True)
class Line:
    """One line as it is shown; `url` opens what it is made of."""

    words: str
    amount: Decimal
    exact: Decimal
    url: str = ""


@dataclass(frozen=True)
class SpentLine:
    words: str
    spent: Decimal
    put: Decimal
    named: list[Line]
    put_url: str
    url: str


def _asked(request) -> tuple[DaysForm, date, date]:
    """The days asked for, else the month before this one."""
    first = timezone.localdate().replace(day=1)
    before = first - timedelta(days=1)
    usual = {"first_day": before.replace(day=1), "last_day": before}
    form = DaysForm({name: request.GET.get(name) or day for name, day in usual.items()})
    if not form.is_valid():
        return form, usual["first_day"], usual["last_day"]
    return form, form.cleaned_data["first_day"], form.cleaned_data["last_day"]


@require_GET
def month_account(request):
    """The account as a page, every line opening what it is made of."""
    form, first_day, last_day = _asked(request)
    found = account_of(first_day, last_day)
    context = _context(found, request.business) | {"excess": excess_of(found)}
    before = first_day.replace(day=1) - timedelta(days=1)
    after = last_day.replace(day=monthrange(last_day.year, last_day.month)[1]) + timedelta(days=1)
    context |= {
        "form": form,
        "days": _days(first_day, last_day),
        "earlier": _days(before.replace(day=1), before),
        "later": _days(after, after.replace(day=monthrange(after.year, after.month)[1]))
        if after <= timezone.localdate()
        else "",
    }
    return render(request, "orders/money/month_account.html", context)


@require_POST
@idempotent
def year_excess(request):
    """Take off the goods what they bore of the workshop's costs beyond what these were."""
    form = DaysForm(request.POST)
    if not form.is_valid():
        return redirect("orders:month_account")
    first_day, last_day = form.cleaned_data["first_day"], form.cleaned_data["last_day"]
    excess = excess_of(account_of(first_day, last_day))
    if excess:
        take_off_excess(excess, on=last_day, person=request.user)
        messages.success(
            request, _("%(sum)s is taken off the goods.") % {"sum": formats.money(excess)}
        )
    else:
        messages.info(request, _("Nothing was borne beyond what the workshop cost."))
    return redirect(f"{reverse('orders:month_account')}?{_days(first_day, last_day)}")


@require_GET
def month_account_pdf(request):
    """The account on paper."""
    _form, first_day, last_day = _asked(request)
    with read_in(request.business):
        context = base_context(
            request.business,
            _("Account of %(first)s to %(last)s")
            % {"first": date_short(first_day), "last": date_short(last_day)},
            **_context(account_of(first_day, last_day), request.business),
        )
        html = render_to_string("print/month_account.html", context)
    return printed(request, html, f"account-{first_day:%Y-%m-%d}-{last_day:%Y-%m-%d}")


@require_GET
def month_account_csv(request):
    """The account as a table, exact to six decimals."""
    _form, first_day, last_day = _asked(request)
    found = account_of(first_day, last_day)
    account = found.account
    rows: list[list[Any]] = [["part", "what", "amount"]]
    for line in account.lines:
        rows.append(["spent", _words(line.key), line.spent])
        rows.append(["put into goods", _words(line.key), line.put])
        rows += [
            ["named", f"{_words(line.key)}: {_words(each.key, each.amount)}", each.amount]
            for each in line.named
        ]
    rows += [
        ["spent", "together", account.spent],
        ["put into goods", "together", account.put],
        ["named", "together", account.named],
    ]
    rows += [["goods", _words(each.key, each.amount), each.amount] for each in account.goods]
    rows += [["written down", each.design.name, each.amount] for each in found.written]
    return csv_response(rows, f"account-{first_day:%Y-%m-%d}-{last_day:%Y-%m-%d}")


@require_GET
def month_tickets(request):
    """The tickets behind the hands of an account."""
    form, first_day, last_day = _asked(request)
    context = {
        "form": form,
        "days": _days(first_day, last_day),
        "tickets": tickets_opened(first_day, last_day),
    }
    return render(request, "orders/money/month_tickets.html", context)


@require_GET
def month_loads(request):
    """The kiln loads behind an account: how full, what was burnt, what stayed over."""
    form, first_day, last_day = _asked(request)
    context = {
        "form": form,
        "days": _days(first_day, last_day),
        "loads": loads_opened(first_day, last_day),
    }
    return render(request, "orders/money/month_loads.html", context)


def _days(first_day: date, last_day: date) -> str:
    return urlencode({"first_day": f"{first_day:%Y-%m-%d}", "last_day": f"{last_day:%Y-%m-%d}"})


def _words(key: str, amount: Decimal | None = None) -> str:
    if key == "written" and amount is not None and amount > 0:
        return _("written up again, as prices have risen")
    if amount is not None and amount < 0 and key in LESS:
        return str(LESS[key])
    return str(WORDS[key])


def _context(found: OfDays, business: Business) -> dict[str, Any]:
    account = found.account
    shown = printed_account(account, business.money_digits)
    days = _days(found.first_day, found.last_day)
    lines = [
        SpentLine(
            _words(line.key),
            shown.spent[line.key],
            shown.put[line.key],
            [
                Line(
                    _words(each.key, each.amount), shown.named[each.key], each.amount,
                    _opens(each.key, days),
                )
                for each in line.named
            ],
            _postings(line.key, found) if line.put else "",
            _opens(line.key, days),
        )
        for line in account.lines
        if line.spent or line.put or line.named
    ]  # fmt: skip
    return {
        "first_day": found.first_day,
        "last_day": found.last_day,
        "over": found.over,
        "lines": lines,
        "totals": shown.totals,
        "written": found.written,
        "exact": (account.spent, account.put, account.named),
        "goods": [
            Line(
                _words(each.key, each.amount),
                shown.goods[each.key],
                each.amount,
                _goods_url(each.key, found),
            )
            for each in account.goods
        ],
    }


def _opens(key: str, days: str) -> str:
    if key in BY_TICKETS:
        return f"{reverse('orders:month_tickets')}?{days}"
    if key in BY_LOADS or key in {"fuel", "wear"}:
        return f"{reverse('orders:month_loads')}?{days}"
    if key in {"workshop", "office", "unborne"}:
        return reverse("workshop:standing_cost_list")
    return ""


def _postings(name: str, found: OfDays) -> str:
    query = urlencode({
        "charge": name, "start": f"{found.first_day:%Y-%m-%d}", "end": f"{found.last_day:%Y-%m-%d}",
    })  # fmt: skip
    return f"{reverse('stock:posting_list')}?{query}"


def _goods_url(key: str, found: OfDays) -> str:
    if key == "after":
        return reverse("stock:value")
    if key == "written":
        return "#written"
    return "" if key in {"before", "put_in"} else _postings(key, found)
