"""Which paints are put on a bead, and how much of each."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from stock.models.beads import Bead
from stock.models.book import Item


class BeadPaint(models.Model):
    """A paint in stock that goes on a bead.

    mg_each  how much of it on one bead, in milligrams; empty: nobody weighed it
    """

    bead = models.ForeignKey(Bead, models.CASCADE, related_name="paints", verbose_name=_("bead"))
    item = models.ForeignKey(Item, models.PROTECT, related_name="+", verbose_name=_("paint"))
    mg_each = models.DecimalField(
        _("on one bead, mg"), max_digits=9, decimal_places=3, null=True, blank=True
    )

    class Meta:
        ordering = ["id"]
        verbose_name = _("paint of a bead")
        verbose_name_plural = _("paints of a bead")
        constraints = [
            models.UniqueConstraint(fields=["bead", "item"], name="bead_paint_once"),
            models.CheckConstraint(
                condition=Q(mg_each__isnull=True) | Q(mg_each__gt=0),
                name="bead_paint_weighs_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item.name}"
