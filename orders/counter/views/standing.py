"""Standing orders: the list, one of them with the kilns looked at ahead, and its acts."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from orders.counter.forms.orders import PauseForm, StandingForm
from orders.counter.services.standing import (
    agree_standing,
    change_standing,
    end_standing,
    look_ahead,
    pause_standing,
    take_due,
    take_next,
)
from orders.counter.views.alter import designs_on_page, sent_with_new
from orders.designs.queries.designs import designs_by_use, drawn_designs
from orders.models import Order, StandingLine, StandingOrder, StandingTaken
from workshop import formats
from workshop.typed import whole_number
from workshop.views.edit import edit_page, form_page, refusals_in
from workshop.views.idempotent import idempotent


def _with_lines():
    return StandingOrder.objects.select_related("customer", "agreed_by").prefetch_related(
        "lines__design__clasp", "lines__design__cord"
    )


@require_GET
def standing_list(request) -> HttpResponse:
    """Standing orders by their next day; ended ones below (4 queries)."""
    today = timezone.localdate()
    found = list(_with_lines())
    going_on = sorted((s for s in found if s.ended_on is None), key=lambda s: s.wanted_next)
    context = {
        "rows": [{"standing": s, "paused": s.is_paused(today)} for s in going_on],
        "due": sum(1 for s in going_on if s.take_on <= today),
        "ended": [s for s in found if s.ended_on is not None],
    }
    return render(request, "orders/counter/standing_list.html", context)


@require_GET
def standing(request, pk: int) -> HttpResponse:
    """One standing order: its strands, its next days with the kilns' room, what was taken."""
    found = get_object_or_404(_with_lines(), pk=pk)
    lines = list(found.lines.all())
    cards = {card.design.pk: card for card in drawn_designs([line.design for line in lines])}
    taken = StandingTaken.objects.filter(standing=found).select_related("order")
    context = {
        "standing": found,
        "rows": [{"line": line, "card": cards[line.design_id]} for line in lines],
        "ahead": look_ahead(found) if found.ended_on is None else [],
        "taken": list(taken[:12]),
        "paused": found.is_paused(timezone.localdate()),
        "pause_form": PauseForm(initial={"until": found.paused_until}),
    }
    return render(request, "orders/counter/standing.html", context)


@idempotent
def standing_edit(request, pk: int | None = None) -> HttpResponse:
    """Agree a standing order, of an order's lines if one is named, or change one."""
    found = get_object_or_404(_with_lines(), pk=pk, ended_on=None) if pk else None
    lines, initial = _begun(request, found)
    designs = designs_on_page(request, {line.design_id: line.design for line in lines})
    form = StandingForm(
        sent_with_new(request, designs),
        lines={line.design_id: line for line in lines},
        designs=designs,
        initial=initial,
    )
    # What it was filled from goes with the form, also when it comes back for another design.
    seen = whole_number(request.POST.get("version")) if found else None
    if found is not None:
        form.fields["customer"].disabled = True
        if request.method != "POST":
            seen = found.version
    if request.method == "POST" and "add" not in request.POST and form.is_valid():
        said = form.cleaned_data
        with refusals_in(form), transaction.atomic():
            if found is None:
                done = agree_standing(
                    said["customer"], form.wanted(), form.rhythm(), person=request.user
                )
            else:
                done = change_standing(
                    found, form.wanted(), form.rhythm(), person=request.user, seen=seen
                )
            messages.success(
                request,
                _("It is wanted next on %(day)s.") % {"day": formats.date_short(done.wanted_next)},
            )
            return redirect("orders:standing", pk=done.pk)
    context = {
        "form": form,
        "standing": found,
        "seen": seen,
        "rows": [
            {"card": card, "n": form[f"n_{card.design.pk}"], "p": form[f"p_{card.design.pk}"]}
            for card in drawn_designs(designs)
        ],
        "own": {line.design_id for line in lines},
        "others": [each for each in designs_by_use("") if each not in designs],
    }
    return form_page(request, "orders/counter/standing_edit.html", context)


def _begun(request, found: StandingOrder | None) -> tuple[list[Any], dict[str, Any]]:
    """The lines to begin with, and what the boxes hold at first."""
    if found is not None:
        names = ("every", "unit", "from_on", "ahead_days", "note")
        initial = {name: getattr(found, name) for name in names} | {"customer": found.customer_id}
        lines = list(found.lines.all())
        initial |= {f"p_{line.design_id}": line.price for line in lines}
        return lines, initial
    number = whole_number(request.GET.get("order"))
    order = Order.objects.filter(number=number).first() if number else None
    initial = {"customer": whole_number(request.GET.get("customer"))}
    if order is None:
        return [], initial
    own = order.lines.with_designs().filter(design__in_use=True)
    lines = [StandingLine(design=line.design, strands=line.strands) for line in own]
    return lines, {"customer": order.customer_id, "note": order.note}


def _act(request, pk: int, work, said) -> HttpResponse:
    found = get_object_or_404(StandingOrder.objects.select_related("customer"), pk=pk)
    try:
        with transaction.atomic():
            done = work(found)
    except ValidationError as error:
        for sentence in error.messages:
            messages.error(request, sentence)
    else:
        messages.success(request, said(done))
    return redirect("orders:standing", pk=pk)


@require_POST
@idempotent
def standing_take(request, pk: int) -> HttpResponse:
    """Take the next order of it now."""
    return _act(request, pk, lambda found: take_next(found, person=request.user), _said_taken)


def _said_taken(taken: StandingTaken) -> str:
    words = {"number": taken.order.number, "day": formats.date_short(taken.wanted_on)}
    if taken.refused:
        return _("Order %(number)s for %(day)s is written down and waits: %(why)s") % (
            words | {"why": taken.refused}
        )
    return _("Order %(number)s for %(day)s is taken.") % words


@require_POST
@idempotent
def standing_due(request) -> HttpResponse:
    """Take all whose day has come."""
    taken = take_due(person=request.user)
    for one in taken:
        messages.success(request, _said_taken(one))
    if not taken:
        messages.info(request, _("No standing order is to be taken yet."))
    return redirect("orders:standing_list")


@idempotent
def standing_pause(request, pk: int) -> HttpResponse:
    """Leave days out until one; or go on."""
    found = get_object_or_404(StandingOrder.objects.select_related("customer"), pk=pk)
    return edit_page(
        request,
        PauseForm(request.POST or None, initial={"until": found.paused_until}),
        heading=_("Pause the standing order of %(customer)s") % {"customer": found.customer},
        submit_label=_("Write it down"),
        saved=_("It is written down."),
        save=lambda form: pause_standing(found, form.cleaned_data["until"], person=request.user),
        done_url=reverse("orders:standing", args=[pk]),
        back_url=reverse("orders:standing", args=[pk]),
    )


@require_POST
@idempotent
def standing_end(request, pk: int) -> HttpResponse:
    """It is not wanted any more."""
    return _act(
        request, pk, lambda found: end_standing(found, person=request.user),
        lambda _found: _("It is ended; the orders taken for it stay."),
    )  # fmt: skip
