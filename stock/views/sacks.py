"""Sacks: weighed in by the yard keeper, listed, sorted, cleared."""

from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from stock.filters import SackFilter
from stock.forms import ClearForm, SackForm, SortForm
from stock.models import Balance, Collector, GlassForm, LocationKind, Sack, said_glass
from stock.queries import latest_sacks, usual_collectors
from stock.services.apart import clear_sack
from stock.services.places import glass_item
from stock.services.sacks import price_for, sort_glass, weigh_in_sack
from stock.tables import SackTable
from workshop import formats
from workshop.models import Person
from workshop.services.photos import add_photo
from workshop.views.edit import edit_page, form_page, refusals_in
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage

USUAL_DIRT = Decimal("0.03")  # caps, labels and water; common practice, no source


class SackList(ListPage):
    queryset = Sack.objects.select_related("collector", "colour")
    table_class = SackTable
    heading = gettext_lazy("Sacks")
    filterset_class = SackFilter
    add_url_name = "stock:sack_log"
    add_label = gettext_lazy("Log a sack")
    empty = gettext_lazy("No sack yet. Log the first one as it stands on the scale.")


@idempotent
def log(request):
    """Three taps and a weight: collector, colour, paid or owed, what the scale shows."""
    form = SackForm(request.POST or None, request.FILES or None, initial=_remembered(request))
    tiles = usual_collectors()
    chosen = str(form["collector"].value() or "")
    return edit_page(
        request,
        form,
        heading=_("Log a sack"),
        template="stock/sack_log.html",
        submit_label=_("Weigh it in"),
        save=lambda form: _weigh_in(request, form),
        saved=_LastSack(request),
        done_url=lambda sack: reverse("stock:sack_log"),
        tiles=tiles,
        others=Collector.objects.filter(in_use=True).exclude(pk__in=[c.pk for c in tiles]),
        chosen=chosen,
        chosen_colour=str(form["colour"].value() or ""),
        sum=_sum_of(form) if form.is_bound else None,
        latest=latest_sacks(3),
    )


class _LastSack:
    """The message about the sack just logged, written when it is shown."""

    def __init__(self, request) -> None:
        self.request = request

    def __str__(self) -> str:
        sack = self.request.last_sack
        words = {
            "sack": sack.number,
            "net": formats.mass(sack.net_g),
            "colour": said_glass(sack.colour, sack.mark),
            "amount": formats.money(sack.amount),
            "name": sack.collector,
        }
        said = (
            _("Sack %(sack)s: %(net)s %(colour)s, %(amount)s paid to %(name)s.")
            if sack.paid_on
            else _("Sack %(sack)s: %(net)s %(colour)s, %(amount)s owed to %(name)s.")
        ) % words
        if sack.held_apart:
            said += " " + _("Put it apart: it is not melted until the owner says so.")
        elif sack.awaits_word:
            said += " " + _("Put it on its own heap, not with the bottles.")
        return said


def _remembered(request) -> dict:
    """The empty sack's weight and the dirt as they were last time."""
    last = Sack.objects.order_by("-number").first()
    return {
        "tare_g": last.tare_g if last else 0,
        "dirt_share": last.dirt_share if last else USUAL_DIRT,
        "collector": request.GET.get("collector"),
        "received_on": timezone.localdate(),
    }


def _weigh_in(request, form: SackForm) -> Sack:
    data = form.cleaned_data
    collector = data["collector"]
    if data["new_collector"]:
        collector, _made = Collector.objects.get_or_create(name=data["new_collector"].strip())
    request.last_sack = sack = weigh_in_sack(
        collector,
        colour=form.chosen_colour(),
        gross_g=data["gross_g"],
        tare_g=data["tare_g"] or 0,
        dirt_share=data["dirt_share"],
        price_per_kg=data["price_per_kg"],
        paid=data["paid"],
        origin=data["origin"],
        received_on=data["received_on"],
        note=data["note"],
        mark=data["mark"],
        person=request.user,
    )
    if data["photo"]:
        _photograph(sack, data["photo"], request.user)
    return sack


def _photograph(sack: Sack, photo: UploadedFile, person: Person) -> None:
    """As it stood on the scale; what is no photograph is said at its box."""
    try:
        add_photo("sack", sack, sack.pk, photo, person=person, note="")
    except ValidationError as error:
        raise ValidationError({"photo": error}) from error


def price(request):
    """The sum of the sack on the scale, as the form stands now."""
    return render(request, "stock/_sack_sum.html", {"sum": _sum_of(SackForm(request.GET))})


def _sum_of(form: SackForm) -> dict | None:
    """Net mass and price of what is typed so far; None while something is missing."""
    form.is_valid()
    data = form.cleaned_data
    if data.get("gross_g") is None or data.get("dirt_share") is None or "colour" not in data:
        return None
    sack = Sack(
        gross_g=data["gross_g"], tare_g=data.get("tare_g") or 0, dirt_share=data["dirt_share"]
    )
    each = data.get("price_per_kg")
    if each is None:
        each = price_for(
            data.get("collector"),
            form.chosen_colour(),
            data.get("received_on") or timezone.localdate(),
        )
    return {
        "dirt_g": sack.gross_g - sack.tare_g - sack.net_g,
        "dirt_share": sack.dirt_share,
        "net_g": sack.net_g,
        "each": each,
        "amount": each * sack.net_g / 1000,
    }


def detail(request, pk):
    sack = get_object_or_404(
        Sack.objects.select_related("collector", "colour", "posting", "logged_by", "cleared_by"),
        pk=pk,
    )
    return render(request, "stock/sack.html", {"sack": sack, "clear_form": ClearForm(sack=sack)})


@idempotent
def clear(request, pk):
    """The owner's word on glass kept apart: melted alone, or with bottle glass, and why."""
    sack = get_object_or_404(Sack.objects.select_related("colour"), pk=pk)
    form = ClearForm(request.POST if request.method == "POST" else None, sack=sack)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            clear_sack(sack, person=request.user, why=form.cleaned_data["why"], becomes=form.chosen)
            messages.success(request, _("%(sack)s is cleared for melting.") % {"sack": sack})
            return redirect("stock:sack", pk=sack.pk)
    return form_page(
        request,
        "stock/sack.html",
        {"sack": sack, "clear_form": form, "form": form},
    )


@idempotent
def sort(request):
    """Mixed glass of the yard sorted into its colours."""
    mixed = Balance.objects.filter(
        item=glass_item(None, GlassForm.RAW), place__kind=LocationKind.YARD
    ).first()
    form = SortForm(request.POST or None, initial={"on": timezone.localdate()})
    return edit_page(
        request,
        form,
        heading=_("Sort mixed glass"),
        template="stock/sack_sort.html",
        there_mg=mixed.free_quantity if mixed else 0,
        submit_label=_("Sort it"),
        saved=_("Sorted; every colour lies on its own heap now."),
        save=lambda form: sort_glass(
            form.parts(),
            taken_g=form.cleaned_data["taken_g"],
            dirt_g=form.cleaned_data["dirt_g"] or 0,
            on=form.cleaned_data["on"],
            minutes=form.cleaned_data["minutes"] or 0,
            person=request.user,
        ),
        done_url=reverse("stock:glass"),
        back_url=reverse("stock:glass"),
    )
