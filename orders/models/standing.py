"""Orders that a customer wants again and again: what, how often, from when."""

from calendar import monthrange
from datetime import date, timedelta

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer
from orders.models.designs import StrandDesign
from orders.models.orders import Order
from workshop.models import MoneyField, Person

DAYS_A_WEEK, MONTHS_A_YEAR = 7, 12


class StandingOrder(models.Model):
    """The same strands for one customer, every so many weeks or months.

    from_on    the first day it is wanted; the others follow at its distance
    next_on    the next day that no order was taken for yet
    ahead_days so many days before it is wanted it is taken, so that its beads can be made
    """

    class Unit(models.TextChoices):
        WEEKS = "weeks", _("weeks")
        MONTHS = "months", _("months")

    customer = models.ForeignKey(
        Customer, models.PROTECT, related_name="standing_orders", verbose_name=_("customer")
    )
    every = models.PositiveSmallIntegerField(
        _("every"), default=1, validators=[MinValueValidator(1), MaxValueValidator(52)]
    )
    unit = models.CharField(_("weeks or months"), max_length=6, choices=Unit, default=Unit.MONTHS)
    from_on = models.DateField(_("wanted first on"))
    next_on = models.DateField(_("wanted next on"), db_index=True)
    ahead_days = models.PositiveSmallIntegerField(
        _("taken so many days before"), default=14, validators=[MaxValueValidator(180)]
    )
    paused_until = models.DateField(_("paused until"), null=True, blank=True)
    ended_on = models.DateField(_("ended"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    agreed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["next_on", "id"]
        verbose_name = _("standing order")
        verbose_name_plural = _("standing orders")
        constraints = [
            models.CheckConstraint(
                condition=Q(every__gte=1) & Q(next_on__gte=F("from_on")),
                name="standing_order_goes_on",
                violation_error_message=_("It comes every week or month at the soonest."),
            ),
        ]

    def __str__(self) -> str:
        return str(_("standing order %d") % self.pk)

    def day(self, number: int) -> date:
        """The day that it is wanted for the `number`th time, the first being 0.

        A month without that day has its last one instead.
        """
        if self.unit == self.Unit.WEEKS:
            return self.from_on + timedelta(days=DAYS_A_WEEK * self.every * number)
        months = self.from_on.month - 1 + self.every * number
        year, month = self.from_on.year + months // MONTHS_A_YEAR, months % MONTHS_A_YEAR + 1
        return date(year, month, min(self.from_on.day, monthrange(year, month)[1]))

    def first_from(self, day: date) -> date:
        """The first day it is wanted on or after a day."""
        number = 0
        while (found := self.day(number)) < day:
            number += 1
        return found

    def days_from(self, day: date, many: int) -> list[date]:
        """So many days that it is wanted, from a day on."""
        found: list[date] = []
        while len(found) < many:
            found.append(self.first_from(found[-1] + timedelta(days=1) if found else day))
        return found

    @property
    def wanted_next(self) -> date:
        """The next day, past a pause."""
        if self.paused_until is not None and self.next_on < self.paused_until:
            return self.first_from(self.paused_until)
        return self.next_on

    @property
    def take_on(self) -> date:
        """The day on which the next order of it is to be taken."""
        return self.wanted_next - timedelta(days=self.ahead_days)

    def is_paused(self, today: date) -> bool:
        return self.paused_until is not None and today < self.paused_until


class StandingLine(models.Model):
    """So many strands of one design, every time; at the price in force unless one was agreed."""

    standing = models.ForeignKey(StandingOrder, models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField(default=0)
    design = models.ForeignKey(StrandDesign, models.PROTECT, related_name="standing_lines")
    strands = models.PositiveIntegerField(_("strands"))
    price = MoneyField(_("each"), null=True, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["standing", "design"], name="standing_line_once_a_design"
            ),
            models.CheckConstraint(condition=Q(strands__gte=1), name="standing_line_wants_some"),
        ]

    def __str__(self) -> str:
        return f"{self.strands} × {self.design}"


class StandingTaken(models.Model):
    """An order taken for one day of a standing order: once for each day.

    refused  why it could not be promised by itself; it waits as an order not confirmed
    """

    standing = models.ForeignKey(StandingOrder, models.PROTECT, related_name="taken")
    wanted_on = models.DateField(_("wanted on"))
    order = models.OneToOneField(Order, models.PROTECT, related_name="standing_taken")
    refused = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-wanted_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["standing", "wanted_on"], name="standing_order_taken_once_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.standing} {self.wanted_on:%Y-%m-%d}"
