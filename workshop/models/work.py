"""When and at what price hands work: hours, closed days, steps and their rates."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.models.fields import MoneyField, NameKey, ShareField


class Weekday(models.IntegerChoices):
    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class WorkingHours(models.Model):
    """One stretch of a weekday in which the workshop works."""

    weekday = models.PositiveSmallIntegerField(_("day"), choices=Weekday)
    opens = models.TimeField(_("from"))
    closes = models.TimeField(_("to"))

    class Meta:
        ordering = ["weekday", "opens"]
        verbose_name = _("working hours")
        verbose_name_plural = _("working hours")
        constraints = [
            models.CheckConstraint(
                condition=Q(opens__lt=F("closes")),
                name="hours_open_before_they_close",
                violation_error_message=_("The workshop must open before it closes."),
            ),
            models.UniqueConstraint(fields=["weekday", "opens"], name="hours_once"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}–{self.closes:%H:%M}"


class ClosedDay(models.Model):
    """A day on which nobody works."""

    day = models.DateField(_("day"), unique=True)
    why = models.CharField(_("why"), max_length=80, blank=True)

    class Meta:
        ordering = ["day"]
        verbose_name = _("closed day")
        verbose_name_plural = _("closed days")

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d} {self.why}".strip()


class NoFiring(models.Model):
    """A day on which a kiln, or every kiln, is not lit though the workshop works."""

    day = models.DateField(_("day"), db_index=True)
    kiln = models.ForeignKey(
        "workshop.Kiln",
        models.CASCADE,
        null=True,
        blank=True,
        related_name="days_off",
        verbose_name=_("kiln"),
        help_text=_("Left empty: every kiln."),
    )
    why = models.CharField(_("why"), max_length=80, blank=True)

    class Meta:
        ordering = ["day", "kiln"]
        verbose_name = _("day without firing")
        verbose_name_plural = _("days without firing")
        constraints = [
            models.UniqueConstraint(fields=["day", "kiln"], name="no_firing_once_a_kiln"),
            models.UniqueConstraint(
                fields=["day"], condition=Q(kiln__isnull=True), name="no_firing_once_for_all"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d} {self.kiln or ''}".strip()


class Skill(models.TextChoices):
    PREPARING = "preparing", _("preparing glass")
    MOULDING = "moulding", _("moulding")
    FIRING = "firing", _("firing")
    PIERCING = "piercing", _("piercing")
    POLISHING = "polishing", _("polishing")
    PAINTING = "painting", _("painting")
    STRINGING = "stringing", _("stringing")


class PreparedForm(models.TextChoices):
    """What glass is made to by preparing it; sorting leaves it raw."""

    CHUNKS = "chunks", _("chunks")
    POWDER = "powder", _("powder")
    RAW = "raw", _("raw glass, sorted")


class WorkStep(models.Model):
    """A step of the work by the workshop's own name: what rates are written for, tickets tell of.

    Its skill stands on each of its rates.
    """

    name = models.CharField(_("step"), max_length=40, primary_key=True)

    class Meta:
        ordering = ["name"]
        verbose_name = _("step of the work")
        verbose_name_plural = _("steps of the work")

    def __str__(self) -> str:
        return self.name


class LabourRate(models.Model):
    """What one step takes and costs, from a day on."""

    class Basis(models.TextChoices):
        KG = "kg", _("per kg of glass")
        MOULD = "mould", _("per mould filled")
        BEAD = "bead", _("per bead")
        STRAND = "strand", _("per strand")
        LOAD = "load", _("per kiln load")
        RUN = "run", _("per run of a kiln kept hot")
        ORDER = "order", _("per order")

    step = NameKey(
        WorkStep, models.PROTECT, db_column="step", related_name="rates", verbose_name=_("step")
    )
    skill = models.CharField(_("skill"), max_length=12, choices=Skill)
    basis = models.CharField(_("basis"), max_length=8, choices=Basis)
    kind = models.CharField(
        _("only for beads of kind"),
        max_length=12,
        blank=True,
        help_text=_("Left empty: for every kind."),
    )
    form = models.CharField(
        _("only for glass made to"),
        max_length=8,
        blank=True,
        choices=PreparedForm,
        help_text=_("Preparing only. Left empty: for chunks and powder alike."),
    )
    minutes_each = models.DecimalField(_("minutes each"), max_digits=9, decimal_places=4)
    setup_min = models.DecimalField(
        _("set-up, minutes an order"), max_digits=7, decimal_places=2, default=0
    )
    allowance = ShareField(
        _("allowance"),
        default=Decimal("0"),
        help_text=_("Rest and interruptions, added to the basic time."),
    )
    hourly = MoneyField(_("pay by the hour"))
    piece = MoneyField(
        _("pay by the piece"),
        null=True,
        blank=True,
        help_text=_("For each unit of the basis, instead of the hour."),
    )
    valid_from = models.DateField(_("from"))

    class Meta:
        ordering = ["step", "-valid_from"]
        verbose_name = _("labour rate")
        verbose_name_plural = _("labour rates")
        constraints = [
            models.UniqueConstraint(
                fields=["step", "kind", "form", "valid_from"], name="labour_rate_once_a_day"
            ),
            models.CheckConstraint(
                condition=Q(minutes_each__gte=0)
                & Q(setup_min__gte=0)
                & Q(allowance__gte=0)
                & Q(hourly__gte=0),
                name="labour_rate_not_negative",
                violation_error_message=_("Minutes, allowance and pay cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step_id} ({self.get_basis_display()})"


class StandingCost(models.Model):
    """What the workshop costs beside glass, fuel and pay, from a day on.

    employer_share  on top of pay: social charges, and paid time that is not worked
    workshop_month  rent, insurance, water, tools, depreciation; no office, no selling
    usual_minutes   standard minutes of a usual month, while fewer than three are closed
    office_month    office and selling; never in goods, only in the account of a month
    """

    valid_from = models.DateField(_("from"), unique=True)
    employer_share = ShareField(
        _("employer’s share"),
        default=Decimal("0"),
        help_text=_("On top of pay: social charges, holidays and sick pay."),
    )
    workshop_month = MoneyField(
        _("workshop costs of a month"),
        default=0,
        help_text=_("Rent, insurance, water, tools, depreciation; no office, no selling."),
    )
    usual_minutes = models.PositiveIntegerField(
        _("minutes of work in a usual month"),
        null=True,
        blank=True,
        help_text=_("Used until three months are closed. Left empty: 60 % of the opening hours."),
    )
    office_month = MoneyField(_("office and selling in a month"), default=0)

    class Meta:
        ordering = ["-valid_from"]
        verbose_name = _("standing costs")
        verbose_name_plural = _("standing costs")
        constraints = [
            models.CheckConstraint(
                condition=Q(employer_share__gte=0)
                & Q(workshop_month__gte=0)
                & Q(office_month__gte=0),
                name="standing_cost_not_negative",
                violation_error_message=_("Standing costs cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.valid_from:%Y-%m-%d}"
