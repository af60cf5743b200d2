"""The temperature of a firing as it was read off, minute by minute."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from stock.models import KilnLoad
from workshop.models import Person


class FiringCurve(models.Model):
    """Readings of one load: pairs of minute and °C in order of time, kept with the load.

    They may be written again while they are being copied from the gauge's paper; every writing
    is an act in the log of who did what.
    """

    load = models.OneToOneField(
        KilnLoad, models.CASCADE, related_name="curve", verbose_name=_("load")
    )
    readings = models.JSONField(_("readings"))
    written_at = models.DateTimeField(_("written"), auto_now=True)
    written_by = models.ForeignKey(
        Person, models.PROTECT, related_name="firing_curves", verbose_name=_("by")
    )

    class Meta:
        ordering = ["load_id"]
        verbose_name = _("firing curve")
        verbose_name_plural = _("firing curves")

    def __str__(self) -> str:
        return f"{self.load}: {len(self.readings)}"

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(minute, °C) in order of time."""
        return tuple((float(minute), float(heat_c)) for minute, heat_c in self.readings)
