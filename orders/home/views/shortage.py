"""What glass is short for the orders, and the sheet that asks collectors for it."""

from decimal import Decimal

from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.home.queries.to_prepare import glass_to_prepare_for_orders
from orders.making.queries.shortage import glass_short_by_colour
from orders.papers.live import base_context
from orders.papers.respond import printed
from workshop.doors import may
from workshop.letterhead import read_in


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


def glass_to_prepare(request):
    """Raw glass that orders wait for: how much, from which sacks, for when (13 queries)."""
    rows = glass_to_prepare_for_orders(timezone.localdate())
    return render(
        request,
        "orders/home/to_prepare.html",
        {
            "rows": rows,
            "minutes": sum(row.minutes for row in rows),
            "may_log": may(request, "stock:preparation_log", "POST"),
            "may_see_sacks": may(request, "stock:sack"),
        },
    )


def prepare_ticket(request):
    """The same on paper, with room to write what came out."""
    day = timezone.localdate()
    rows = glass_to_prepare_for_orders(day)
    minutes = sum(row.minutes for row in rows)
    with read_in(request.business):
        context = base_context(request.business, _("Glass to prepare"), rows=rows, minutes=minutes)
        html = render_to_string("print/prepare_ticket.html", context)
    return printed(request, html, f"prepare-{day:%Y-%m-%d}")


def glass_collect(request):
    """The sheet for collectors: which colours are wanted, how much, and what is paid."""
    today = timezone.localdate()
    rows = [row for row in glass_short_by_colour(today) if row.collect_mg]
    rows.sort(key=lambda row: -row.collect_mg)
    total = sum((row.price_offered for row in rows), Decimal(0))
    return render(
        request, "orders/home/glass_collect.html", {"rows": rows, "today": today, "total": total}
    )
