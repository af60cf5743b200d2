"""Batches that belong to an order or stand in a load, and where work on them is written down."""

from django.urls import reverse
from django.utils.translation import gettext as _

from orders.models import Order, WorkOrder
from stock.models import BeadBatch, KilnLoad, LoadTray
from stock.owners import KEEPERS, Elsewhere


def kept_by_an_order(batch: BeadBatch) -> Elsewhere | None:
    """Beads made for an open order, or burning, are not sorted behind their backs (2 queries)."""
    job = (
        WorkOrder.objects.filter(batch=batch, order__state=Order.State.CONFIRMED)
        .exclude(step=WorkOrder.Step.DONE)
        .select_related("order")
        .first()
    )
    if job is not None:
        words = {"batch": batch, "order": job.order.number, "step": job.get_step_display()}
        if job.step == WorkOrder.Step.FINISHING:
            sentence = _("The beads of %(batch)s are for order %(order)s; sort them here.") % words
            return Elsewhere(sentence, reverse("orders:bench_finish", args=[job.pk]))
        if job.step == WorkOrder.Step.PAINTING:
            sentence = _("The beads of %(batch)s are for order %(order)s; paint them here.") % words
            return Elsewhere(sentence, reverse("orders:bench_paint", args=[job.pk]))
        sentence = _(
            "The beads of %(batch)s are for order %(order)s and are %(step)s; they are sorted once "
            "they come out of their last firing."
        )
        return Elsewhere(sentence % words, reverse("orders:order_detail", args=[job.order.number]))
    tray = (
        LoadTray.objects.filter(batch=batch, load__state=KilnLoad.State.FIRING)
        .select_related("load")
        .first()
    )
    if tray is None:
        return None
    sentence = _("%(batch)s is in the kiln, in load %(load)s; log what comes out of it here.") % {
        "batch": batch,
        "load": tray.load.number,
    }
    return Elsewhere(sentence, reverse("orders:load", args=[tray.load.number]), whole=False)


def keep_batches() -> None:
    """Called once when the program starts."""
    if kept_by_an_order not in KEEPERS:
        KEEPERS.append(kept_by_an_order)
