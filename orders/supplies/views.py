"""Clasps, cord, paint and fuel in stock: what there is, what to buy, what was bought."""

from collections import Counter
from datetime import date
from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.making.queries.findings import FindingStock, findings_in_stock, findings_to_buy
from orders.models import BoughtTogether, Finding, Purchase
from orders.papers.live import base_context
from orders.papers.respond import printed
from orders.supplies.forms import BoughtLines, BuyForm, CameForm, CountFindingForm, PaperForm
from orders.supplies.queries import moved_lately, purchases_of, stock_of, takers_of
from orders.supplies.services import (
    call_off,
    cease_keeping,
    count_finding,
    give_back,
    note_purchase,
    note_purchases,
    take_in,
    take_in_of,
)
from stock.measures import SMALLEST_IN, typed_quantity, unit_words
from workshop.csv_export import csv_response
from workshop.doors import may
from workshop.models import Business, TaxRate
from workshop.typed import whole_number
from workshop.views.edit import edit_page, form_page, ready_to_save, refusals_in
from workshop.views.idempotent import idempotent


def supply_list(request) -> HttpResponse:
    """Everything that is counted in stock, and what could be (6 queries)."""
    rows = findings_in_stock()
    return render(
        request,
        "orders/supplies/list.html",
        {
            "kept": [_shown(row) for row in rows if row.finding.kept],
            "others": [row.finding for row in rows if not row.finding.kept],
            "to_buy": sum(bool(row.to_buy) for row in rows),
            "may_buy": may(request, "orders:supply_buy", "POST"),
            "may_count": may(request, "orders:supply_count", "POST"),
        },
    )


def _shown(row: FindingStock) -> dict:
    """A row of a list, its quantities in words."""
    names = ("there", "held", "free", "needed", "coming", "to_buy", "short")
    return {"row": row, "finding": row.finding} | {
        name: row.said(quantity) if (quantity := getattr(row, name)) else "" for name in names
    }


def supply(request, pk: int) -> HttpResponse:
    """One finding: what there is, who takes it, what was bought, what came and went."""
    finding = get_object_or_404(Finding.objects.select_related("item"), pk=pk)
    row = stock_of(finding)
    each = None
    if row.there and row.value:
        each = row.value * SMALLEST_IN[finding.unit] / row.there
    return render(
        request,
        "orders/supplies/one.html",
        {
            **_shown(row),
            "said_there": finding.said(row.there),
            "each": each,
            "litre": each * finding.kg_per_litre if each and finding.kg_per_litre else None,
            "unit": unit_words(finding.unit),
            "reorder": finding.said(finding.reorder_at) if finding.reorder_at else "",
            "takers": takers_of(finding) if finding.kept else [],
            "purchases": purchases_of(finding) if request.user.sees_money else [],
            "moved": moved_lately(finding) if finding.item_id else [],
            "may_buy": may(request, "orders:supply_buy", "POST"),
            "may_count": may(request, "orders:supply_count", "POST"),
            "may_cease": may(request, "orders:supply_cease", "POST"),
            "may_open": may(request, "stock:posting"),
            "may_change": may(request, "orders:design_finding_change", "POST"),
        },
    )


@idempotent
def supply_buy(request, pk: int) -> HttpResponse:
    """Write down what was bought, or ordered, of one finding."""
    finding = get_object_or_404(Finding, pk=pk)
    row = stock_of(finding)
    rate = TaxRate.standard_on(timezone.localdate())
    first = {
        "on": timezone.localdate(),
        "supplier": finding.supplier,
        "quantity": typed_quantity(finding.unit, row.to_buy),
        "tax": rate.pk if rate else "",
    }
    form = BuyForm(request.POST or None, finding=finding, business=request.business, initial=first)
    lead = _("It is counted in stock from now on: orders hold it and wait for it.")
    return edit_page(
        request,
        form,
        heading=_("Buy: %(finding)s") % {"finding": finding},
        lead="" if finding.kept else lead,
        save=lambda form: note_purchase(finding, person=request.user, **form.purchase()),
        saved=_("The purchase is written down."),
        done_url=reverse("orders:supply", args=[pk]),
        back_url=reverse("orders:supply", args=[pk]),
    )


@idempotent
def supply_buy_many(request) -> HttpResponse:
    """Write down several things that stand on one paper of a supplier."""
    sent = request.POST if request.method == "POST" else None
    supplier = request.GET.get("from", "")
    today = timezone.localdate()
    first = {"on": today, "supplier": supplier}
    head = PaperForm(sent, initial=first)
    asked_more = sent is not None and "more" in sent
    many = whole_number(sent.get("many") if sent else None) or LINES
    lines = BoughtLines(
        sent,
        business=request.business,
        first=_lines_to_buy(supplier, today) if sent is None else [],
        many=many + LINES if asked_more else many,
    )
    if sent is not None and not asked_more and ready_to_save(head, lines):
        bought = lines.bought()
        if not bought:
            head.add_error(None, _("Write at least one thing that was bought."))
        else:
            with refusals_in(head):
                together = note_purchases(bought, person=request.user, **head.paper_said())
                messages.success(request, _("The purchase is written down."))
                return redirect("orders:bought_together", pk=together.pk)
    context = {
        "form": head, "lines": lines.forms, "asked_more": asked_more,
        "formsets": [head, *lines.forms], "show_errors": sent is not None and not asked_more,
    }  # fmt: skip
    status = 422 if context["show_errors"] else 200
    return render(request, "orders/supplies/buy_many.html", context, status=status)


LINES = 4  # empty ones, and as many more at a press


def _lines_to_buy(supplier: str, today: date) -> list[dict]:
    """What is to be bought of a supplier, as the lines begin (6 queries)."""
    if not supplier:
        return []
    rate = TaxRate.standard_on(today)
    return [
        {
            "finding": row.finding.pk,
            "quantity": typed_quantity(row.finding.unit, row.to_buy),
            "tax": rate.pk if rate else "",
        }
        for row in findings_to_buy()
        if row.finding.supplier == supplier
    ]


@idempotent
def bought_together(request, pk: int) -> HttpResponse:
    """One paper of a supplier: its lines, its sum with VAT, and what of it has come."""
    together = get_object_or_404(BoughtTogether.objects.select_related("person"), pk=pk)
    rows = list(together.purchases.select_related("finding", "posting").order_by("pk"))
    waits = [row for row in rows if row.is_on_its_way]
    sent = request.POST if request.method == "POST" else None
    form = CameForm(sent, purchases=waits)
    if sent is not None and form.is_valid():
        with refusals_in(form):
            take_in_of(together, form.came(), person=request.user)
            messages.success(request, _("What came lies on its shelf."))
            return redirect("orders:bought_together", pk=pk)
    counted = [row for row in rows if not row.called_off]
    context = {
        "together": together, "rows": rows, "form": form, "waits": bool(waits),
        "sum": sum((row.price for row in counted), Decimal(0)),
        "taxes": _taxes_in(counted, request.business),
        "may_act": may(request, "orders:bought_together", "POST"),
        "expected_on": min((row.expected_on for row in waits if row.expected_on), default=None),
    }  # fmt: skip
    return form_page(request, "orders/supplies/bought.html", context)


def _taxes_in(rows: list[Purchase], business: Business) -> list[tuple[Decimal, Decimal]]:
    """By rate, the VAT within the prices of some lines, as it is got back."""
    found: dict[Decimal, Decimal] = {}
    for row in rows:
        if row.tax_rate and business.tax_registered:
            found[row.tax_rate] = found.get(row.tax_rate, Decimal(0)) + row.price - row.net
    return sorted(found.items(), reverse=True)


@idempotent
def supply_count(request, pk: int) -> HttpResponse:
    """What lies there, at first or against the book."""
    finding = get_object_or_404(Finding, pk=pk)
    row = stock_of(finding)
    form = CountFindingForm(request.POST or None, finding=finding, there=row.there)
    if finding.kept:
        lead = _("The book says %(there)s.") % {"there": finding.said(row.there)}
    else:
        lead = _("It is counted in stock from now on: orders hold it and wait for it.")
    return edit_page(
        request,
        form,
        heading=_("Count: %(finding)s") % {"finding": finding},
        lead=lead,
        submit_label=_("Book the count"),
        save=lambda form: count_finding(finding, person=request.user, **form.counted()),
        saved=_("Counted; what differed is in the book."),
        done_url=reverse("orders:supply", args=[pk]),
        back_url=reverse("orders:supply", args=[pk]),
    )


def _act(request, finding: int, work, said: str) -> HttpResponse:
    """Do one thing and go back to the finding; a refusal is shown there."""
    try:
        with transaction.atomic():
            work()
    except ValidationError as error:
        for sentence in error.messages:
            messages.error(request, sentence)
    else:
        messages.success(request, said)
    return redirect("orders:supply", pk=finding)


@require_POST
@idempotent
def supply_cease(request, pk: int) -> HttpResponse:
    """It is not counted any more."""
    finding = get_object_or_404(Finding, pk=pk)
    said = _("%(finding)s is not counted in stock any more.") % {"finding": finding}
    return _act(request, pk, lambda: cease_keeping(finding, person=request.user), said)


@require_POST
@idempotent
def purchase_in(request, pk: int) -> HttpResponse:
    """What was ordered has come."""
    purchase = get_object_or_404(Purchase.objects.select_related("finding"), pk=pk)
    said = _("%(what)s came; it lies on its shelf.") % {"what": purchase}
    return _act(request, purchase.finding_id, lambda: take_in(purchase, person=request.user), said)


@require_POST
@idempotent
def purchase_off(request, pk: int) -> HttpResponse:
    """What was ordered will not come; what came was written down wrongly."""
    purchase = get_object_or_404(Purchase.objects.select_related("finding", "posting"), pk=pk)

    def work() -> None:
        if purchase.posting is None:
            call_off(purchase, person=request.user)
        else:
            give_back(purchase, person=request.user, why=request.POST.get("why", "")[:200])

    said = _("The purchase of %(what)s is taken back.") % {"what": purchase}
    return _act(request, purchase.finding_id, work, said)


def supply_to_buy(request) -> HttpResponse:
    """What to buy: what open orders lack and what is below its mark (6 queries)."""
    rows = findings_to_buy()
    if request.GET.get("as") == "csv":
        head = [
            _("what"), _("to buy"), _("unit"), _("bought from"), _("order by"), _("there"),
            _("on its way"), _("orders take"),
        ]  # fmt: skip
        return csv_response([head, *map(_cells, rows)], "to-buy")
    context = {"rows": [_shown(row) for row in rows], "late": any(row.is_late for row in rows)}
    if request.GET.get("as") == "pdf":
        context = base_context(request.business, _("To buy"), **context)
        html = render_to_string("print/to_buy.html", context)
        return printed(request, html, f"to-buy-{timezone.localdate():%Y-%m-%d}")
    context["may_buy"] = may(request, "orders:supply_buy", "POST")
    named = Counter(row.finding.supplier for row in rows if row.finding.supplier)
    context["suppliers"] = [name for name, lines in sorted(named.items()) if lines > 1]
    return render(request, "orders/supplies/to_buy.html", context)


def _cells(row: FindingStock) -> list:
    by = SMALLEST_IN[row.finding.unit]
    to_buy, *quantities = (
        int(n) if (n := Decimal(quantity) / by) == int(n) else n
        for quantity in (row.to_buy, row.there, row.coming, row.needed)
    )
    return [
        str(row.finding), to_buy, unit_words(row.finding.unit), row.finding.supplier,
        row.order_by.isoformat() if row.order_by else "", *quantities,
    ]  # fmt: skip
