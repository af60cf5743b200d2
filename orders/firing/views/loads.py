"""One kiln load: what is in it and what physics says, pinned, its trays moved elsewhere."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.firing.forms.loads import version_in
from orders.firing.forms.planned import ChangeForm, MoveForm
from orders.firing.queries.burning import cools_apart
from orders.firing.queries.kiln_acts import next_act_of
from orders.firing.queries.kilns import (
    cautions_of,
    cold_at,
    fuel_expected,
    places_taken,
    times_of,
)
from orders.firing.queries.load_advice import load_advice
from orders.firing.queries.load_curve import curve_of, curve_of_load
from orders.firing.queries.piercing import to_pierce
from orders.firing.queries.run_shares import run_of
from orders.firing.queries.trays import tray_rows, trays_of
from orders.firing.services.load_moves import (
    Change,
    Move,
    Preview,
    change_load,
    move_tray,
    preview_change,
    preview_move,
)
from orders.firing.services.pin_preview import preview_pin
from orders.firing.services.plan import load_changed, pin_load
from orders.floor.glass_shelf import shares_by_bead
from orders.floor.read_floor import active_loads, read_floor
from stock.models import KilnLoad, LoadTray
from workshop.doors import may
from workshop.views.edit import refusals_in
from workshop.views.idempotent import idempotent


def get_load(number: int) -> KilnLoad:
    return get_object_or_404(KilnLoad.objects.select_related("kiln", "keeper"), number=number)


@require_GET
def load(request, number: int) -> HttpResponse:
    """Everything about one load."""
    row = get_load(number)
    trays = trays_of(row)
    colours = shares_by_bead(tray.bead_id for tray in trays)
    planned = row.state == KilnLoad.State.PLANNED
    cold, curve = cold_at(row, trays), curve_of(row, trays)
    may_act, waits = may(request, "orders:load_pin", "POST"), to_pierce(row, trays)
    context = {
        "load": row,
        "trays": tray_rows(trays, colours),
        "taken": places_taken(trays),
        "times": times_of(row),
        "cold_at": cold,
        "run": run_of(row),
        "to_pierce": may_act and waits,
        "cools_apart": cools_apart(row, to_pierce=waits),
        "opened_early": row.ended_at is not None and row.ended_at < cold,
        "advice": load_advice(row, trays),
        "curve": curve,
        "planned": None if curve or row.kiln.is_kept_hot else curve_of_load(row, trays, ()),
        "fuel": fuel_expected(row, trays, colours),
        "cautions": cautions_of(row, trays),
        "may_act": may_act,
        "may_move": may_act and planned,
        "beads": sum(tray.beads for tray in trays),
        "good": sum(tray.good or 0 for tray in trays),
        "is_done": row.state in {KilnLoad.State.COOLED, KilnLoad.State.SPOILED},
        "is_planned": planned,
        "is_firing": row.state == KilnLoad.State.FIRING,
        "act": next_act_of(row, trays) if may_act else None,
    }
    return render(request, "orders/firing/load.html", context)


@idempotent
def pin(request, number: int) -> HttpResponse:
    """Pin a load where it is, or let it be planned again; what that does is shown first."""
    row = get_load(number)
    pinned = (request.POST or request.GET).get("pinned") != "no"
    if request.method != "POST":
        return _pin_shown(request, row, pinned)
    row.version = version_in(request.POST)
    try:
        row = pin_load(row, pinned, person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("orders:firing")
    sentence = (
        _("Load %(number)s is pinned; planning again leaves it where it is.")
        if row.pinned
        else _("Load %(number)s may be moved when the kilns are planned again.")
    )
    messages.success(request, sentence % {"number": row.number})
    return redirect("orders:load", number)


def _pin_shown(request, row: KilnLoad, pinned: bool) -> HttpResponse:
    """The kilns planned again with the load pinned, beside how they stand."""
    if row.state != KilnLoad.State.PLANNED:
        messages.warning(request, load_changed(row))
        return redirect("orders:load", row.number)
    context = {"load": row, "pinned": pinned}
    try:
        context["preview"] = preview_pin(row, pinned)
    except ValidationError as error:
        context["problem"] = " ".join(error.messages)
    return render(request, "orders/firing/pin.html", context)


@idempotent
def change(request, number: int) -> HttpResponse:
    """Another time, temperature or length of a planned load; seen first, then done."""
    row = get_load(number)
    if row.state != KilnLoad.State.PLANNED:
        messages.warning(request, load_changed(row))
        return redirect("orders:load", number)
    asked = request.POST or (request.GET if "starts_at" in request.GET else None)
    form = ChangeForm(
        asked,
        initial={
            "version": row.version, "hold_c": row.hold_c, "hold_min": row.hold_min,
            "starts_at": timezone.localtime(row.starts_at),
        },
    )  # fmt: skip
    preview = None
    if asked is not None and form.is_valid():
        data = form.cleaned_data
        wanted = Change(row, data["starts_at"], data["hold_c"], data["hold_min"])
        floor = read_floor()
        with refusals_in(form):
            preview = preview_change(floor, wanted)
            if request.method == "POST":
                row.version = form.seen_version()
                change_load(floor, wanted, person=request.user)
                messages.success(request, _("Load %(n)s is changed.") % {"n": number})
                return redirect("orders:load", number)
    status = 422 if asked is not None and form.errors else 200
    context = {"form": form, "load": row, "preview": preview}
    return render(request, "orders/firing/move.html", context, status=status)


@idempotent
def move(request, number: int, pk: int) -> HttpResponse:
    """Say where a tray should go, see what that does, then do it.

    The board asks by script and gets only what the move does, to show it where the tray was
    dropped; the act itself is the same form.
    """
    tray = LoadTray.objects.filter(pk=pk).select_related("load__kiln", "bead__mould", "batch__bead")
    tray = tray.prefetch_related("shares__job__order__customer", "shares__job__bead").first()
    if tray is None or tray.load.number != number or tray.load.state != KilnLoad.State.PLANNED:
        return _gone(request, number, tray)
    asked = request.POST or (_looked(request, tray.load) if "to" in request.GET else None)
    form = MoveForm(
        asked, tray=tray, loads=active_loads(), initial={"version": tray.load.version}
    )  # fmt: skip
    preview = None
    if asked is not None and not _half_asked(request, form) and form.is_valid():
        floor = read_floor()
        wanted = _wanted(form, tray)
        with refusals_in(form):
            preview = preview_move(floor, wanted)
            if request.method == "POST":
                tray.load.version = form.seen_version()
                return _moved(request, tray, move_tray(floor, wanted, person=request.user))
    return _move_shown(request, form, tray, preview, asked is not None)


def _looked(request, load: KilnLoad) -> QueryDict:
    """What is asked to look at; who only looks sees the load as it is now."""
    asked = request.GET.copy()
    asked.setdefault("version", str(load.version))
    return asked


def _half_asked(request, form: MoveForm) -> bool:
    """A tray dropped on “a new load”: the form opens with that chosen and asks for the rest."""
    half = request.method == "GET" and request.GET.get("to") == form.NEW
    if half and "starts_at" not in request.GET:
        form.initial |= {"to": form.NEW}
        form.is_bound = False
        return True
    return False


def _gone(request, number: int, tray: LoadTray | None) -> HttpResponse:
    """The tray was moved, or its load lit or planned anew, since the page was shown."""
    row = KilnLoad.objects.filter(number=number).first()
    if row is None and tray is None:
        messages.error(
            request,
            _("Load %(number)s is gone: the kilns were planned anew. Look at the plan again.")
            % {"number": number},
        )
        return redirect("orders:firing")
    messages.error(request, load_changed(row or tray.load))
    return redirect("orders:load", (row or tray.load).number)


def _moved(request, tray: LoadTray, target: KilnLoad) -> HttpResponse:
    messages.success(
        request,
        _("%(bead)s now stands in load %(number)s.") % {"bead": tray.bead, "number": target.number},
    )
    if request.POST.get("back") == "board":
        return redirect("orders:firing")
    return redirect("orders:load", target.number)


def _move_shown(request, form, tray, preview: Preview | None, asked: bool) -> HttpResponse:
    in_dialog = bool(request.htmx) and request.method == "GET"
    context = {
        "form": form,
        "tray": tray,
        "load": tray.load,
        "preview": preview,
        "target": form.loads.get(form.data.get("to", "")) if form.is_bound else None,
        "in_dialog": in_dialog,
        "action": request.path,
        "back": "board" if "board" in {request.GET.get("back"), request.POST.get("back")} else "",
    }
    page = "orders/firing/_preview.html" if in_dialog else "orders/firing/move.html"
    status = 422 if asked and form.errors else 200
    return render(request, page, context, status=status)


def _wanted(form: MoveForm, tray: LoadTray) -> Move:
    data = form.cleaned_data
    if data["to"] == MoveForm.NEW:
        return Move(tray, data["moulds"], kiln=data["kiln"], starts_at=data["starts_at"])
    return Move(tray, data["moulds"], to_load=form.loads[data["to"]])
