"""Batches: moulded, finished and sorted, and what is left of each."""

from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from stock.filters import BatchFilter
from stock.forms import FinishForm, MouldForm, PaintForm
from stock.models import Balance, Bead, BeadBatch, LocationKind, Movement, Posting
from stock.owners import worked_on_elsewhere
from stock.services.beads import (
    NOT_SORTED,
    beads_to_paint,
    glass_moulded,
    glass_to_weigh,
    log_good_beads,
    mould_beads,
    next_firing,
    paint_beads,
)
from stock.services.convert import Taken
from stock.services.moves import split_whole
from stock.services.places import batch_item
from stock.tables import BatchTable
from stock.trail import way_of_batch
from stock.views.trails import way_of
from workshop.doors import may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage


def _pieces(*kinds: str) -> Coalesce:
    """Beads of a batch in places of some kinds, counted for the rows of one page only."""
    there = Balance.objects.filter(item__batch=OuterRef("pk"), place__kind__in=kinds)
    sums = there.order_by().values("item").annotate(pieces=Sum("quantity")).values("pieces")
    return Coalesce(Subquery(sums), 0)


class BatchList(ListPage):
    queryset = (
        BeadBatch.objects.select_related("bead")
        .annotate(
            left=_pieces(LocationKind.BEAD_SHELF),
            under_way=_pieces(LocationKind.BENCH, LocationKind.KILN),
        )
        .order_by("-number")
    )
    table_class = BatchTable
    heading = gettext_lazy("Bead batches")
    filterset_class = BatchFilter
    add_url_name = "stock:batch_mould"
    add_label = gettext_lazy("Mould beads")
    empty = gettext_lazy("No batch yet. Fill some moulds and log them here.")


@idempotent
def mould(request):
    """Moulds filled: prepared glass becomes beads on the bench."""
    form = MouldForm(
        request.POST or None,
        initial={"on": timezone.localdate(), "bead": request.GET.get("bead")},
    )
    return edit_page(
        request,
        form,
        heading=_("Mould beads"),
        template="stock/batch_mould.html",
        submit_label=_("Moulds are filled"),
        save=lambda form: _mould(request, form),
        done_url=lambda batch: reverse("stock:batch", args=[batch.pk]),
        back_url=reverse("stock:beads"),
        weigh=_weighing(form) if form.is_bound else [],
    )


def weigh_out(request):
    """What to weigh out of each colour for the beads typed so far."""
    return render(request, "stock/_weigh_out.html", {"weigh": _weighing(MouldForm(request.GET))})


def _weighing(form: MouldForm) -> list[dict]:
    """Each glass that the moulds take, and what is free of it; empty while figures are missing."""
    form.is_valid()
    bead, count = form.cleaned_data.get("bead"), form.cleaned_data.get("count")
    if not bead or not count:
        return []
    try:
        parts = _parts(bead, count, form.cleaned_data.get("weighed_g"))
    except ValidationError:
        return []
    free = {
        row.item_id: row.free_quantity
        for row in Balance.objects.filter(item__in=[part.item for part in parts])
        if row.place_id == parts[0].place.pk
    }
    return [
        {
            "item": part.item,
            "mg": part.quantity,
            "there": free.get(part.item.pk, 0),
            "short": part.quantity > free.get(part.item.pk, 0),
        }
        for part in parts
    ]


def _parts(bead: Bead, count: int, weighed_g: int | None) -> list[Taken]:
    """The glass of each colour: what was weighed out, shared as the bead's colours are."""
    glass = glass_to_weigh(bead, count)
    if not weighed_g:
        return glass
    parts = split_whole(weighed_g * 1000, [part.quantity for part in glass])
    return [Taken(part.item, part.place, mg) for part, mg in zip(glass, parts, strict=True)]


def _mould(request, form: MouldForm) -> BeadBatch:
    data = form.cleaned_data
    glass = _parts(data["bead"], data["count"], data["weighed_g"])
    return mould_beads(
        data["bead"],
        data["count"],
        glass=glass,
        on=data["on"],
        note=data["note"],
        minutes=data["minutes"] or 0,
        person=request.user,
    )


def detail(request, pk):
    """Where a batch's beads are now and what happened to them."""
    batch = get_object_or_404(BeadBatch.objects.select_related("bead"), pk=pk)
    item = batch_item(batch)
    here = Balance.objects.filter(item=item, quantity__gt=0).select_related("place")
    events = (
        Movement.objects.filter(item=item)
        .select_related("posting__person", "from_place", "to_place")
        .order_by("-pk")[:60]
    )
    firing = next_firing(batch)
    waiting, to_paint = _waiting(item, firing), beads_to_paint(batch)
    return render(
        request,
        "stock/batch.html",
        {
            "batch": batch,
            "item": item,
            "glasses": glass_moulded(batch),
            "here": [row for row in here if row.inside],
            "events": events,
            "picture": way_of(request, way_of_batch(item), str(batch)),
            "waiting": waiting,
            "firing": firing if waiting else 0,
            "to_paint": to_paint,
            "may_paint": may(request, "stock:batch_paint", "POST"),
            "may_finish": may(request, "stock:batch_finish", "POST"),
            "may_move": may(request, "stock:stock_move", "POST"),
            "may_see_book": may(request, "stock:posting"),
            "share_good": Decimal(batch.good) / batch.started if batch.started else None,
        },
    )


def _waiting(item, firing: int) -> int:
    """Beads that may be sorted as those of a firing."""
    rows = Balance.objects.at(LocationKind.BENCH, LocationKind.KILN).filter(item=item)
    return sum(row.free_quantity for row in rows.exclude(place__code__in=NOT_SORTED[firing]))


@idempotent
def paint(request, pk):
    """Beads for the shelf are painted and dry, ready for their second firing."""
    batch = get_object_or_404(BeadBatch.objects.select_related("bead"), pk=pk)
    kept = worked_on_elsewhere(batch)
    if kept is not None and kept.whole:
        messages.info(request, kept.sentence)
        return redirect(kept.url)
    there = beads_to_paint(batch)
    if not there and request.method != "POST":
        messages.info(request, _("No bead of %(batch)s waits to be painted.") % {"batch": batch})
        return redirect("stock:batch", pk=pk)
    form = PaintForm(
        request.POST or None, initial={"on": timezone.localdate(), "count": str(there or "")}
    )
    return edit_page(
        request,
        form,
        heading=_("Paint batch %(number)s") % {"number": batch.number},
        lead=_("%(n)s × %(bead)s stand to be painted.") % {"n": there, "bead": batch.bead},
        submit_label=_("Painted"),
        template="stock/batch_paint.html",
        batch=batch,
        save=lambda form: _paint(request, batch, form),
        saved=_("Batch %(number)s: painted, ready for the second firing.")
        % {"number": batch.number},
        done_url=reverse("stock:batch", args=[pk]),
        back_url=reverse("stock:batch", args=[pk]),
    )


def _paint(request, batch: BeadBatch, form: PaintForm) -> Posting | None:
    data = form.cleaned_data
    return paint_beads(
        batch, data["count"], on=data["on"], minutes=data["minutes"] or 0, person=request.user
    )


@idempotent
def finish(request, pk):
    """Polished and sorted: good beads to the shelf (or to painting), rejects to the glass."""
    batch = get_object_or_404(BeadBatch.objects.select_related("bead"), pk=pk)
    firing = next_firing(batch)
    waiting = _waiting(batch_item(batch), firing)
    if kept := worked_on_elsewhere(batch):
        messages.info(request, kept.sentence)
        return redirect(kept.url)
    if not waiting and request.method != "POST":
        messages.info(request, _("No bead of %(batch)s waits to be sorted.") % {"batch": batch})
        return redirect("stock:batch", pk=pk)
    form = FinishForm(
        request.POST or None,
        batch=batch,
        waiting=waiting,
        initial={"on": timezone.localdate(), "good": str(waiting or ""), "rejected": "0"},
    )
    return edit_page(
        request,
        form,
        heading=_("Finish and sort batch %(number)s") % {"number": batch.number},
        lead=_("%(waiting)s × %(bead)s wait, firing %(firing)s of %(all)s.")
        % {
            "waiting": waiting,
            "bead": batch.bead,
            "firing": firing,
            "all": batch.bead.firings,
        },
        submit_label=_("Sorted"),
        template="stock/batch_finish.html",
        batch=batch,
        save=lambda form: _sort(request, batch, form, firing),
        saved=_("Batch %(number)s is sorted.") % {"number": batch.number},
        done_url=reverse("stock:batch", args=[pk]),
        back_url=reverse("stock:batch", args=[pk]),
    )


def _sort(request, batch: BeadBatch, form: FinishForm, firing: int) -> Posting:
    data = form.cleaned_data
    return log_good_beads(
        batch,
        good=data["good"],
        rejected=data["rejected"],
        broken=data["broken"] or 0,
        rejects_to=data["rejects_to"],
        place=data.get("place"),
        on=data["on"],
        firing=firing,
        minutes=data["minutes"] or 0,
        person=request.user,
    )
