"""Standards taken over from the records: which, when, by whom, and what stood there before."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from workshop.models import Person


class AcceptedStandard(models.Model):
    """A measured value that the owner made the standard in use, and may take back.

    The standard itself lives where costing reads it (bead, colour, kiln, labour rate); this row
    keeps what was written there, so that it can be put back as it was. Orders confirmed
    earlier keep the working they were confirmed on.
    """

    class Kind(models.TextChoices):
        REJECTS = "rejects", _("rejects, first firing")
        SECOND_REJECTS = "rejects-2", _("rejects, second firing")
        POWDER_YIELD = "powder", _("left after grinding to powder")
        CHUNK_YIELD = "chunks", _("left after breaking to chunks")
        MINUTES = "minutes", _("minutes each")
        BEAD_MINUTES = "bead-min", _("minutes of a bead")
        FUEL = "fuel", _("fuel for a usual load")
        EFFICIENCY = "efficiency", _("efficiency of the kiln")
        BODY = "body", _("heat of the kiln's body")
        LOSS = "loss", _("loss of the kiln while hot")
        MOULD_LIFE = "mould-life", _("fillings a mould lasts")

    kind = models.CharField(_("standard"), max_length=10, choices=Kind)
    subject_id = models.PositiveBigIntegerField()
    subject = models.CharField(_("of"), max_length=120)
    before = models.JSONField(_("before"))
    after = models.JSONField(_("after"))
    said_before = models.CharField(_("before"), max_length=40, blank=True)
    said_after = models.CharField(_("after"), max_length=40)
    count = models.PositiveIntegerField(_("from how many"))
    accepted_at = models.DateTimeField(_("accepted"), auto_now_add=True, db_index=True)
    accepted_by = models.ForeignKey(
        Person, models.PROTECT, related_name="accepted_standards", verbose_name=_("by")
    )
    undone_at = models.DateTimeField(_("taken back"), null=True, blank=True)
    undone_by = models.ForeignKey(
        Person,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="undone_standards",
        verbose_name=_("taken back by"),
    )

    class Meta:
        ordering = ["-accepted_at", "-id"]
        verbose_name = _("accepted standard")
        verbose_name_plural = _("accepted standards")
        constraints = [
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True, undone_by__isnull=True)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="standard_undone_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.subject}"
