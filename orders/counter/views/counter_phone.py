"""An order taken on a phone without a signal: prices as they were last seen, the day told later."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.counter.forms.counter import CounterForm, NewCustomerForm
from orders.counter.kept_prices import as_data, order_prices
from orders.counter.views.counter import take_sheet
from orders.counter.views.sheet import MOST_DESIGNS, Sheet
from orders.designs.queries.designs import DrawnDesign, designs_by_use, drawn_designs
from orders.models import Customer, StrandDesign
from orders.money.queries.snapshot import text
from workshop import formats
from workshop.phone_door.middleware import only_by_phone
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent
from workshop.views.late import Choice, is_late


@dataclass(frozen=True)
class ToTake:
    """A design as a card of the page shows it; the phone fills in what it costs."""

    card: DrawnDesign
    count: Any
    price: Any
    each: str = ""
    total: str = ""
    below: bool = False


@only_by_phone
@idempotent
def counter_phone(request) -> HttpResponse:
    """Everything of an order on one page that needs no answer while it is written."""
    if request.method != "POST":
        return _page(request)
    data = _as_at_the_counter(request.POST)
    confirm = data.get("do") != "draft"
    sheet, taken = take_sheet(request, data, None, confirm=confirm, check=_check_told)
    if taken is not None:
        return redirect("orders:order_detail", number=taken.number)
    # The counter's own page, filled in: where the desk answers, it is finished there.
    context = sheet.full_context() | {"post_url": reverse("orders:counter")}
    if is_late(request):
        context["late_choices"] = _choices(data, sheet)
    return render(request, "orders/counter/page.html", context, status=422)


def _page(request) -> HttpResponse:
    designs = list(designs_by_use()[:MOST_DESIGNS])
    named = {whole_number(key) for key in request.GET.getlist("design")} - {None}
    named -= {design.pk for design in designs}
    designs += StrandDesign.objects.filter(pk__in=named).with_findings()
    form = CounterForm(None, designs)
    for name, field in form.fields.items():
        if name.startswith("n_"):
            field.widget.attrs |= {"placeholder": "0", "inputmode": "numeric"}
            field.required = False
    prices = order_prices(designs, request.business, timezone.localdate())
    context = {
        "boxes": form,
        "new_form": NewCustomerForm(initial={"group": "walk-in"}),
        "rows": [
            ToTake(card, form[f"n_{card.design.pk}"], form[f"p_{card.design.pk}"])
            for card in drawn_designs(designs)
        ],
        "people": [person["name"] for person in prices["people"]],
        "kept_prices": as_data(prices),
    }
    return render(request, "orders/counter/phone.html", context)


def _as_at_the_counter(said: QueryDict) -> QueryDict:
    """What the phone wrote as the counter's own form would have sent it (1 query)."""
    data = said.copy()
    written = [
        whole_number(name[2:]) for name in said if name.startswith("n_") and said[name].strip()
    ]
    data.setlist("line", [str(key) for key in written if key is not None])
    who = " ".join(said.get("who", "").split())
    if who and not said.get("customer"):
        known = Customer.objects.filter(name__iexact=who, in_use=True, nameless=False)[:2]
        if len(known) == 1:
            data["customer"] = str(known[0].pk)
        else:
            data["adding"], data["new-name"] = "yes", who
    return data


def _check_told(request, sheet: Sheet) -> None:
    """Prices must be those that were told on the phone, and the day no later than was wished."""
    for name, told, now in _other_prices(sheet):
        words = {"design": name, "told": told, "now": formats.money(now)}
        sheet.form.add_error(
            None, _("%(design)s: %(told)s each was told, and now it is %(now)s.") % words
        )
    promise = sheet.reckoning.promise if sheet.reckoning else None
    wished = sheet.form.cleaned_data.get("due_on")
    if promise and wished and wished < promise.p90_on:
        words = {
            "day": formats.date_short(promise.p90_on),
            "wished": formats.date_short(wished),
        }
        sheet.form.add_error(
            "due_on",
            _("It was wished for %(wished)s, and can be collected from %(day)s.") % words,
        )


def _other_prices(sheet: Sheet) -> list[tuple[str, str, Any]]:
    """Lines whose price is not what was told: the design, what was told, what it is now."""
    return [
        (names, told, line.price_each)
        for line in (sheet.costing.lines if sheet.costing else ())
        if (told := sheet.data.get(f"told_{line.design}", "")) and told != text(line.price_each)
        for names in [next(each.name for each in sheet.designs if each.pk == line.design)]
    ]


def _choices(data: QueryDict, sheet: Sheet) -> list[Choice]:
    """What is possible instead with an order that the desk could not take as it was written."""
    found = []
    if "customer" in sheet.form.errors and data.get("customer") and data.get("who"):
        words = {"who": data["who"]}
        found.append(Choice(_("Take it for %(who)s as a new name") % words, {"customer": ""}))
    if sheet.costing is not None and _other_prices(sheet):
        lines = sheet.costing.lines
        told = {f"p_{line.design}": data.get(f"told_{line.design}", "") for line in lines}
        now = {f"told_{line.design}": text(line.price_each) for line in lines}
        found.append(Choice(_("Take it at the prices that were told"), told))
        found.append(Choice(_("Take it at the prices of now"), now))
    promise = sheet.reckoning.promise if sheet.reckoning else None
    if "due_on" in sheet.form.errors and promise is not None:
        words = {"day": formats.date_short(promise.p90_on)}
        found.append(Choice(_("Take it, to be collected from %(day)s") % words, {"due_on": ""}))
    known = sheet.customer is not None or (sheet.new_form and sheet.new_form.is_valid())
    if sheet.designs and known:
        found.append(Choice(_("Write it down, nothing promised yet"), {"do": "draft"}))
    return found
