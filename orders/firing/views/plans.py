"""Plans of the kilns: worked out, looked at, accepted; days without firing."""

from datetime import date

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.firing.forms.planned import ForbidForm
from orders.firing.queries.kiln_picture import picture_of
from orders.firing.queries.plan_effects import Figures, Late, Shift, figures
from orders.firing.queries.plan_words import late_words, plan_words
from orders.firing.queries.search_progress import is_running, latest_search, search_shown
from orders.firing.services.longer_search import search_longer
from orders.firing.services.plan import accept_plan, allow_again, propose_plan
from orders.firing.services.plan_picture import bar_told
from orders.floor.read_floor import read_floor
from orders.models import FiringPlan, Order
from workshop.drawing import DrawnDays
from workshop.models import Kiln, NoFiring
from workshop.views.edit import form_page, refusals_in
from workshop.views.idempotent import idempotent

PLAN_ROW_PX = 96


@require_POST
def propose(request) -> HttpResponse:
    """Work a new plan out; it takes a second, and nothing is moved by it."""
    try:
        plan = propose_plan(person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("orders:firing")
    return redirect("orders:plan", plan.pk)


@idempotent
def search(request) -> HttpResponse:
    """Search longer, in the background; asked by GET, how far it has come."""
    if request.method != "POST":
        if not request.htmx:
            return redirect("orders:firing")
        latest = latest_search()
        if latest is not None and is_running(latest):
            shown = search_shown("", Figures(0, 0, 0, 0))  # the floor is not asked for meanwhile
        else:
            floor = read_floor()
            shown = search_shown(floor.mark, figures(floor, floor.whole_plan))
        context = shown | {"may_act": True}
        return render(request, "orders/firing/_search.html", context)
    try:
        search_longer(person=request.user)
    except ValidationError as error:
        messages.warning(request, " ".join(error.messages))
    else:
        messages.success(request, _("The search has begun. This board shows how far it has come."))
    return redirect("orders:firing")


@idempotent
def plan(request, pk: int) -> HttpResponse:
    """A plan beside the one that stands; accept it, or leave everything as it is."""
    proposal = get_object_or_404(
        FiringPlan.objects.select_related("made_by", "accepted_by", "forbid_kiln"), pk=pk
    )
    if request.method == "POST":
        try:
            knows = request.POST.get("knows_it_breaks") == "yes"
            accept_plan(proposal, person=request.user, knows_it_breaks=knows)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
            # A refusal must leave nothing written, so the page is shown again, not led away from.
            return form_page(request, "orders/firing/plan.html", _shown(proposal))
        messages.success(request, _("The kilns are planned anew."))
        return redirect("orders:firing")
    return render(request, "orders/firing/plan.html", _shown(proposal))


def _shown(proposal: FiringPlan) -> dict:
    before, after = Figures(**proposal.before), Figures(**proposal.after)
    moved = [_shift(row) for row in proposal.content["moved"]]
    late = [_late(row) for row in proposal.content.get("late", ())]
    orders = Order.objects.select_related("customer").in_bulk(
        {int(each.order) for each in (*moved, *late)}, field_name="number"
    )
    first_day = date.fromisoformat(proposal.content["first_day"])
    drawn = proposal.content.get("drawn", {})
    kilns = list(Kiln.objects.filter(in_use=True))
    no_firing = list(NoFiring.objects.filter(day__gte=first_day).select_related("kiln"))
    pictures = {
        name: picture_of(
            [bar_told(told) for told in drawn[name]], kilns, first_day,
            no_firing=no_firing, drawn=DrawnDays(row_px=PLAN_ROW_PX, prefix=name), title=said,
        )
        for name, said in (("before", _("As it stands")), ("after", _("By the new plan")))
        if name in drawn
    }  # fmt: skip
    return {
        "plan": proposal,
        "before": before,
        "after": after,
        "words": plan_words(after, proposal),
        "late": late_words(after, proposal),
        "moved": [
            {"shift": shift, "order": orders.get(int(shift.order))}
            for shift in sorted(moved, key=lambda s: (not s.is_later, len(s.order), s.order))
        ],
        "later": sum(shift.is_later for shift in moved),
        "broken": [(each, orders.get(int(each.order))) for each in late if not each.was_late],
        "late_before": [(each, orders.get(int(each.order))) for each in late if each.was_late],
        "pictures": pictures,
        "refused": proposal.content.get("refused", []),
    }


def _shift(row: dict) -> Shift:
    return Shift(row["order"], _day(row["due_on"]), _day(row["before_on"]), _day(row["after_on"]))


def _late(row: dict) -> Late:
    return Late(
        row["order"], date.fromisoformat(row["due_on"]), _day(row["ready_on"]), row["was_late"]
    )


def _day(told: str | None) -> date | None:
    return date.fromisoformat(told) if told else None


def forbid(request) -> HttpResponse:
    """No firing on a day: see what that does to the orders, then accept it."""
    form = ForbidForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            proposal = propose_plan(person=request.user, forbid=form.row())
            return redirect("orders:plan", proposal.pk)
    return form_page(
        request,
        "orders/firing/forbid.html",
        {
            "form": form,
            "heading": _("A day without firing"),
            "lead": _("Loads of that day are planned anew. You see whose day moves first."),
            "submit_label": _("Show what it does"),
        },
    )


@require_POST
@idempotent
def allow(request, pk: int) -> HttpResponse:
    """Fire on that day after all."""
    row = NoFiring.objects.filter(pk=pk).first()
    if row is not None:
        allow_again(row, person=request.user)
        messages.success(request, _("Kilns may be fired that day again. Plan them anew to use it."))
    return redirect("orders:firing")
