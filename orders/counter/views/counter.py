"""Taking an order at the counter: one page, one form, figures that follow the typing."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from orders.counter.forms.counter import data_of_order
from orders.counter.forms.own_kind import AskedForm, LooseForm, WorkForm
from orders.counter.forms.talk import TalkForm
from orders.counter.services.customers import add_customer
from orders.counter.services.ordering import (
    NOT_YET,
    change_draft,
    changed_meanwhile,
    confirm_order,
    draft_order,
    latest_taking,
)
from orders.counter.views.sheet import (
    OWN_KINDS,
    OwnKind,
    Sheet,
    designs_to_add,
    lines_mark,
    people,
)
from orders.designs.queries.designs import beads_on
from orders.designs.services.as_asked import as_asked, loose_beads, work_on_a_piece
from orders.floor.kiln_room import hold_the_kilns
from orders.models import Order, StrandDesign
from orders.reckoning.panel import terms_of
from orders.reckoning.working import shown
from workshop import formats
from workshop.physics.units import UnitError, parse_count
from workshop.typed import whole_number
from workshop.views.edit import refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.late import day_of_act

MADE_AT_ONCE = frozenset({"vary", *OWN_KINDS})

# --- the page ---------------------------------------------------------------------------------


def counter(request, number: int | None = None) -> HttpResponse:
    """Take a new order, or change one that is not confirmed yet."""
    if request.method == "POST" and request.POST.get("do", "").partition(":")[0] in MADE_AT_ONCE:
        # What is made for a line stays, though nothing is taken yet: the line names it.
        with transaction.atomic():
            sheet, __ = _changed(request, _draft(number))
        return _page(request, sheet)
    return _counter(request, number)


@idempotent
def _counter(request, number: int | None) -> HttpResponse:
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
    again = whole_number(request.GET.get("again"))
    if again is not None:
        before = Order.objects.filter(number=again).first()
        if before is not None:
            data = _again(before)
    customer = whole_number(request.GET.get("customer"))
    if customer is not None:
        data["customer"] = str(customer)
    design = whole_number(request.GET.get("design"))
    if design is not None:
        data.appendlist("line", str(design))
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
    new_line = replaces = None
    own_kind = OwnKind()
    number = whole_number(key)
    if act == "vary" and number is not None:
        new_line, replaces = _as_asked(request, data, number, own_kind)
    elif act in OWN_KINDS:
        new_line = _of_its_own_kind(request, data, act, own_kind)
    if act == "add" and number is not None:
        new_line = number
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
    elif act == "talk-over":
        _talked_over(request, data, order)
    elif act == "pick":
        data["customer"], data["who"] = key, ""
        data.pop("adding", None)
    elif act == "forget":
        data["customer"] = data["who"] = ""
    elif act == "adding":
        data["adding"], data["new-name"] = "yes", data.get("who", "").strip()
    elif act == "not-adding":
        data.pop("adding", None)
    elif act == "again" and number is not None:
        before = Order.objects.filter(number=number).first()
        if before is not None:
            kept = data
            data = _again(before)
            data["key"], data["customer"] = kept.get("key", ""), kept.get("customer", "")
    sheet = Sheet(request, data, order, new_line=new_line, replaces=replaces, own_kind=own_kind)
    if act == "talk":
        sheet.talk_form = TalkForm(data)
    return sheet, act


def _talked_over(request, data: QueryDict, order: Order | None) -> None:
    """What was agreed in talk is written into the boxes: how many, and the price of each."""
    sheet = Sheet(request, data, order, talk_form=TalkForm(data))
    if (agreed := sheet.talk()) is not None:
        for line in agreed.wanted:
            data[f"n_{line.design}"] = str(line.strands)
            if line.price is not None:
                data[f"p_{line.design}"] = f"{line.price:f}"


def _as_asked(
    request, data: QueryDict, number: int, own_kind: OwnKind
) -> tuple[int | None, int | None]:
    """A line's design as it is wanted takes its place; gives the new line and the one it was."""
    design = StrandDesign.objects.select_related("variant_of").filter(pk=number).first()
    if design is None or str(number) not in data.getlist("line"):
        return None, None
    form = AskedForm(data, design, beads_on([design]).get(number, []))
    if form.is_valid():
        with refusals_in(form), transaction.atomic():
            made = str(as_asked(design, form.asked(), person=request.user).pk)
            if made in data.getlist("line"):
                raise ValidationError(
                    _("That is on the order already; write how many of it there.")
                )
            data.setlist(
                "line", [made if key == str(number) else key for key in data.getlist("line")]
            )
            data[f"n_{made}"] = data.get(f"n_{number}", "1")
            return int(made), number
    own_kind.asked[number] = form
    return number, number


def _of_its_own_kind(request, data: QueryDict, act: str, own_kind: OwnKind) -> int | None:
    """Loose beads or work put on the order; what is wrong stays in its boxes."""
    form: LooseForm | WorkForm = LooseForm(data) if act == "loose" else WorkForm(data)
    if form.is_valid():
        with refusals_in(form), transaction.atomic():
            if isinstance(form, LooseForm):
                made = loose_beads(form.cleaned_data["bead"], person=request.user)
            else:
                said = form.cleaned_data
                made = work_on_a_piece(said["name"], form.minutes_by_skill(), person=request.user)
                if said["price"] is not None:
                    data[f"p_{made.pk}"] = f"{said['price']:f}"
            if str(made.pk) not in data.getlist("line"):
                data.appendlist("line", str(made.pk))
            data.setdefault(f"n_{made.pk}", "144" if made.is_loose else "1")
            return made.pk
    if isinstance(form, LooseForm):
        own_kind.loose = form
    else:
        own_kind.work = form
    return None


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
    sheet, taken = take_sheet(request, request.POST, order, confirm=confirm, check=_check_seen)
    if taken is None:
        return _page(request, sheet, status=422)
    return redirect("orders:order_detail", number=taken.number)


def take_sheet(
    request,
    data: QueryDict,
    order: Order | None,
    *,
    confirm: bool,
    check: Callable[[Any, Sheet], None],
) -> tuple[Sheet, Order | None]:
    """Take an order as it was written, or write it down; None where the sheet says why not.

    check  adds to the form why an order is not confirmed as things stand, such as figures that
           were not looked at
    """
    if confirm:
        # From here to the end of the transaction nobody else promises the kilns to anybody, so
        # what the sheet works out is what is confirmed.
        hold_the_kilns()
    sheet = Sheet(request, data, order, show_errors=True)
    form = sheet.form
    if order is not None and data.get("version") != str(order.version):
        # Somebody saved this draft while it was open here; what was typed stays to be sent again.
        form.add_error(None, changed_meanwhile(order))
    if not sheet.designs:
        form.add_error(
            None, _("The order has no lines. Add a strand design and how many of it are wanted.")
        )
    if sheet.customer is None and not (sheet.new_form and sheet.new_form.is_valid()):
        form.add_error("customer", _who_is_it_for(sheet))
    if sheet.reckoning is not None and sheet.reckoning.refusal:
        form.add_error(None, sheet.reckoning.refusal)
    if confirm and not form.errors:
        check(request, sheet)
    if not form.errors:
        with refusals_in(form), transaction.atomic():
            return sheet, _write(request, sheet, confirm=confirm)
    return sheet, None


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
    elif request.POST.get("lines_seen", "") == lines_mark(request.POST):
        sentence = _("%(why)s The figures are new; look at them and take the order again.") % {
            "why": latest_taking()
        }
    else:
        sentence = _("The figures have followed what you typed; look at them and take the order.")
    sheet.form.add_error(None, sentence)


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
            costing=sheet.costing,
            taken_on=day_of_act(request),
        )
    else:
        order = change_draft(
            sheet.order,
            wanted,
            person=request.user,
            customer=customer,
            due_on=said["due_on"],
            note=said["note"],
            costing=sheet.costing,
        )
    if confirm:
        order = confirm_order(
            order,
            person=request.user,
            owner_word=said["owner_word"],
            business=request.business,
            reckoned=sheet.reckoning,
        ).order
    if said["deposit"]:
        _take_deposit(request, order, said)
    _tell(request, order, said["deposit"])
    return order


def _take_deposit(request, order: Order, said: dict[str, Any]) -> None:
    from orders.money.services.payments import PaymentDetails, record_payment

    record_payment(
        order.customer,
        said["deposit"],
        person=request.user,
        way=PaymentDetails(
            method=said["deposit_how"],
            network=said["network"],
            reference=said["reference"],
        ),
        order=order,
        on=day_of_act(request),
    )


def _tell(request, order: Order, deposit) -> None:
    if order.state == Order.State.CONFIRMED:
        sentence = _("Order %(number)s is taken: collect from %(day)s.") % {
            "number": order.number,
            "day": formats.date_short(order.p90_on),
        }
    else:
        sentence = _("Order %(number)s is written down; nothing is promised yet.") % {
            "number": order.number
        }
    if deposit:
        sentence += " " + _("Deposit taken: %(amount)s.") % {"amount": formats.money(deposit)}
    messages.success(request, sentence)


# --- the parts that replace themselves ------------------------------------------------------------


# They carry what follows from the form, never a box that is typed into: whatever is typed while an
# answer is on its way is still there when it arrives.


@require_POST
def counter_change(request, number: int | None = None) -> HttpResponse:
    """A button was pressed: what it changed beside the boxes, and the figures again."""
    with transaction.atomic():
        sheet, act = _changed(request, _draft(number))
    return render(request, "orders/counter/_changed.html", sheet.changed_context(act))


@require_POST
def counter_panel(request, number: int | None = None) -> HttpResponse:
    """Something was typed: the figures again, and what each line comes to."""
    sheet = Sheet(request, request.POST, _draft(number))
    return render(request, "orders/counter/_panel.html", sheet.context(drawn=()))


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
    told = {"people": people(who), "who": who, "known": "known" in request.GET}
    return render(request, "orders/counter/_people.html", told)


@require_GET
def counter_designs(request) -> HttpResponse:
    """Designs found as their name is typed; those on the order already are left out."""
    taken = {whole_number(key) for key in request.GET.getlist("line")} - {None}
    found = designs_to_add(request.GET.get("find", ""), taken, all_of_them="all" in request.GET)
    return render(request, "orders/counter/_designs.html", found)
