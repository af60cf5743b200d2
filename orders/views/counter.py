"""Taking an order at the counter: one page, one form, figures that follow the typing."""

from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from orders.forms.counter import CounterForm, NewCustomerForm, data_of_order
from orders.models import Customer, Order, StrandDesign
from orders.queries.designs import DrawnDesign, designs_by_use, drawn_designs
from orders.queries.panel import Panel, panel_of, price_source, terms_of
from orders.queries.people import Standing, find_customers, standing_of
from orders.services.customers import add_customer
from orders.services.ordering import (
    NOT_YET,
    change_draft,
    confirm_order,
    draft_order,
    latest_taking,
)
from orders.services.reckoning import Reckoning, reckon
from orders.services.seen import figures_mark, mark
from orders.services.working import shown
from workshop import formats
from workshop.physics.units import UnitError, parse_count
from workshop.views.edit import add_error
from workshop.views.once import act_once

MOST_DESIGNS = 24
A_FEW_DESIGNS = 6  # beside the lines of an order, so that the day and deposit stay near
MOST_PEOPLE, A_FEW_PEOPLE = 8, 4


@dataclass
class CounterLine:
    """One line as the page shows it."""

    design: StrandDesign
    card: DrawnDesign | None
    count: Any
    price: Any
    each: str = ""
    source: str = ""
    total: str = ""
    lowest: str = ""
    counted: str = ""
    reached_mm: Any = None
    below: bool = False
    new: bool = False


@dataclass
class Sheet:
    """Everything the page shows, worked out from what was sent."""

    request: Any
    data: QueryDict
    order: Order | None = None
    designs: list[StrandDesign] = field(default_factory=list)
    new_line: int | None = None
    show_errors: bool = False

    def __post_init__(self) -> None:
        self.designs = _designs_in_order(self.data)
        self.form = CounterForm(self.data, self.designs)
        self.form.is_valid()
        self.customer: Customer | None = self.form.cleaned_data.get("customer")
        self.new_form = NewCustomerForm(self.data) if self._is_adding else None
        self.reckoning: Reckoning | None = None
        if self.designs:
            self.reckoning = reckon(
                self.form.wanted(),
                customer=self.customer,
                designs=self.designs,
                group=self.data.get("new-group", "") if self._is_adding else "",
                business=self.request.business,
                today=timezone.localdate(),
                order=self.order,
            )

    @property
    def _is_adding(self) -> bool:
        """A new name is being written instead of choosing one from the list."""
        return bool(self.data.get("adding")) and not self.data.get("customer")

    @property
    def panel(self) -> Panel | None:
        costing = self.reckoning.costing if self.reckoning else None
        return panel_of(costing) if costing else None

    @property
    def standing(self) -> Standing | None:
        return standing_of(self.customer) if self.customer else None

    @property
    def seen(self) -> str:
        """A mark of the figures shown: what is confirmed must be what was looked at."""
        costing = self.reckoning.costing if self.reckoning else None
        if costing is None:
            return ""
        promise = self.reckoning.promise if self.reckoning else None
        return figures_mark(costing, promise, self.customer and self.customer.pk)

    def lines(self, *, drawn: bool = True) -> list[CounterLine]:
        """The lines as the page shows them; the live panel does without their drawings."""
        costing = self.reckoning.costing if self.reckoning else None
        by_design = {line.design: line for line in costing.lines} if costing else {}
        found = []
        cards = drawn_designs(self.designs) if drawn else [None] * len(self.designs)
        for design, card in zip(self.designs, cards, strict=True):
            pk = design.pk
            line = CounterLine(
                design,
                card,
                self.form[f"n_{pk}"],
                self.form[f"p_{pk}"],
                new=pk == self.new_line,
            )
            if (priced := by_design.get(pk)) is not None:
                line.each = formats.money(priced.price_each)
                line.source = price_source(priced.price_from)
                line.total = formats.money(priced.price_total)
                line.lowest = formats.money(priced.lowest)
                line.below = priced.below_cost
                line.reached_mm = _off_length(priced)
                if not self.data.get(f"n_{pk}", "").strip().isdecimal():
                    line.counted = formats.count(priced.quantity)
            found.append(line)
        return found

    def context(self, *, drawn: bool = True) -> dict[str, Any]:
        lines = self.lines(drawn=drawn)
        promise = self.reckoning.promise if self.reckoning else None
        due_on = self.form.cleaned_data.get("due_on")
        return {
            "sheet": self,
            "boxes": self.form,
            "lines": lines,
            "lines_seen": _lines_mark(self.data),
            "change_url": self._url("counter_change"),
            "panel_url": self._url("counter_panel"),
            "panel": self.panel,
            "promise": promise,
            "reckoning": self.reckoning,
            "notices": self.reckoning.notices if self.reckoning else (),
            "problems": self.form.line_problems(),
            "late": bool(promise and due_on and due_on < promise.likely_on),
            "due_on": due_on,
            "below": [line for line in lines if line.below],
            "standing": self.standing if drawn else None,
            "order": self.order,
            "show_errors": self.show_errors,
            "has_errors": self.show_errors and bool(self.form.errors),
            "deposit_hint": self._deposit_hint(),
        }

    def _url(self, name: str) -> str:
        """Where the parts of this very page come from: a new order's, or a draft's."""
        if self.order is None:
            return reverse(f"orders:{name}")
        return reverse(f"orders:order_{name}", args=[self.order.number])

    def _deposit_hint(self) -> str:
        panel, share = self.panel, self.request.business.deposit_share
        if panel is None or not share:
            return ""
        return _("Usual: %(sum)s") % {"sum": formats.money(panel.price * share)}

    def full_context(self) -> dict[str, Any]:
        """What the whole page shows besides: designs to add, customers found, a new name."""
        words = self.data.get("find", "")
        who = self.data.get("who", "").strip()
        taken = {design.pk for design in self.designs}
        return (
            self.context()
            | _designs_to_add(words, taken)
            | {
                "who": who,
                "people": _people(who) if not self.customer and not self.new_form else [],
                "new_form": self._shown_new_form(),
                "new_forms": [self.new_form] if self.new_form else [],
            }
        )

    def _shown_new_form(self) -> NewCustomerForm | None:
        """Errors of the new name are shown once the order is sent, not while it is written."""
        if self.new_form is None or self.show_errors:
            return self.new_form
        typed = {name: self.data.get(f"new-{name}", "") for name in NewCustomerForm.base_fields}
        return NewCustomerForm(initial=typed)


def _off_length(priced) -> Any:
    """The length a strand reaches, where that is not the length asked for to a millimetre."""
    layout = priced.layout
    if layout is None or abs(layout.finished_mm - layout.asked_mm) < 1:
        return None
    return layout.finished_mm


def _people(who: str) -> list[Customer]:
    """Those who fit what was typed; before anything is typed, the latest buyers."""
    return find_customers(who, MOST_PEOPLE if who else A_FEW_PEOPLE)


def _designs_to_add(words: str, taken: set[int], *, all_of_them: bool = False) -> dict[str, Any]:
    """Cards of the designs that are not on the order yet; a few once it has lines."""
    designs = [design for design in designs_by_use(words) if design.pk not in taken]
    most = MOST_DESIGNS if words or all_of_them or not taken else A_FEW_DESIGNS
    return {
        "cards": drawn_designs(designs[:most]),
        "more_designs": max(0, len(designs) - most),
        "find": words,
    }


def _designs_in_order(data: QueryDict) -> list[StrandDesign]:
    """The designs of the lines, in their order; what is no design any more is left out."""
    keys = list(dict.fromkeys(int(key) for key in data.getlist("line") if key.isdecimal()))[:200]
    rows = StrandDesign.objects.select_related("clasp", "cord").in_bulk(keys)
    return [rows[key] for key in keys if key in rows]


# --- the page ---------------------------------------------------------------------------------


@act_once
def counter(request, number: int | None = None) -> HttpResponse:
    """Take a new order, or change one that is not confirmed yet."""
    order = _draft(number)
    if request.method != "POST":
        return _page(request, Sheet(request, _fresh_data(request, order), order))
    did = request.POST.get("do", "work")
    if did in {"take", "draft"}:
        return _send(request, order, confirm=did == "take")
    sheet, __ = _changed(request, order)
    return _page(request, sheet)


def _draft(number: int | None) -> Order | None:
    if number is None:
        return None
    order = get_object_or_404(Order.objects.select_related("customer"), number=number)
    if order.state not in NOT_YET:
        raise Http404
    return order


def _fresh_data(request, order: Order | None) -> QueryDict:
    """An order's own figures, those of `?again=`, or a customer alone."""
    if order is not None:
        return data_of_order(order)
    data = QueryDict(mutable=True)
    again = request.GET.get("again", "")
    if again.isdecimal():
        before = Order.objects.filter(number=int(again)).first()
        if before is not None:
            data = _again(before)
    customer = request.GET.get("customer", "")
    if customer.isdecimal():
        data["customer"] = customer
    design = request.GET.get("design", "")
    if design.isdecimal():
        data.appendlist("line", design)
        data[f"n_{design}"] = "1"
    return data


def _again(before: Order) -> QueryDict:
    """The same lines again; prices are today's, the day is open."""
    data = data_of_order(before)
    data["due_on"] = data["note"] = ""
    for name in list(data):
        if name.startswith("p_"):
            data[name] = ""
    return data


def _page(request, sheet: Sheet, status: int = 200) -> HttpResponse:
    return render(request, "orders/counter/page.html", sheet.full_context(), status=status)


# --- what a button does to the form -------------------------------------------------------------


def _changed(request, order: Order | None) -> tuple[Sheet, str]:
    """The form after one button: a line added, a customer chosen, one more, one less."""
    data = request.POST.copy()
    act, __, key = data.get("do", "work").partition(":")
    new_line = None
    if act == "add" and key.isdecimal():
        new_line = int(key)
        if key not in data.getlist("line"):
            data.appendlist("line", key)
        data.setdefault(f"n_{key}", "1")
        data["find"] = ""
    elif act == "drop":
        data.setlist("line", [line for line in data.getlist("line") if line != key])
        data.pop(f"n_{key}", None)
        data.pop(f"p_{key}", None)
    elif act in {"more", "less"}:
        data[f"n_{key}"] = _stepped(data.get(f"n_{key}", ""), 1 if act == "more" else -1)
    elif act == "pick":
        data["customer"], data["who"] = key, ""
        data.pop("adding", None)
    elif act == "forget":
        data["customer"] = ""
    elif act == "adding":
        data["adding"], data["new-name"] = "yes", data.get("who", "").strip()
    elif act == "not-adding":
        data.pop("adding", None)
    elif act == "again" and key.isdecimal():
        before = Order.objects.filter(number=int(key)).first()
        if before is not None:
            kept = data
            data = _again(before)
            data["key"], data["customer"] = kept.get("key", ""), kept.get("customer", "")
    return Sheet(request, data, order, new_line=new_line), act


def _stepped(text: str, step: int) -> str:
    """One more or one fewer; what cannot be read stays as it was typed."""
    if not text.strip():
        return "1"
    try:
        return str(max(1, int(parse_count(text, "")) + step))
    except UnitError:
        return text


# --- sending it off -----------------------------------------------------------------------------


def _send(request, order: Order | None, *, confirm: bool) -> HttpResponse:
    sheet = Sheet(request, request.POST, order, show_errors=True)
    form = sheet.form
    if not sheet.designs:
        form.add_error(
            None, _("The order has no lines. Add a strand design and how many of it are wanted.")
        )
    if sheet.customer is None and not (sheet.new_form and sheet.new_form.is_valid()):
        form.add_error("customer", _who_is_it_for(sheet))
    if sheet.reckoning is not None and sheet.reckoning.refusal:
        form.add_error(None, sheet.reckoning.refusal)
    if confirm and not form.errors:
        _check_seen(request, sheet)
    if not form.errors:
        try:
            with transaction.atomic():
                taken = _write(request, sheet, confirm=confirm)
        except ValidationError as error:
            add_error(form, error)
        else:
            return redirect("orders:order_detail", number=taken.number)
    return _page(request, sheet, status=422)


def _who_is_it_for(sheet: Sheet) -> str:
    if sheet.new_form is not None:
        return _("The new customer’s name needs another look.")
    typed = sheet.data.get("who", "").strip()
    if typed:
        return _("Choose “%(typed)s” from the list, or add it as a new customer.") % {
            "typed": typed
        }
    return _("Choose who the order is for, or add a new name.")


def _check_seen(request, sheet: Sheet) -> None:
    """What is promised must be what was on the sheet when the button was pressed."""
    seen = request.POST.get("seen", "")
    if seen == sheet.seen:
        return
    if not seen:
        sentence = _("Look at the date and the price, then take the order.")
    elif request.POST.get("lines_seen", "") == _lines_mark(request.POST):
        sentence = _("%(why)s The figures are new; look at them and take the order again.") % {
            "why": latest_taking()
        }
    else:
        sentence = _("The figures have followed what you typed; look at them and take the order.")
    sheet.form.add_error(None, sentence)


def _lines_mark(data: QueryDict) -> str:
    """What was typed into the lines, to tell a change of the shelf from a change of the order."""
    told = [
        (key, data.get(f"n_{key}", ""), data.get(f"p_{key}", "")) for key in data.getlist("line")
    ]
    return mark((told, data.get("customer")))


def _write(request, sheet: Sheet, *, confirm: bool) -> Order:
    said = sheet.form.cleaned_data
    wanted = sheet.form.wanted()
    customer = sheet.customer or add_customer(sheet.new_form, person=request.user)
    if sheet.order is None:
        order = draft_order(
            customer,
            wanted,
            person=request.user,
            due_on=said["due_on"],
            note=said["note"],
        )
    else:
        order = change_draft(
            sheet.order,
            wanted,
            person=request.user,
            customer=customer,
            due_on=said["due_on"],
            note=said["note"],
        )
    if confirm:
        order = confirm_order(
            order,
            person=request.user,
            owner_word=said["owner_word"],
            business=request.business,
        ).order
    if said["deposit"]:
        _take_deposit(request, order, said)
    _tell(request, order, said["deposit"])
    return order


def _take_deposit(request, order: Order, said: dict[str, Any]) -> None:
    from orders.services.payments import Way, record_payment

    record_payment(
        order.customer,
        said["deposit"],
        by=request.user,
        way=Way(
            method=said["deposit_how"],
            network=said["network"],
            reference=said["reference"],
        ),
        order=order,
    )


def _tell(request, order: Order, deposit) -> None:
    if order.state == Order.State.CONFIRMED:
        sentence = _("Order %(number)s is taken: collect from %(day)s.") % {
            "number": order.number,
            "day": formats.date_short(order.likely_on),
        }
    else:
        sentence = _("Order %(number)s is written down; nothing is promised yet.") % {
            "number": order.number
        }
    if deposit:
        sentence += " " + _("Deposit taken: %(amount)s.") % {"amount": formats.money(deposit)}
    messages.success(request, sentence)


# --- the parts that replace themselves ------------------------------------------------------------


@require_POST
def counter_change(request, number: int | None = None) -> HttpResponse:
    """A button was pressed: the form's body and the sheet again."""
    with transaction.atomic():
        sheet, __ = _changed(request, _draft(number))
    return render(request, "orders/counter/_changed.html", sheet.full_context())


@require_POST
def counter_panel(request, number: int | None = None) -> HttpResponse:
    """Something was typed: the sheet again, and what each line comes to."""
    sheet = Sheet(request, request.POST, _draft(number))
    return render(request, "orders/counter/_panel.html", sheet.context(drawn=False))


@require_POST
def counter_working(request, figure: str) -> HttpResponse:
    """The working of one figure of the sheet: unfolded in place, or as a page without scripts."""
    sheet = Sheet(request, request.POST)
    costing = sheet.reckoning.costing if sheet.reckoning else None
    context = {
        "terms": [shown(term) for term in terms_of(costing, figure)] if costing else [],
        "promise": sheet.reckoning.promise if sheet.reckoning and figure == "date" else None,
        "figure": figure,
        "back": reverse("orders:counter"),
    }
    template = "orders/counter/_working.html" if request.htmx else "orders/counter/working.html"
    return render(request, template, context)


@require_GET
def counter_people(request) -> HttpResponse:
    """Customers found as their name is typed."""
    who = request.GET.get("who", "").strip()
    return render(request, "orders/counter/_people.html", {"people": _people(who), "who": who})


@require_GET
def counter_designs(request) -> HttpResponse:
    """Designs found as their name is typed; those on the order already are left out."""
    taken = {int(key) for key in request.GET.getlist("line") if key.isdecimal()}
    found = _designs_to_add(request.GET.get("find", ""), taken, all_of_them="all" in request.GET)
    return render(request, "orders/counter/_designs.html", found)
