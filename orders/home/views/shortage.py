"""What glass is short for the orders, and the sheet that asks collectors for it."""

from decimal import Decimal

from django.shortcuts import render
from django.utils import timezone

from orders.making.queries.shortage import glass_short_by_colour
from workshop.doors import may


def glass_short(request):
    """Per colour and form: needed, ready, raw, short, in kilograms and bottles (6 queries)."""
    rows = glass_short_by_colour(timezone.localdate())
    wanted = {row.colour.pk: sum(form.needed_mg for form in row.forms) for row in rows}
    most = max(wanted.values(), default=0)
    return render(
        request,
        "orders/home/glass_short.html",
        {
            "rows": [
                {"row": row, "share": wanted[row.colour.pk] / most if most else 0}
                for row in rows
                if row.forms
            ],
            "short_mg": sum(row.short_mg for row in rows),
            "bottles": sum(row.bottles for row in rows),
            "collect": any(row.collect_mg for row in rows) and may(request, "orders:glass_collect"),
        },
    )


def glass_collect(request):
    """The sheet for collectors: which colours are wanted, how much, and what is paid."""
    today = timezone.localdate()
    rows = [row for row in glass_short_by_colour(today) if row.collect_mg]
    rows.sort(key=lambda row: -row.collect_mg)
    total = sum((row.price_offered for row in rows), Decimal(0))
    return render(
        request, "orders/home/glass_collect.html", {"rows": rows, "today": today, "total": total}
    )
