"""Logging a firing: lit, cooled and counted, or spoiled."""

from collections.abc import Sequence

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.firing.forms.loads import (
    TO_SHELF,
    EndForm,
    PiercedForm,
    SpoiltForm,
    StartForm,
    now_to_the_minute,
)
from orders.firing.queries.kilns import cautions_of, cold_at, times_of
from orders.firing.queries.piercing import is_pierced
from orders.firing.queries.plan_effects import ready_days
from orders.firing.queries.trays import tray_rows, trays_of
from orders.firing.services.log import (
    Outcome,
    log_firing,
    log_piercing,
    spoil_load,
    start_load,
)
from orders.firing.services.plan import load_changed, propose_plan
from orders.firing.views.loads import get_load
from orders.floor.read_floor import read_floor
from orders.models import WorkOrder
from stock.models import KilnLoad
from stock.services.moulds import mould_gone
from workshop import formats
from workshop.doors import may
from workshop.models import Role
from workshop.views.edit import add_error, form_page, refusals_in
from workshop.views.idempotent import idempotent

State = KilnLoad.State


@idempotent
def start(request, number: int) -> HttpResponse:
    """Light the kiln: say which trays really go in."""
    load = get_load(number)
    if load.state != State.PLANNED:
        messages.warning(request, load_changed(load))
        return redirect("orders:load", number)
    trays = trays_of(load)
    form = StartForm(
        request.POST or None, trays=trays, joins=load.kiln.is_kept_hot and not load.lit,
        initial={"version": load.version, "at": now_to_the_minute()},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        load.version = form.seen_version()
        with refusals_in(form):
            start_load(load, form.going_in(), person=request.user, at=form.cleaned_data["at"])
            words = (
                _("Round %(number)s is in.")
                if load.kiln.is_kept_hot
                else _("Load %(number)s burns.")
            )
            messages.success(request, words % {"number": number})
            if left := _left_out_words(form):
                messages.warning(request, left)
            return redirect("orders:load", number)
    return form_page(
        request,
        "orders/firing/start.html",
        {
            "form": form,
            "load": load,
            "trays": form.rows(),
            "rows": tray_rows(trays),
            "cautions": cautions_of(load, trays),
        },
    )


def _left_out_words(form: StartForm) -> str:
    left = [each.tray for each in form.going_in() if not each.beads]
    if not left:
        return ""
    names = ", ".join(
        " ".join([str(tray.bead), *(f"({share.job.order.number})" for share in tray.shares.all())])
        for tray in left
    )
    return _("Left out, and in no load now: %(names)s. Plan the kilns again.") % {"names": names}


@idempotent
def pierced(request, number: int) -> HttpResponse:
    """The last bead of a round is pierced: by whom, until when. The beads are counted when cold."""
    load = get_load(number)
    if load.state != State.FIRING or load.pierced_until is not None:
        messages.warning(request, load_changed(load))
        return redirect(_back_to(request, load))
    hands = [request.user.pk] if request.user.role in {Role.BENCH, Role.KILN} else []
    form = PiercedForm(
        request.POST or None, load=load,
        initial={
            "version": load.version, "pierced_until": now_to_the_minute(), "pierced_by": hands,
        },
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        load.version = form.seen_version()
        data = form.cleaned_data
        with refusals_in(form):
            log_piercing(
                load, until=data["pierced_until"], hands=list(data["pierced_by"]),
                person=request.user,
            )  # fmt: skip
            when = cold_at(load, trays_of(load))
            messages.success(
                request,
                _("Round %(number)s is pierced; its beads are cold from %(day)s %(time)s.")
                % {
                    "number": number,
                    "day": formats.date_short(when),
                    "time": formats.time_short(when),
                },
            )
            return redirect(_back_to(request, load))
    trays = [tray for tray in trays_of(load) if is_pierced(tray)]
    return form_page(
        request,
        "orders/firing/pierced.html",
        {
            "form": form,
            "load": load,
            "times": times_of(load),
            "rows": tray_rows(trays),
            "back_url": _back_to(request, load),
            "may_log": may(request, "orders:load_end", "POST"),
        },
    )


def _back_to(request, load: KilnLoad) -> str:
    """Whoever logs loads goes back to the load, a hand of the bench to the bench."""
    if may(request, "orders:load_end", "POST"):
        return reverse("orders:load", args=[load.number])
    return reverse("orders:bench")


@idempotent
def end(request, number: int) -> HttpResponse:
    """The load has cooled: what it took, and what came out of each tray."""
    load = get_load(number)
    if load.state != State.FIRING:
        messages.warning(request, load_changed(load))
        return redirect("orders:load", number)
    trays = trays_of(load)
    form = EndForm(
        request.POST or None, trays=trays, load=load,
        initial={
            "version": load.version, "ended_at": now_to_the_minute(), "held_min": load.hold_min,
        },
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        load.version = form.seen_version()
        with refusals_in(form):
            _tell(request, _logged(request, load, form))
            return redirect("orders:load", number)
    return form_page(
        request,
        "orders/firing/end.html",
        {
            "form": form,
            "load": load,
            "trays": form.rows(),
            "times": times_of(load),
            "cold_at": cold_at(load, trays),
            "still_hot": cold_at(load, trays) > timezone.now(),
            "kiln_boxes": form.fire_boxes,
            "pierced_boxes": form.pierced_boxes,
            "after_boxes": [form[name] for name in ("beads_go", "rejects_to", "note")],
        },
    )


@transaction.atomic
def _logged(request, load: KilnLoad, form: EndForm) -> Outcome:
    data = form.cleaned_data
    for key, count in form.moulds_gone().items():
        mould_gone(form.moulds[key], count, load=load, person=request.user)
    return log_firing(
        load,
        form.came_out(),
        person=request.user,
        ended_at=data["ended_at"],
        peak_c=data["peak_c"],
        held_min=data["held_min"],
        fuel_used=data["fuel_used"],
        tended_min=data["tended_min"] or 0,
        lit_min=data.get("lit_min") or 0,
        to_shelf=data["beads_go"] == TO_SHELF,
        rejects_to=data["rejects_to"],
        note=data["note"],
        pierced_until=data.get("pierced_until"),
        pierced_by=list(data.get("pierced_by") or ()),
    )


def _tell(request, outcome: Outcome) -> None:
    messages.success(request, _("Load %(n)s is logged.") % {"n": outcome.load.number})
    for job in outcome.on:
        sentence = _("Order %(order)s: %(bead)s, %(step)s.")
        messages.success(request, sentence % _job_words(job))
    for job in outcome.again:
        sentence = _(
            "Order %(order)s: too few of %(bead)s came good; %(start)s more are to be moulded."
        )
        messages.warning(request, sentence % _job_words(job))


def _job_words(job: WorkOrder) -> dict:
    return {
        "order": job.order.number,
        "bead": job.bead,
        "step": job.get_step_display(),
        "start": job.to_start,
    }


def spoil(request, number: int) -> HttpResponse:
    """The load is lost: its orders wait again, and the kilns are planned anew."""
    load = get_load(number)
    if load.state != State.FIRING:
        messages.warning(request, load_changed(load))
        return redirect("orders:load", number)
    form = SpoiltForm(
        request.POST or None,
        initial={"version": load.version, "ended_at": now_to_the_minute()},
    )
    if request.method == "POST" and form.is_valid():
        days_before = ready_days(read_floor())
        response = _spoilt(request, load, form)
        if response is not None:
            return _planned_anew(request, days_before) or response
    return form_page(
        request,
        "orders/firing/spoil.html",
        {"form": form, "load": load, "rows": tray_rows(trays_of(load))},
    )


def _spoilt(request, load: KilnLoad, form: SpoiltForm) -> HttpResponse | None:
    """Write it down once; the form key makes a second click harmless. None when refused."""
    refused: Sequence[ValidationError] = ()

    @idempotent
    def act(request):
        nonlocal refused
        data = form.cleaned_data
        load.version = form.seen_version()
        try:
            outcome = spoil_load(
                load, person=request.user, why=data["why"], glass_kept=data["glass"] == "kept",
                ended_at=data["ended_at"], peak_c=data["peak_c"],
            )  # fmt: skip
        except ValidationError as error:
            refused = [error]
            return HttpResponse(status=422)
        _tell_spoilt(request, outcome)
        return redirect("orders:load", load.number)

    response = act(request)
    for error in refused:
        add_error(form, error)
    return None if refused else response


def _tell_spoilt(request, outcome: Outcome) -> None:
    orders = sorted({job.order.number for job in outcome.again})
    if not orders:
        messages.warning(request, _("Load %(n)s is written off.") % {"n": outcome.load.number})
        return
    messages.warning(
        request,
        ngettext(
            "Load %(n)s is written off; order %(orders)s waits again.",
            "Load %(n)s is written off; orders %(orders)s wait again.",
            len(orders),
        )
        % {"n": outcome.load.number, "orders": ", ".join(map(str, orders))},
    )


def _planned_anew(request, days_before) -> HttpResponse | None:
    """A new plan with whose day moves; outside the act, so that nobody waits for the search."""
    try:
        plan = propose_plan(person=request.user, before=days_before)
    except ValidationError as error:
        messages.warning(request, " ".join(error.messages))
        return None
    return redirect("orders:plan", plan.pk)


__all__ = ["end", "pierced", "spoil", "start"]
