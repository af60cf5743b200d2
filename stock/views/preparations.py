"""Preparations: raw glass washed, broken or ground."""

from django.db.models import OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from stock.filters import PreparationFilter
from stock.forms import PreparationForm
from stock.models import GlassForm, LocationKind, LossName, Movement, Preparation
from stock.services.preparation import prepare_glass
from stock.tables import PreparationTable
from workshop.typed import whole_number
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage


def _glass(**to_place: str) -> Coalesce:
    """Glass that a preparation moved to a place of some kind, for the rows of one page only."""
    moved = Movement.objects.filter(posting=OuterRef("posting_id"), **to_place)
    sums = moved.order_by().values("posting").annotate(mg=Sum("glass_mg")).values("mg")
    return Coalesce(Subquery(sums), 0)


class PreparationList(ListPage):
    queryset = (
        Preparation.objects.select_related("hand")
        .annotate(
            went_in=_glass(to_place__kind=LocationKind.IN_WORK),
            came_out=_glass(to_place__kind=LocationKind.GLASS_SHELF),
        )
        .order_by("-number")
    )
    table_class = PreparationTable
    heading = gettext_lazy("Preparations")
    filterset_class = PreparationFilter
    add_url_name = "stock:preparation_log"
    add_label = gettext_lazy("Log a preparation")
    empty = gettext_lazy("Nothing was prepared yet. Wash and grind a sack, then log it here.")


@idempotent
def log(request):
    """Log a preparation; `?colour=1&form=powder&grams=900` fills in what was asked for."""
    form = PreparationForm(
        request.POST or None,
        initial={
            "on": timezone.localdate(),
            "hand": request.user.pk,
            "form": request.GET.get("form", GlassForm.POWDER),
        },
    )
    form.take_from_heaps(
        whole_number(request.GET.get("colour")), whole_number(request.GET.get("grams"))
    )
    return edit_page(
        request,
        form,
        heading=_("Log a preparation"),
        template="stock/preparation_log.html",
        submit_label=_("Log it"),
        save=lambda form: prepare_glass(
            form.inputs(),
            form.outputs(),
            form=form.cleaned_data["form"],
            person=request.user,
            hand=form.cleaned_data["hand"],
            on=form.cleaned_data["on"],
            losses=form.losses(),
            sieve_mm=form.cleaned_data["sieve_mm"],
            minutes=form.cleaned_data["minutes"] or 0,
        ),
        done_url=lambda made: reverse("stock:preparation", args=[made.pk]),
        back_url=reverse("stock:glass"),
    )


def detail(request, pk):
    """What went in, what came out, what was lost, and the yield beside the standard."""
    made = get_object_or_404(Preparation.objects.select_related("hand", "posting__person"), pk=pk)
    movements = list(
        made.posting.movements.select_related("item__colour", "from_place", "to_place")
    )
    ins = [m for m in movements if m.to_place.kind == LocationKind.IN_WORK]
    lost = [m for m in movements if m.to_place.kind == LocationKind.LOST]
    outs = [m for m in movements if m not in ins and m not in lost]
    went_in = sum(m.glass_mg for m in ins)
    came_out = sum(m.glass_mg for m in outs)
    losses: dict[str, int] = {}
    for movement in lost:
        name = str(LossName(movement.loss).label)
        losses[name] = losses.get(name, 0) + movement.quantity
    return render(
        request,
        "stock/preparation.html",
        {
            "made": made,
            "ins": ins,
            "outs": outs,
            "losses": losses.items(),
            "measured": came_out / went_in if went_in else 0,
            "standards": [
                (m.item.colour, m.item.colour.yield_for(made.form)) for m in ins if m.item.colour
            ],
        },
    )
