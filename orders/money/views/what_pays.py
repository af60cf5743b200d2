"""What pays: margins on full cost, what sells and what does not, what lies too long."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from orders.money.queries.what_pays import Lying, Paying, WhatPays, what_pays
from orders.money.views.accounts import DaysForm
from stock.models import ItemKind
from workshop import formats
from workshop.csv_export import csv_response
from workshop.drawing.svg import EMBER, GREEN

USUAL_LONGER = 90  # our choice: what has not moved for three months
MOST = 12  # of a list on the page; the table holds all of them


class WhatPaysForm(DaysForm):
    """Which days, and from how many days on goods lie too long."""

    longer = forms.IntegerField(
        label=gettext_lazy("Lies longer than, days"), min_value=1, max_value=3650
    )


@dataclass(frozen=True)
class Shown:
    """One line beside its bar."""

    name: str
    url: str
    row: Paying
    share: float
    colour: str


def _asked(request) -> tuple[WhatPaysForm, date, date, int]:
    """The days asked for, else a year up to today."""
    today = timezone.localdate()
    first = today.replace(day=1)
    usual: dict[str, Any] = {
        "first_day": date(first.year - 1, first.month, 1),
        "last_day": today,
        "longer": USUAL_LONGER,
    }
    form = WhatPaysForm({name: request.GET.get(name) or said for name, said in usual.items()})
    said = form.cleaned_data if form.is_valid() else usual
    return form, said["first_day"], said["last_day"], said["longer"]


@require_GET
def what_pays_page(request):
    """What paid in some days, as bars and lists."""
    form, first_day, last_day, longer = _asked(request)
    found = what_pays(first_day, last_day, longer=longer, today=timezone.localdate())
    days = urlencode({
        "first_day": f"{first_day:%Y-%m-%d}", "last_day": f"{last_day:%Y-%m-%d}", "longer": longer,
    })  # fmt: skip
    sold = [each for each in found.sellers if each.strands > 0]
    slow = [each for each in reversed(found.sellers) if each not in sold[:MOST]]
    context = {
        "form": form,
        "first_day": first_day,
        "last_day": last_day,
        "longer": longer,
        "days": days,
        "whole": found.whole,
        "by_month": _shown(
            found.by_month, lambda row: date_format(row.key, "YEAR_MONTH_FORMAT"), lambda _r: ""
        ),
        "by_design": _shown(
            found.by_design, lambda row: row.name, lambda row: _url("design_detail", row)
        ),
        "by_customer": _shown(
            found.by_customer, lambda row: row.name, lambda row: _url("customer_detail", row)
        ),
        "best": sold[:MOST],
        "slow": slow[:MOST],
        "lying": [(each, _much(each)) for each in found.lying[:MOST]],
        "more_lying": max(0, len(found.lying) - MOST),
        "lying_value": sum((each.value for each in found.lying), Decimal(0)),
    }
    return render(request, "orders/money/what_pays.html", context)


def _url(name: str, row: Paying) -> str:
    return reverse(f"orders:{name}", args=[row.key])


def _shown(rows: list[Paying], name, url) -> list[Shown]:
    """Each line with a bar of what it left, beside the largest of them."""
    most = max((abs(row.left) for row in rows), default=Decimal(0))
    return [
        Shown(
            name(row), url(row), row, float(abs(row.left) / most) if most else 0.0,
            GREEN if row.left >= 0 else EMBER,
        )
        for row in rows
    ]  # fmt: skip


def _much(lying: Lying) -> str:
    """How much lies there: pieces, or a mass of glass."""
    if lying.kind == ItemKind.GLASS:
        return formats.mass(Decimal(lying.quantity) / 1000)
    return formats.count(lying.quantity)


@require_GET
def what_pays_csv(request):
    """All of it as one table."""
    _form, first_day, last_day, longer = _asked(request)
    found = what_pays(first_day, last_day, longer=longer, today=timezone.localdate())
    return csv_response(_rows(found), f"what-pays-{first_day:%Y-%m-%d}-{last_day:%Y-%m-%d}")


def _rows(found: WhatPays) -> list[list[Any]]:
    head = ["part", "what", "strands or pieces", "brought", "full cost", "left over", "margin"]
    rows: list[list[Any]] = [head]
    for part, lines in (
        (_("month"), found.by_month),
        (_("design"), found.by_design),
        (_("customer"), found.by_customer),
        (_("together"), [found.whole]),
    ):
        for row in lines:
            what = f"{row.key:%Y-%m}" if isinstance(row.key, date) else row.name
            margin = "" if row.margin is None else round(row.margin, 4)
            rows.append([part, what, row.strands, row.brought, row.cost, row.left, margin])
    rows += [
        [_("sold, and ready on the shelf"), each.design.name, each.strands, each.ready, "", "", ""]
        for each in found.sellers
    ]
    rows += [
        [_("lies longer"), each.name, _pieces(each), "", each.value, "", ""] for each in found.lying
    ]
    return rows


def _pieces(lying: Lying) -> Decimal | int:
    return Decimal(lying.quantity) / 1_000_000 if lying.kind == ItemKind.GLASS else lying.quantity
