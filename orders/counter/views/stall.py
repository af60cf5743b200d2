"""Days at a market stall: what goes out, what is there, what comes home."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, F, Sum
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.counter.forms.stall import CarryOutForm, ComeHomeForm
from orders.counter.queries import designs_lying, free_by_item, free_strands
from orders.counter.services.selling import PricedSale, ShelfShort, price_sale
from orders.counter.services.stall import carry_out, come_home, sold_by_count
from orders.designs.queries.designs import drawn_designs
from orders.models import Payment, SaleReturn, StallDay, StrandDesign
from orders.money.queries.snapshot import text
from workshop import formats
from workshop.models import MoneyField
from workshop.money import ZERO
from workshop.typed import whole_number
from workshop.views.edit import add_error, form_page
from workshop.views.idempotent import idempotent

MOST_DAYS = 30


@require_GET
def stall_list(request) -> HttpResponse:
    """Stalls that are out, and the days that are home (2 queries)."""
    found = StallDay.objects.select_related("place", "carried_by").annotate(
        many=Count("sales"), taken=Sum("sales__invoice__total")
    )
    days = list(found[:MOST_DAYS])
    back = dict(
        SaleReturn.objects.filter(sale__stall_day__in=days)
        .order_by()
        .values_list("sale__stall_day")
        .annotate(n=Sum("credit__total"))
    )
    for day in days:
        day.taken = (day.taken or ZERO) - back.get(day.pk, ZERO)
    context = {
        "out": [day for day in days if day.is_open],
        "home": [day for day in days if not day.is_open],
    }
    return render(request, "orders/counter/stall_list.html", context)


def _rows(designs: list[StrandDesign], there: dict[int, int], form: Any, *names: str) -> list:
    """Each design drawn, how many are there, and its boxes."""
    return [
        {
            "card": card,
            "there": there[card.design.item_id or 0],
            **{name: form[f"{name}_{card.design.pk}"] for name in names},
        }
        for card in drawn_designs(designs)
    ]


@idempotent
def stall_out(request) -> HttpResponse:
    """Carry strands out: to a new day, or more of them to one that has begun."""
    key = whole_number(request.GET.get("day"))
    day = None
    if key is not None:
        day = get_object_or_404(StallDay.objects.select_related("place"), pk=key, home_at=None)
    shelf = free_strands()
    designs = designs_lying(shelf)
    form = CarryOutForm(request.POST or None, designs=designs, more=day is not None)
    if request.method == "POST" and form.is_valid():
        told = {} if day else {"stall": form.cleaned_data["stall"], "on": form.cleaned_data["on"]}
        try:
            with transaction.atomic():
                began = carry_out(form.strands(), person=request.user, day=day, **told)
        except ShelfShort as short:
            form.add_error(f"n_{short.design}", short)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(request, _("Carried out to %(stall)s.") % {"stall": began.place})
            return redirect("orders:stall", pk=began.pk)
    context = {"form": form, "day": day, "rows": _rows(designs, free_by_item(shelf), form, "n")}
    return form_page(request, "orders/counter/stall_out.html", context)


@require_GET
def stall(request, pk: int) -> HttpResponse:
    """One day: what is out there now, what was sold so far, how it was paid."""
    day = get_object_or_404(StallDay.objects.select_related("place", "carried_by"), pk=pk)
    out = free_strands(at=day) if day.is_open else []
    paid = (
        day.sales.filter(payment__isnull=False)
        .values_list("payment__method")
        .annotate(n=Sum("payment__amount"), coins=Sum("payment__rounding"))
        .order_by("payment__method")
    )
    sales = day.sales.select_related("order", "invoice", "payment").defer("invoice__content")
    context = {
        "day": day,
        "rows": [
            {"card": card, "there": free_by_item(out)[card.design.item_id or 0]}
            for card in drawn_designs(designs_lying(out))
        ],
        "sales": sales.prefetch_related("order__lines__design", "returns"),
        "given_back": -(
            SaleReturn.objects.filter(sale__stall_day=day).aggregate(
                n=Sum(F("refund__amount") + F("refund__rounding"), output_field=MoneyField())
            )["n"]
            or ZERO
        ),
        "paid": [(Payment.Method(method).label, n + coins) for method, n, coins in paid],
    }
    return render(request, "orders/counter/stall.html", context)


@idempotent
def stall_home(request, pk: int) -> HttpResponse:
    """Count what came home; what neither came home nor is gone was sold."""
    day = get_object_or_404(StallDay.objects.select_related("place"), pk=pk)
    if not day.is_open:
        if request.method == "POST":
            messages.info(request, _("%(day)s is home already.") % {"day": day})
            return redirect("orders:stall", pk=pk)
        raise Http404
    out = free_strands(at=day)
    designs = designs_lying(out)
    form = ComeHomeForm(request.POST or None, designs=designs, initial={"drawer": day.place.name})
    priced: PricedSale | None = None
    lines: list = []
    if request.method == "POST" and form.is_valid():
        try:
            lines = sold_by_count(day, form.counted(), {each.pk: each for each in designs})
            if lines:
                priced = price_sale(
                    lines,
                    customer=None,
                    business=request.business,
                    on=day.on,
                    designs=[d for d in designs if d.pk in {line.design for line in lines}],
                    rows=out,
                )
            if request.POST.get("do") == "home":
                if request.POST.get("seen", "") == _seen(priced):
                    with transaction.atomic():
                        return _bring_home(request, day, form, priced)
                form.add_error(None, _("Look at what was sold, then write the day down."))
        except ShelfShort as short:
            form.add_error(f"home_{short.design}", short)
        except ValidationError as error:
            add_error(form, error)
    context = {
        "form": form,
        "day": day,
        "rows": _rows(designs, free_by_item(out), form, "home", "gone", "p"),
        "looked": request.method == "POST" and not form.errors,
        "lines": [
            {"line": line, "sum": formats.money(line.price_total)}
            for line in (priced.costing.lines if priced else ())
        ],
        "due": priced.due if priced else None,
        "seen": _seen(priced),
        "below": bool(priced and priced.costing.sells_below_cost),
    }
    status = 422 if form.errors else 200
    return render(request, "orders/counter/stall_home.html", context, status=status)


def _seen(priced: PricedSale | None) -> str:
    return text(priced.due) if priced else "0"


def _bring_home(request, day: StallDay, form: ComeHomeForm, priced: PricedSale | None):
    """Write the day down; a refusal of the money is shown where it belongs."""
    sale = come_home(
        day,
        form.counted(),
        person=request.user,
        way=form.way(),
        owner_word=form.cleaned_data["owner_word"],
        priced=priced,
    )
    if sale is None:
        messages.success(request, _("Home again; nothing more was sold."))
    else:
        messages.success(
            request,
            _("Home again: the rest was sold for %(sum)s.")
            % {"sum": formats.money(sale.invoice.total)},
        )
    return redirect("orders:stall", pk=day.pk)
