"""Selling from the shelf: one screen."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, Q, Sum
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.counter.forms.own_kind import LooseForm
from orders.counter.forms.sell import METHODS, SellForm
from orders.counter.kept_prices import as_data, sale_prices
from orders.counter.queries import (
    beads_to_sell,
    free_loose_beads,
    free_strands,
    loose_kinds,
    standing_of,
)
from orders.counter.services.selling import PricedSale, ShelfShort, price_sale, sell
from orders.counter.views.sheet import people
from orders.designs.queries.designs import DrawnDesign
from orders.designs.services.as_asked import loose_beads
from orders.drawn.masses import loose_masses_g
from orders.drawn.strands import Draughtsman
from orders.models import Sale, StallDay, StrandDesign, WantedLine
from orders.money.queries.snapshot import text
from workshop import formats
from workshop.money import ZERO
from workshop.physics.units import UnitError, parse_count
from workshop.typed import whole_number
from workshop.views.edit import add_error, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.late import Choice, day_of_act, is_late


@dataclass(frozen=True)
class ForSale:
    """A design that lies ready, as the screen shows it."""

    card: DrawnDesign
    count: Any
    price: Any
    each: str
    lowest: str
    below: bool
    total: str
    each_told: Decimal | None = None


class Stand:
    """Everything the screen shows, worked out from what was sent."""

    def __init__(
        self,
        request: Any,
        data: QueryDict,
        *,
        drawn: bool = True,
        loose: LooseForm | None = None,
    ) -> None:
        self.request, self.data, self.drawn = request, data, drawn
        self.day = _open_day(data.get("stall"))
        self.rows = free_strands(at=self.day)
        items: dict[int | None, int] = {}
        for row in self.rows:
            items[row.item_id] = items.get(row.item_id, 0) + row.free_quantity
        self.beads = [] if self.day else free_loose_beads()
        # What was chosen is shown and told of, too, where somebody else just sold the last of it.
        chosen = _chosen(data)
        ready = Q(item__in=[item for item, n in items.items() if n]) | Q(pk__in=chosen)
        if self.beads:
            ready |= Q(sort=StrandDesign.Sort.LOOSE)
        found = StrandDesign.objects.filter(ready).with_findings().order_by("sorts_as")
        self.free = self._free(list(found), items)
        self.designs = [each for each in found if self.free[each.pk] or each.pk in chosen]
        by_weight = [design for design in self.designs if _is_weight(data, design)]
        self.form = SellForm(data, self.designs, each_g=loose_masses_g(by_weight))
        self.form.is_valid()
        self.customer = self.form.cleaned_data.get("customer")
        self.problem = ""
        self.loose = loose or LooseForm()

    def _free(
        self, designs: Sequence[StrandDesign], items: dict[int | None, int]
    ) -> dict[int, int]:
        """How many of each design may be sold, loose beads still among their batches too."""
        kinds: dict[int, int] = {}
        for row in self.beads:
            assert row.item.batch is not None
            bead = row.item.batch.bead_id
            kinds[bead] = kinds.get(bead, 0) + row.free_quantity
        loose = loose_kinds(designs) if kinds else {}
        return {
            design.pk: items.get(design.item_id, 0) + kinds.get(loose.get(design.pk, 0), 0)
            for design in designs
        }

    @cached_property
    def wanted(self) -> list[WantedLine]:
        return self.form.wanted()

    @cached_property
    def priced(self) -> PricedSale | None:
        """What is chosen, priced; None where nothing is, or it cannot be."""
        try:
            return self._price(self.wanted) if self.wanted else None
        except ValidationError as error:
            self.problem = " ".join(error.messages)
            return None

    @property
    def seen(self) -> str:
        return text(self.priced.due) if self.priced else ""

    def _price(self, lines: list[WantedLine]) -> PricedSale:
        return price_sale(
            lines,
            customer=self.customer,
            business=self.request.business,
            on=timezone.localdate(),
            designs=[d for d in self.designs if d.pk in {line.design for line in lines}],
            rows=self.rows,
            beads=self.beads,
        )

    def for_sale(self) -> list[ForSale]:
        """Every design that lies ready with its price; chosen ones at what was chosen."""
        taken = {line.design for line in self.wanted}
        lines = {line.design: line for line in (self.priced.costing.lines if self.priced else ())}
        if self.drawn and (others := [d.pk for d in self.designs if d.pk not in taken]):
            try:
                priced = self._price([WantedLine(pk, 1) for pk in others])
                lines |= {line.design: line for line in priced.costing.lines}
            except ValidationError as error:
                self.problem = self.problem or " ".join(error.messages)
        drawer = Draughtsman(self.designs) if self.drawn else None
        return [self._row(design, lines.get(design.pk), drawer, taken) for design in self.designs]

    def _row(self, design: StrandDesign, line: Any, drawer: Any, taken: set[int]) -> ForSale:
        drawn = drawer.strand(design.pk) if drawer else None
        length = drawer.length(design.pk) if drawer else ""
        chosen = design.pk in taken and line is not None
        return ForSale(
            DrawnDesign(design, drawn, self.free[design.pk], length),
            self.form[f"n_{design.pk}"],
            self.form[f"p_{design.pk}"],
            each=formats.money(line.price_each) if line else "",
            lowest=formats.money(line.lowest) if line else "",
            below=chosen and line.below_cost,
            total=formats.money(line.price_total) if chosen else "",
            each_told=line.price_each if line and not chosen else None,
        )

    def sold_out(self) -> list[StrandDesign]:
        """Designs of which fewer lie free than are to be sold."""
        wanted = {line.design: line.strands for line in self.wanted}
        return [d for d in self.designs if wanted.get(d.pk, 0) > self.free[d.pk]]

    def problems(self) -> list[str]:
        """What is wrong with what was typed, in sentences that name the design."""
        found = [
            f"{design.name}: {error}"
            for design in self.designs
            for name in (f"n_{design.pk}", f"p_{design.pk}")
            for error in self.form.errors.get(name, ())
        ]
        for line in self.wanted:
            design = next(each for each in self.designs if each.pk == line.design)
            if line.strands > (free := self.free[design.pk]):
                found.append(_("%(design)s: only %(n)s lie free.") % {"design": design, "n": free})
        return found + ([self.problem] if self.problem else [])

    def context(self) -> dict[str, Any]:
        rows = self.for_sale()
        priced = self.priced
        business = self.request.business
        most = business.short_form_up_to
        return {
            "stand": self,
            "day": self.day,
            "boxes": self.form,
            "rows": rows,
            "due": priced.due if priced else None,
            "strands": sum(line.strands for line in self.wanted),
            "problems": self.problems(),
            "below": any(row.below for row in rows),
            "loose": self.loose,
            "wants_name": bool(
                priced
                and self.customer is None
                and business.tax_registered
                and most is not None
                and priced.due > most
            ),
            "nameless_most": formats.money(most) if most is not None else "",
        }

    def page_context(self) -> dict[str, Any]:
        who = self.data.get("who", "").strip()
        context = self.context()
        if self.request.phone:
            told = sale_prices(
                context["rows"], self.customer, self.request.business, timezone.localdate()
            )
            context["kept_prices"] = as_data(told)
        return context | {
            "standing": standing_of(self.customer) if self.customer else None,
            "people": people(who) if not self.customer else [],
            "who": who,
            "methods": [(value, label) for value, label in METHODS.items() if value != "cash"],
            "today": _sold_today(),
            "bead_names": beads_to_sell() if not self.day else (),
            "stalls": StallDay.objects.filter(home_at=None)
            .select_related("place")
            .order_by("place"),
        }


def _chosen(data: QueryDict) -> set[int]:
    """Designs for which a number was written."""
    keys = {whole_number(name[2:]) for name in data if name.startswith("n_") and data[name].strip()}
    return {key for key in keys if key is not None}


def _is_weight(data: QueryDict, design: StrandDesign) -> bool:
    """Whether something else than a plain number was typed for loose beads."""
    typed = data.get(f"n_{design.pk}", "").strip()
    return design.is_loose and bool(typed) and not typed.isdecimal()


def _open_day(said: str | None) -> StallDay | None:
    """The day at a stall that is sold at, while it is not home yet (1 query)."""
    key = whole_number(said)
    if key is None:
        return None
    return StallDay.objects.filter(pk=key, home_at=None).select_related("place").first()


def _sold_today() -> dict[str, Any]:
    """How many sales there were today, and what they came to less what went back (2 queries)."""
    sales = Sale.objects.filter(order__collected_on=timezone.localdate())
    told = sales.aggregate(many=Count("pk"), total=Sum("invoice__total"))
    back = sales.aggregate(total=Sum("returns__credit__total"))["total"]
    return {"many": told["many"], "sum": (told["total"] or ZERO) - (back or ZERO)}


def sell_page(request) -> HttpResponse:
    """Tap strands, take the money, give the paper."""
    if request.method == "POST" and request.POST.get("do") == "loose":
        return _page(request, _with_loose(request))
    return _sell_page(request)


@idempotent
def _sell_page(request) -> HttpResponse:
    if request.method != "POST":
        return _page(request, Stand(request, _fresh_data(request)))
    act, __, key = request.POST.get("do", "work").partition(":")
    if act == "pay" and key in METHODS:
        return _pay(request, key)
    return _page(request, Stand(request, _changed(request, act, key)))


def _with_loose(request) -> Stand:
    """A kind of loose beads among what is for sale; what is wrong stays in its box."""
    data, form = request.POST.copy(), LooseForm(request.POST)
    if form.is_valid():
        with refusals_in(form), transaction.atomic():
            made = loose_beads(form.cleaned_data["bead"], person=request.user)
            data[f"n_{made.pk}"] = data.get(f"n_{made.pk}") or "1"
            stand = Stand(request, data)
            if stand.free.get(made.pk):
                return stand
            raise ValidationError(
                {
                    "bead": _("Of %(bead)s none lie free on the shelf. Take an order for them.")
                    % {"bead": form.cleaned_data["bead"]}
                }
            )
    return Stand(request, request.POST, loose=form)


def _fresh_data(request) -> QueryDict:
    """Nothing chosen, or the customer or design that the address names."""
    data = QueryDict(mutable=True)
    if (customer := whole_number(request.GET.get("customer"))) is not None:
        data["customer"] = str(customer)
    if (design := whole_number(request.GET.get("design"))) is not None:
        data[f"n_{design}"] = "1"
    if (day := _open_day(request.GET.get("stall"))) is not None:
        data["stall"], data["drawer"] = str(day.pk), day.place.name
    return data


def _page(request, stand: Stand, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, "orders/counter/sell.html", stand.page_context() | more, status=status)


def _changed(request, act: str, key: str) -> QueryDict:
    """The form after one button: one more, one less, a customer named or not."""
    data = request.POST.copy()
    if act in {"more", "less"}:
        typed = data.get(f"n_{key}", "").strip()
        try:
            count = int(parse_count(typed, "")) if typed else 0
        except UnitError:
            return data
        data[f"n_{key}"] = str(max(0, count + (1 if act == "more" else -1)) or "")
    elif act == "pick":
        data["customer"], data["who"] = key, ""
    elif act == "forget":
        data["customer"] = data["who"] = ""
    return data


def _pay(request, method: str) -> HttpResponse:
    stand = Stand(request, request.POST)
    form = stand.form
    if not form.errors and is_late(request):
        _check_shelf(stand)
    if not form.errors:
        _check_seen(request, stand)
    if not form.errors:
        try:
            with transaction.atomic():
                sale = sell(
                    stand.wanted,
                    person=request.user,
                    way=form.way(method),
                    customer=stand.customer,
                    day=stand.day,
                    on=stand.day.on if stand.day else day_of_act(request),
                    owner_word=form.cleaned_data["owner_word"],
                    priced=stand.priced,
                )
        except ShelfShort as short:
            form.add_error(f"n_{short.design}", short)
        except ValidationError as error:
            add_error(form, error)
        else:
            messages.success(request, _said(sale))
            return redirect("orders:sale", number=sale.number)
    choices = _choices(request, stand) if is_late(request) else []
    return _page(
        request, stand, status=422, show_errors=True, has_errors=True, late_choices=choices
    )


def _check_shelf(stand: Stand) -> None:
    """Of what a phone sold without a signal, whether it still lies free."""
    for design in stand.sold_out():
        wanted = next(line.strands for line in stand.wanted if line.design == design.pk)
        held = sum(row.reserved for row in stand.rows if row.item_id == design.item_id)
        short = ShelfShort(design, wanted, stand.free[design.pk], held, stand.day)
        stand.form.add_error(f"n_{design.pk}", short)


def _choices(request, stand: Stand) -> list[Choice]:
    """What a phone may do instead, which sold without a signal what cannot be sold like that."""
    data, found = request.POST, []
    if data.get("customer") and "customer" in stand.form.errors:
        found.append(Choice(_("Sell it to nobody by name"), {"customer": "", "who": ""}))
    if data.get("stall") and stand.day is None:
        found.append(Choice(_("Sell it from the shelf"), {"stall": ""}))
    if sold_out := stand.sold_out():
        less = {f"n_{each.pk}": str(stand.free[each.pk] or "") for each in sold_out}
        left = _as_if(request, less)
        if left.priced is not None:
            words = {"strands": _told_strands(left), "sum": formats.money(left.priced.due)}
            sentence = _("Sell what is there: %(strands)s, for %(sum)s") % words
            found.append(Choice(sentence, {**less, "seen": left.seen}))
        paid = {"deposit": data.get("seen", ""), "deposit_how": data["do"].partition(":")[2]}
        wanted = {"design": [line.design for line in stand.wanted]}
        path = f"{reverse('orders:counter_phone')}?{urlencode(wanted, doseq=True)}"
        found.append(Choice(_("Take an order for it"), {**paid, "do": "take"}, path, look=True))
    elif stand.priced is not None and data.get("seen", "") != stand.seen:
        words = {"sum": formats.money(stand.priced.due)}
        sentence = _("Sell it for %(sum)s, as prices are now") % words
        found.append(Choice(sentence, {"seen": stand.seen}))
        told = {
            f"p_{line.design}": each
            for line in stand.wanted
            if (each := data.get(f"told_{line.design}", ""))
        }
        as_told = _as_if(request, told)
        if as_told.priced is not None and as_told.seen == data.get("seen"):
            words = {"sum": formats.money(as_told.priced.due)}
            found.append(Choice(_("Sell it for %(sum)s, as was told") % words, told))
    return found


def _as_if(request, boxes: Mapping[str, str]) -> Stand:
    """The screen as it would be with something else in some of its boxes."""
    data = request.POST.copy()
    for name, value in boxes.items():
        data[name] = value
    return Stand(request, data, drawn=False)


def _told_strands(stand: Stand) -> str:
    names = {design.pk: design.name for design in stand.designs}
    return ", ".join(f"{line.strands} × {names[line.design]}" for line in stand.wanted)


def _check_seen(request, stand: Stand) -> None:
    """What is charged must be what was told to the customer, from where it was sold."""
    if request.POST.get("stall") and stand.day is None:
        stand.form.add_error(
            None, _("That stall is home by now; what is sold here is sold from the shelf.")
        )
    elif not stand.wanted:
        stand.form.add_error(None, _("Nothing is chosen yet. Tap a strand that is to be sold."))
    elif stand.priced is None:
        stand.form.add_error(None, stand.problem)
    elif request.POST.get("seen", "") != stand.seen:
        stand.form.add_error(
            None,
            _("To pay is %(sum)s. Look at it, then press again.")
            % {"sum": formats.money(stand.priced.due)},
        )


def _said(sale: Sale) -> str:
    words = {"number": sale.number, "sum": formats.money(sale.invoice.total)}
    return _("Sold for %(sum)s, sale %(number)s.") % words


@require_POST
def sell_panel(request) -> HttpResponse:
    """Something was tapped or typed: what it comes to. No box that can be typed into is in it."""
    return render(
        request,
        "orders/counter/_sell_panel.html",
        Stand(request, request.POST, drawn=False).context(),
    )
