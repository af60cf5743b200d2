"""What collectors were paid, on numbered slips that are never edited."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from stock.models.glass import Collector
from workshop.models import MoneyField, Person


class Payout(models.Model):
    """Money handed to a collector for some sacks; its content is frozen for the slip."""

    year = models.PositiveSmallIntegerField(default=0)
    sequence = models.PositiveIntegerField()
    number = models.CharField(_("number"), max_length=30, unique=True)
    collector = models.ForeignKey(
        Collector, models.PROTECT, related_name="payouts", verbose_name=_("collector")
    )
    issued_on = models.DateField(_("issued"))
    paid_on = models.DateField(_("paid"), db_index=True)
    paid_at = models.DateTimeField(auto_now_add=True)
    paid_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    currency = models.CharField(max_length=3)
    total = MoneyField(_("paid"))
    content = models.JSONField()

    class Meta:
        ordering = ["-id"]
        verbose_name = _("collector’s slip")
        verbose_name_plural = _("collectors’ slips")
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="payout_number_once"),
            models.CheckConstraint(condition=models.Q(total__gt=0), name="payout_is_not_nothing"),
        ]

    def __str__(self) -> str:
        return self.number
