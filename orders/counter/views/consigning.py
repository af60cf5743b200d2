"""Goods lent to shops: what lies where, lending more, counting what was sold."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.counter.forms.consigning import CountForm, LendForm
from orders.counter.papers import goods_statement_html
from orders.counter.queries import Lying, designs_lying, free_by_item, free_strands, lying_at
from orders.counter.services.consigning import count_at_shop, lend, sold_there
from orders.counter.services.selling import PricedSale, ShelfShort, price_sale
from orders.designs.queries.designs import drawn_designs
from orders.models import Consignment, StrandDesign
from orders.money.queries.snapshot import text
from orders.papers.respond import printed
from stock.models import Balance
from workshop import formats
from workshop.typed import whole_number
from workshop.views.edit import add_error, form_page, leave_to_owner
from workshop.views.idempotent import idempotent

COUNTED = ("still", "back", "gone", "p")


@require_GET
def goods_list(request) -> HttpResponse:
    """The shops that something is lent to, and how much lies with each (2 queries)."""
    goods = list(Consignment.objects.select_related("shop", "place"))
    there = dict(
        Balance.objects.filter(place__in=[each.place_id for each in goods])
        .order_by()
        .values_list("place")
        .annotate(Sum("quantity"))
    )
    rows = [{"goods": each, "there": there.get(each.place_id, 0)} for each in goods]
    return render(request, "orders/counter/goods_list.html", {"rows": rows})


def _goods(pk: int) -> Consignment:
    return get_object_or_404(Consignment.objects.select_related("shop", "place"), pk=pk)


@require_GET
def goods(request, pk: int) -> HttpResponse:
    """What lies with one shop, at which prices, and what it sold so far."""
    found = _goods(pk)
    rows = lying_at(found)
    cards = {card.design.pk: card for card in drawn_designs([row.design for row in rows])}
    sales = found.sales.select_related("order", "invoice").defer("invoice__content")
    context = {
        "goods": found,
        "rows": [{"row": row, "card": cards[row.design.pk]} for row in rows],
        "whole": _whole(rows),
        "sales": sales.prefetch_related("order__lines__design", "returns")[:30],
    }
    return render(request, "orders/counter/goods.html", context)


def _whole(rows: list[Lying]) -> Decimal:
    return sum((row.sum or Decimal(0) for row in rows), Decimal(0))


@require_GET
def goods_statement(request, pk: int) -> HttpResponse:
    """What lies with a shop, as a paper for both sides."""
    found = _goods(pk)
    html = goods_statement_html(found, request.business)
    return printed(request, html, f"goods-{found.pk}-{timezone.localdate().isoformat()}")


@idempotent
def goods_lend(request) -> HttpResponse:
    """Lend strands to a shop: a new one, or more to one that has some."""
    shelf = free_strands()
    designs, there = designs_lying(shelf), free_by_item(shelf)
    shop = whole_number(request.GET.get("shop"))
    form = LendForm(request.POST or None, designs=designs, initial={"shop": shop})
    leave_to_owner(form, request.user)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            with transaction.atomic():
                lent = lend(
                    said["shop"], form.strands(), person=request.user, on=said["on"],
                    share=said.get("share"),
                )  # fmt: skip
        except ShelfShort as short:
            form.add_error(f"n_{short.design}", short)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(request, _("Lent to %(shop)s.") % {"shop": lent})
            return redirect("orders:goods", pk=lent.pk)
    rows = [
        {"card": card, "there": there[card.design.item_id or 0], "n": form[f"n_{card.design.pk}"]}
        for card in drawn_designs(designs)
    ]
    return form_page(request, "orders/counter/goods_lend.html", {"form": form, "rows": rows})


@dataclass(frozen=True)
class _Looked:
    """What a count comes to."""

    priced: PricedSale | None

    @property
    def below(self) -> bool:
        """Whether what is left of a price stands below its cost."""
        floors = self.priced.floors if self.priced else None
        return floors is not None and floors.sells_below_cost

    @property
    def mark(self) -> str:
        return text(self.priced.due) if self.priced else "0"


@idempotent
def goods_count(request, pk: int) -> HttpResponse:
    """Count what lies with a shop; what is neither there nor back nor gone was sold."""
    found = _goods(pk)
    there = free_strands(at=found)
    designs = designs_lying(there)
    form = CountForm(request.POST or None, goods=found, designs=designs)
    leave_to_owner(form, request.user)
    looked = None
    if request.method == "POST" and form.is_valid():
        try:
            looked = _looked_at(request, found, form, designs, there)
            if "do" in request.POST:
                if request.POST.get("seen") == looked.mark:
                    with transaction.atomic():
                        return _counted(request, found, form, looked.priced)
                form.add_error(None, _("Look at what was sold, then write the count down."))
        except ShelfShort as short:
            form.add_error(f"still_{short.design}", short)
        except ValidationError as error:
            add_error(form, error)
    lying = free_by_item(there)
    context: dict[str, Any] = {
        "goods": found,
        "form": form,
        "rows": [
            {
                "card": card,
                "there": lying[card.design.item_id or 0],
                **{name: form[f"{name}_{card.design.pk}"] for name in COUNTED},
            }
            for card in drawn_designs(designs)
        ],
        "looked": looked,
        "below": looked is not None and looked.below,
    }
    return form_page(request, "orders/counter/goods_count.html", context)


def _looked_at(
    request, found: Consignment, form: CountForm, designs: list[StrandDesign], there: list[Balance]
) -> _Looked:
    by_key = {each.pk: each for each in designs}
    lines = sold_there(found, form.counted(), by_key)
    if not lines:
        return _Looked(None)
    return _Looked(
        price_sale(
            lines,
            customer=None,
            shop=found,
            business=request.business,
            on=form.cleaned_data["on"],
            designs=[by_key[line.design] for line in lines],
            rows=there,
        )
    )


def _counted(
    request, found: Consignment, form: CountForm, priced: PricedSale | None
) -> HttpResponse:
    said = form.cleaned_data
    sale = count_at_shop(
        found, form.counted(), person=request.user, on=said["on"],
        owner_word=said.get("owner_word", ""), priced=priced,
    )  # fmt: skip
    if sale is None:
        messages.success(request, _("Counted; nothing was sold."))
    else:
        messages.success(
            request,
            _("Counted: %(sum)s is invoiced, %(paper)s.")
            % {"sum": formats.money(sale.invoice.total), "paper": sale.invoice},
        )
    return redirect("orders:goods", pk=found.pk)
