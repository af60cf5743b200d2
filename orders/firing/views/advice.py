"""Will it fuse, will it crack, do its colours match? And: a glass that is none of ours."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders.firing.forms.advice import AdviceForm, CompositionForm
from orders.firing.queries.advice import counsels, firing_chart, properties_of
from orders.firing.services.soak import with_a_soak
from stock.drawing_adapter import draw_bead
from stock.models import Bead
from workshop.models import Kiln, Programme
from workshop.typed import whole_number
from workshop.views.idempotent import idempotent


def advice(request) -> HttpResponse:
    """What physics says about a bead in a firing; nothing is written, nothing is refused."""
    if request.method == "POST":
        form = AdviceForm(request.POST)
    elif "programme" in request.GET and "bead" not in request.GET:
        form = AdviceForm(_first_bead_of(request.GET.copy()))
    else:
        form = AdviceForm(request.GET if "bead" in request.GET else None)
    context = {"form": form}
    if form.is_bound and form.is_valid():
        context |= _answers(form)
    status = 422 if request.method == "POST" and form.errors else 200
    return render(request, "orders/firing/advice.html", context, status=status)


def _first_bead_of(asked):
    """From a programme's page: begin with a bead that is fired in it."""
    key = whole_number(asked.get("programme"))
    bead = Bead.objects.filter(in_use=True)
    if key is not None:
        bead = bead.filter(programme=key) or bead.filter(second_programme=key) or bead
    first = bead.first()
    asked["bead"] = first.pk if first else ""
    return asked


def _answers(form: AdviceForm) -> dict:
    bead = (
        Bead.objects.select_related("programme", "second_programme", "mould")
        .prefetch_related("colours__colour")
        .get(pk=form.cleaned_data["bead"].pk)
    )
    programme: Programme = form.cleaned_data["programme"] or bead.programme
    kilns = _kilns(form.cleaned_data["kiln"], programme)
    readings = form.cleaned_data["readings"]
    kiln = kilns[0] if kilns else None
    asked = counsels(bead, programme, kilns, readings)
    return {
        "bead": bead,
        "drawn": draw_bead(bead),
        "programme": programme,
        "kiln": kiln,
        "counsels": asked,
        "offer_soak": programme.soak is None and any(each.word == _("too fast") for each in asked),
        "chart": firing_chart(bead, programme, kiln, readings),
    }


def _kilns(chosen: Kiln | None, programme: Programme) -> list[Kiln]:
    if chosen is not None:
        return [chosen]
    kilns = list(Kiln.objects.filter(in_use=True))
    return [k for k in kilns if k.lowest_c <= programme.hold_c <= k.highest_c][:1] or kilns[:1]


@require_POST
@idempotent
def soak(request) -> HttpResponse:
    """The firing asked about, made into one with a soak; then its own page."""
    bead = get_object_or_404(Bead, pk=whole_number(request.POST.get("bead")) or 0)
    programme = get_object_or_404(Programme, pk=whole_number(request.POST.get("programme")) or 0)
    try:
        made = with_a_soak(programme, bead, person=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        asked = {"bead": bead.pk, "programme": programme.pk}
        return redirect(reverse("orders:firing_advice", query=asked))
    messages.success(
        request,
        _(
            "%(made)s is written down: soaked at %(soak)s °C, then slowly to %(to)s °C. Choose it "
            "on the bead's page."
        )
        % {"made": made, "soak": made.soak_c, "to": made.slow_to_c},
    )
    asked = {"bead": bead.pk, "programme": made.pk}
    return redirect(reverse("orders:firing_advice", query=asked))


def unusual_glass(request) -> HttpResponse:
    """Density, viscosity and expansion of a glass by what it is made of."""
    form = CompositionForm(request.GET if "basis" in request.GET else None)
    context = {"form": form, "properties": None, "heading": _("An unusual glass")}
    if form.is_bound and form.is_valid():
        context["properties"] = properties_of(form.cleaned_data["mol"])
    return render(
        request, "orders/firing/unusual_glass.html", context, status=422 if form.errors else 200
    )
