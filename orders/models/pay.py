"""Pay for the hands: the agreed floor, and slips that pay each ticket once."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from stock.models import WorkTicket
from workshop.formats import date_short
from workshop.models import MoneyField, Person


class PayFloor(models.Model):
    """The least an hour of work earns, from a day on; without a hand, for everyone."""

    hand = models.ForeignKey(
        Person,
        models.CASCADE,
        null=True,
        blank=True,
        related_name="pay_floors",
        verbose_name=_("hand"),
        help_text=_("Left empty: for everyone."),
    )
    hourly = MoneyField(_("at least, an hour"))
    valid_from = models.DateField(_("from"))

    class Meta:
        ordering = ["-valid_from", "hand__username"]
        verbose_name = _("agreed least pay")
        verbose_name_plural = _("agreed least pay")
        constraints = [
            models.UniqueConstraint(fields=["hand", "valid_from"], name="pay_floor_once_a_day"),
            models.UniqueConstraint(
                fields=["valid_from"],
                condition=Q(hand__isnull=True),
                name="pay_floor_for_all_once_a_day",
            ),
            models.CheckConstraint(
                condition=Q(hourly__gte=0),
                name="pay_floor_not_negative",
                violation_error_message=_("Pay for an hour cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hand or ''} {date_short(self.valid_from)}".strip()


class PaySlip(models.Model):
    """One payment to a hand, for the tickets of some days."""

    year = models.PositiveSmallIntegerField(default=0)
    sequence = models.PositiveIntegerField()
    number = models.CharField(_("number"), max_length=30, unique=True)
    hand = models.ForeignKey(
        Person, models.PROTECT, related_name="pay_slips", verbose_name=_("hand")
    )
    first_day = models.DateField(_("from"))
    last_day = models.DateField(_("to"))
    paid_on = models.DateField(_("paid"), db_index=True)
    paid_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    paid_at = models.DateTimeField(auto_now_add=True)
    currency = models.CharField(max_length=3)
    earned = MoneyField(_("earned"))
    top_up = MoneyField(_("made up to the agreed least"), default=0)
    total = MoneyField(_("paid"))
    in_cash = models.BooleanField(_("paid in cash"), default=True)
    drawer = models.CharField(_("drawer"), max_length=40, blank=True)
    content = models.JSONField()

    class Meta:
        ordering = ["-id"]
        verbose_name = _("pay slip")
        verbose_name_plural = _("pay slips")
        indexes = [models.Index(fields=["last_day"], name="pay_slip_by_last_day")]
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="pay_slip_number_once"),
            models.CheckConstraint(
                condition=Q(total=F("earned") + F("top_up")) & Q(top_up__gte=0),
                name="pay_slip_adds_up",
            ),
            models.CheckConstraint(
                condition=Q(first_day__lte=F("last_day")), name="pay_slip_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return self.number


class PaidWork(models.Model):
    """A ticket on the slip that paid it: once, the database sees to it."""

    slip = models.ForeignKey(PaySlip, models.PROTECT, related_name="paid_work")
    ticket = models.OneToOneField(WorkTicket, models.PROTECT, related_name="paid_work")
    amount = MoneyField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.amount}"
