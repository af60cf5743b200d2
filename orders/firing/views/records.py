"""What became of the plans: days kept, kilns used; and the calendar feed of what is to come."""

from datetime import timedelta
from decimal import Decimal

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.firing.papers import load_sheet_html
from orders.firing.queries.dates_kept import (
    CAUSES,
    PERIOD_DAYS,
    by_lateness,
    causes_of,
    dates_kept,
    kiln_use,
    open_and_late,
)
from orders.firing.views.loads import get_load
from orders.models import CalendarAddress
from orders.models.plans import new_secret
from orders.papers.respond import printed
from workshop import formats
from workshop.drawing import Bar, bars_svg
from workshop.phone_door.reached import reached_by_phones
from workshop.services.acts import record_act
from workshop.views.idempotent import idempotent

MOST_ROWS = 40


@require_GET
def kept(request) -> HttpResponse:
    """Promised and kept, lateness by cause, and how full and how long the kilns burnt.

    An order past its day that is not ready yet has missed it too.
    """
    today = timezone.localdate()
    since = today - timedelta(days=PERIOD_DAYS)
    ready = dates_kept(since)
    late = [each for each in ready if each.days_late > 0]
    causes = causes_of(late)
    overdue = open_and_late(today)
    counted = len(ready) + len(overdue)
    use = kiln_use(since)
    rows = [{"kept": each, "cause": CAUSES.get(causes.get(each.order.pk, ""))} for each in late]
    return render(
        request,
        "orders/firing/kept.html",
        {
            "since": since,
            "ready": len(ready),
            "in_time": len(ready) - len(late),
            "share": Decimal(len(ready) - len(late)) / counted if counted else None,
            "overdue": [(order, (today - order.due_on).days) for order in overdue[:MOST_ROWS]],
            "overdue_more": max(0, len(overdue) - MOST_ROWS),
            "overdue_count": len(overdue),
            "late_rows": rows[:MOST_ROWS],
            "late_more": max(0, len(rows) - MOST_ROWS),
            "late_count": len(late),
            "lateness_chart": _lateness_chart(ready),
            "cause_chart": _cause_chart(list(causes.values())),
            "use": use,
            "use_chart": _use_chart(use),
            "hours_chart": _hours_chart(use),
        },
    )


def _lateness_chart(ready) -> str:
    bars = [
        Bar(name, number, formats.count(number), short=late)
        for name, number, late in by_lateness(ready)
    ]
    return bars_svg(bars, title=_("Orders by how early or late they were ready")) if ready else ""


def _cause_chart(causes: list[str]) -> str:
    counted = sorted({cause: causes.count(cause) for cause in causes}.items(), key=lambda p: -p[1])
    bars = [
        Bar(str(CAUSES[cause]), number, formats.count(number), short=True)
        for cause, number in counted
    ]
    return bars_svg(bars, title=_("Late orders by cause")) if bars else ""


def _use_chart(use) -> str:
    bars = [
        Bar(each.kiln.name, float(each.filled), formats.percent(each.filled))
        for each in use
        if each.loads
    ]
    return bars_svg(bars, title=_("Share of places filled, kiln by kiln")) if bars else ""


def _hours_chart(use) -> str:
    bars = [
        Bar(each.kiln.name, each.burning_min, formats.hours(each.burning_min))
        for each in use
        if each.loads
    ]
    return bars_svg(bars, title=_("Hours in use, kiln by kiln")) if bars else ""


@require_GET
def load_sheet(request, number: int) -> HttpResponse:
    load = get_load(number)
    page = reached_by_phones(request, reverse("orders:load", args=[number]))
    return printed(request, load_sheet_html(load, request.business, page), f"load-{number}")


@idempotent
def calendar_address(request) -> HttpResponse:
    """The secret address of the feed; the owner may renew it, which closes the old one."""
    address = CalendarAddress.objects.first()
    if request.method == "POST":
        address = address or CalendarAddress()
        address.secret, address.renewed_by = new_secret(), request.user
        address.with_names = "with_names" in request.POST
        address.save()
        told = {"with_names": address.with_names}
        record_act(request.user, "renew calendar address", address, after=told)
        messages.success(request, _("The calendar has a new address; the old one is closed."))
        return redirect("orders:calendar_address")
    url = (
        request.build_absolute_uri(reverse("orders:calendar_feed", args=[address.secret]))
        if address
        else ""
    )
    return render(request, "orders/firing/calendar.html", {"address": address, "url": url})


@require_GET
def calendar_feed(request, secret: str) -> HttpResponse:
    """Loads and collection days as an iCalendar (RFC 5545); no prices, no debts."""
    from orders.firing.calendar_feed import feed

    address = get_object_or_404(CalendarAddress, secret=secret)
    body = feed(request.business, with_names=address.with_names)
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="strandwork.ics"'
    response["Cache-Control"] = "private, max-age=300"
    return response
