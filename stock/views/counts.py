"""Counting: what to count next, one shelf counted, beads counted by weight."""

from decimal import Decimal

from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.count_by_weight import CountError
from stock.forms import CountForm, WeighForm
from stock.models import Balance, LocationKind, StockCount, StockLocation
from stock.reports import cycle_counts
from stock.services.counting import count_shelf
from stock.services.measuring import book_weighed_count, remember_mass
from workshop import formats
from workshop.doors import may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent


def count_list(request):
    """What is due to be counted, by usage value, and the shelves to count (7 queries)."""
    today = timezone.localdate()
    rows = cycle_counts(today)
    places = StockLocation.objects.filter(inside=True, balances__quantity__gt=0).distinct()
    return render(
        request,
        "stock/count_list.html",
        {
            "rows": [{"row": row, "due": row.is_due(today)} for row in rows[:60]],
            "due": sum(row.is_due(today) for row in rows),
            "places": places,
            "latest": StockCount.objects.select_related("item", "place", "person")[:12],
            "may_weigh": may(request, "stock:count_by_weight", "POST"),
            "may_open": may(request, "stock:glass_opening", "POST"),
        },
    )


@idempotent
def count(request, pk):
    """One shelf: a box for each thing that lies there."""
    place = get_object_or_404(StockLocation, pk=pk, inside=True)
    rows = (
        Balance.objects.filter(place=place, quantity__gt=0)
        .select_related("item__colour", "item__batch")
        .order_by("item__name")
    )
    form = CountForm(request.POST or None, rows=rows, initial={"on": timezone.localdate()})
    return edit_page(
        request,
        form,
        heading=_("Count: %(place)s") % {"place": place},
        template="stock/count.html",
        submit_label=_("Book the count"),
        save=lambda form: count_shelf(
            place,
            form.found(),
            expected=form.expected(),
            why=form.cleaned_data["why"],
            on=form.cleaned_data["on"],
            person=request.user,
        ),
        saved=_("Counted; what differed is in the book."),
        done_url=reverse("stock:count_list"),
        back_url=reverse("stock:count_list"),
    )


@idempotent
def by_weight(request):
    """Beads of a batch counted by their weight; booked only when the count is sure enough."""
    form = WeighForm(request.POST or None)
    counted = None
    if request.method == "POST" and form.is_valid():
        try:
            counted = form.count()
        except CountError as error:
            form.add_error(None, _(str(error)))
        if counted is not None and "book" in request.POST:
            return _book(request, form, counted)
    return _weigh_page(request, form, counted)


def _book(request, form, counted):
    item = form.cleaned_data["batch"]
    if form.cleaned_data["sample_g"]:
        remember_mass(item.batch.bead, counted, form.cleaned_data, person=request.user)
    return edit_page(
        request,
        form,
        heading=_("Count by weight"),
        template="stock/count_by_weight.html",
        save=lambda form: book_weighed_count(item, counted, person=request.user),
        saved=_("%(item)s: %(beads)s beads are booked.")
        % {"item": item, "beads": formats.count(counted.beads)},
        done_url=reverse("stock:batch", args=[item.batch_id]),
        **_told(request, counted, item),
    )


def _weigh_page(request, form, counted):
    item = form.cleaned_data["batch"] if counted is not None else None
    return render(
        request,
        "stock/count_by_weight.html",
        {"form": form, "heading": _("Count by weight"), **_told(request, counted, item)},
        status=422 if form.is_bound and form.errors else 200,
    )


def _told(request, counted, item) -> dict:
    tolerance = request.business.count_tolerance
    booked = None
    if item is not None:
        rows = Balance.objects.filter(item=item, place__kind=LocationKind.BEAD_SHELF)
        booked = sum(row.quantity for row in rows)
    return {
        "counted": counted,
        "item": item,
        "booked": booked,
        "tolerance": tolerance,
        "sure": counted is not None and Decimal(counted.spread) <= tolerance,
    }
