"""A promised order changed: what is wanted now, old and new side by side, then it is done."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _

from orders.counter.forms.orders import ChangeForm
from orders.counter.services.changing import Change, StoodLine, change_order, look_at_change
from orders.counter.services.reopening import can_reopen
from orders.counter.shown_figures import mark
from orders.designs.queries.designs import designs_by_use, drawn_designs
from orders.making.queries.orders import listed_orders
from orders.models import Order, StrandDesign
from orders.money.queries.to_pay import to_pay
from workshop import formats
from workshop.typed import whole_number
from workshop.views.edit import add_error, form_page, leave_to_owner
from workshop.views.idempotent import idempotent


@dataclass(frozen=True)
class SideBySide:
    """One line before and after; none where it was not, or is not any more."""

    name: str
    was: StoodLine | None
    will: StoodLine | None

    @property
    def changes(self) -> bool:
        return self.was != self.will


@idempotent
def order_alter(request, number: int) -> HttpResponse:
    """Change a promised order at any stage; looked at first, as it was and as it will be."""
    order = get_object_or_404(listed_orders(), number=number)
    if not order.is_open:
        messages.error(
            request,
            _("Order %(number)s is %(state)s, so it cannot be changed.")
            % {"number": number, "state": order.get_state_display()},
        )
        return redirect("orders:order_detail", number=number)
    lines = {line.design_id: line for line in order.lines.all()}
    designs = designs_on_page(request, {pk: line.design for pk, line in lines.items()})
    form = ChangeForm(
        sent_with_new(request, designs),
        lines=lines,
        designs=designs,
        initial={"due_on": order.due_on, "note": order.note},
    )
    leave_to_owner(form, request.user)
    looks = request.method == "POST" and "add" not in request.POST
    seen = _looked_at(request, order, form) if looks else None
    agreed = seen is not None and request.POST.get("seen") == _mark(seen)
    if "do" in request.POST and agreed and _changed(request, order, form):
        return redirect("orders:order_detail", number=number)
    names = {design.pk: design.name for design in designs}
    context: dict[str, Any] = {
        "order": order,
        "form": form,
        "rows": [
            {
                "card": card,
                "line": lines.get(card.design.pk),
                "n": form[f"n_{card.design.pk}"],
                "p": form[f"p_{card.design.pk}"],
            }
            for card in drawn_designs(designs)
        ],
        "others": [each for each in designs_by_use("") if each.pk not in names],
        "can_reopen": can_reopen(order),
        "seen": seen,
    }
    if seen is not None:
        context |= {"sides": _sides(seen, names), "mark": _mark(seen)}
    return form_page(request, "orders/counter/alter.html", context)


def designs_on_page(request, own: dict[int, StrandDesign]) -> list[StrandDesign]:
    """Those that are there in their order, then those added on the page."""
    added = [whole_number(key) for key in request.POST.getlist("new")]
    if "add" in request.POST:
        added.append(whole_number(request.POST.get("other")))
    wanted = [key for key in dict.fromkeys(added) if key is not None and key not in own]
    found = StrandDesign.objects.with_findings().filter(in_use=True).in_bulk(wanted[:200])
    return list(own.values()) + [found[key] for key in wanted if key in found]


def sent_with_new(request, designs: list[StrandDesign]) -> Any:
    """What was sent; one strand of a design that was just added."""
    if request.method != "POST":
        return None
    sent = request.POST.copy()
    if "add" in sent and designs:
        sent.setdefault(f"n_{designs[-1].pk}", "1")
    return sent


def _asked(form: ChangeForm) -> dict[str, Any]:
    said = form.cleaned_data
    return {
        "due_on": said["due_on"],
        "note": said["note"],
        "owner_word": said.get("owner_word", ""),
    }


def _looked_at(request, order: Order, form: ChangeForm) -> Change | None:
    if not form.is_valid():
        return None
    try:
        return look_at_change(
            Order.objects.select_related("customer").get(pk=order.pk),
            form.wanted(),
            person=request.user,
            **_asked(form),
        )
    except ValidationError as error:
        add_error(form, error)
        return None


def _changed(request, order: Order, form: ChangeForm) -> bool:
    try:
        with transaction.atomic():
            done = change_order(order, form.wanted(), person=request.user, **_asked(form))
    except ValidationError as error:
        add_error(form, error)
        return False
    left = to_pay(done.order).left
    messages.success(
        request,
        _("Order %(number)s is changed: %(sum)s, still to pay %(left)s; collect from %(day)s.")
        % {
            "number": order.number,
            "sum": formats.money(done.after.total),
            "left": formats.money(left),
            "day": formats.date_short(done.after.told_on),
        },
    )
    return True


def _mark(seen: Change) -> str:
    """What was shown: what is done must be that."""
    lines = {design: str(line) for design, line in seen.after.lines.items()}
    return mark((lines, str(seen.after.told_on), seen.spared, str(seen.before)))


def _sides(seen: Change, names: dict[int, str]) -> list[SideBySide]:
    keys = dict.fromkeys([*seen.before.lines, *seen.after.lines])
    return [
        SideBySide(names[key], seen.before.lines.get(key), seen.after.lines.get(key))
        for key in keys
    ]
