"""What making costs, beside the glass: charges of every posting, and the standards behind them."""

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from stock.models.beads import Bead, Pattern
from stock.models.book import Item, Posting, StockLocation
from workshop.models import Kiln, MoneyField, Skill


class ChargeName(models.TextChoices):
    """Why value came to the goods, or left them."""

    GLASS = "glass", _("glass")
    OPENING = "opening", _("here before the book began")
    HANDS = "hands", _("hands")
    WORKSHOP = "workshop", _("workshop")
    FUEL = "fuel", _("fuel")
    WEAR = "wear", _("kiln wear")
    MOULDS = "moulds", _("moulds and wash")
    MATERIALS = "materials", _("materials")
    BOUGHT = "bought", _("bought in")
    USED = "used", _("used up")
    ANEW = "anew", _("valued anew")
    SOLD = "sold", _("sold")
    ACCIDENT = "accident", _("accidents")
    BEYOND = "beyond", _("rejects beyond the usual")
    SPOILED = "spoiled", _("spoiled loads")
    APART = "apart", _("taken apart")
    LOST = "lost", _("nothing came good")
    COUNT = "count", _("count differences")
    REVERSAL = "reversal", _("reversals")


class Charge(models.Model):
    """Value that a posting brought to the goods, or took from them, by its name.

    The amounts of a posting add up to what the value of everything within the walls changed by.
    Never edited, never deleted. `units`, `minutes` and `rate` are exact millionths, as money is.

    on     the day of the posting, kept here too so that a period is one stretch of an index
    item   with `place`, where the value lies now; empty when it went through the work or
           came or left with a movement
    """

    posting = models.ForeignKey(Posting, models.PROTECT, related_name="charges")
    on = models.DateField(_("day"))
    name = models.CharField(_("what"), max_length=10, choices=ChargeName)
    step = models.CharField(_("step"), max_length=40, blank=True)
    units = MoneyField(_("units"), default=0)
    setup_min = MoneyField(_("set-up, minutes"), default=0)
    minutes = MoneyField(_("minutes"), default=0)
    rate = MoneyField(_("rate"), default=0)
    amount = MoneyField(_("amount"))
    item = models.ForeignKey(
        Item, models.PROTECT, null=True, blank=True, related_name="+", db_index=False
    )
    place = models.ForeignKey(
        StockLocation, models.PROTECT, null=True, blank=True, related_name="+", db_index=False
    )

    class Meta:
        ordering = ["id"]
        verbose_name = _("charge")
        verbose_name_plural = _("charges")
        indexes = [
            models.Index(fields=["on", "name", "amount", "minutes"], name="charge_by_day"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(item__isnull=True, place__isnull=True)
                | Q(item__isnull=False, place__isnull=False),
                name="charge_lies_somewhere_or_nowhere",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_name_display()} {self.amount}"


class PatternFactor(models.Model):
    """How much longer a step takes for beads of a pattern than for plain ones."""

    pattern = models.CharField(_("colours lie as"), max_length=8, choices=Pattern)
    skill = models.CharField(_("skill"), max_length=12, choices=Skill)
    factor = models.DecimalField(
        _("times the usual minutes"),
        max_digits=7,
        decimal_places=4,
        validators=[MinValueValidator(Decimal("0.0001"))],
    )

    class Meta:
        ordering = ["skill", "pattern"]
        verbose_name = _("pattern factor")
        verbose_name_plural = _("pattern factors")
        constraints = [
            models.UniqueConstraint(
                fields=["pattern", "skill"],
                name="pattern_factor_once",
                violation_error_message=_("This pattern has a factor for this skill already."),
            ),
            models.CheckConstraint(
                condition=Q(factor__gt=0),
                name="pattern_factor_above_nothing",
                violation_error_message=_("A factor must be above 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_pattern_display()}, {self.get_skill_display()}"


# Starting figures, no source: replaced by measured ones from five tickets of a bead up.
STARTING_FACTORS = {
    (Pattern.LAYERS, Skill.MOULDING): Decimal("1.5"),
    (Pattern.STRIPES, Skill.MOULDING): Decimal(2),
}


class BeadMinutes(models.Model):
    """What a step takes for one bead, instead of the rate's minutes by the pattern."""

    bead = models.ForeignKey(
        Bead, models.CASCADE, related_name="own_minutes", verbose_name=_("bead")
    )
    skill = models.CharField(_("skill"), max_length=12, choices=Skill)
    minutes = models.DecimalField(
        _("minutes each"),
        max_digits=9,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
        help_text=_("Of one unit of the rate, without rest. Left empty: by the pattern."),
    )
    piece = MoneyField(
        _("pay by the piece"),
        null=True,
        blank=True,
        help_text=_("For this bead. Left empty: the rate’s, by the pattern."),
    )

    class Meta:
        ordering = ["bead", "skill"]
        verbose_name = _("own minutes of a bead")
        verbose_name_plural = _("own minutes of beads")
        constraints = [
            models.UniqueConstraint(fields=["bead", "skill"], name="bead_minutes_once"),
            models.CheckConstraint(
                condition=(Q(minutes__isnull=True) | Q(minutes__gte=0))
                & (Q(piece__isnull=True) | Q(piece__gte=0)),
                name="bead_minutes_not_negative",
                violation_error_message=_("Minutes and pay cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bead}: {self.get_skill_display()}"


class MonthFigure(models.Model):
    """What was measured on the 1st and holds for the month: a kiln's usual fill, or usual minutes.

    Kept as the sums it was measured from, so that the share is exact.

    kiln     whose usual fill it is; without one, the minutes of a usual month
    filled   places filled, of `places`
    minutes  standard minutes that went into goods in `months` closed months
    """

    month = models.DateField()
    kiln = models.ForeignKey(Kiln, models.CASCADE, null=True, blank=True, related_name="figures")
    filled = models.PositiveIntegerField(default=0)
    places = models.PositiveIntegerField(default=0)
    minutes = MoneyField(default=0)
    months = models.PositiveSmallIntegerField(default=0)
    loads = models.PositiveSmallIntegerField(default=0)
    source = models.CharField(max_length=20)

    class Meta:
        ordering = ["-month", "kiln"]
        constraints = [
            models.UniqueConstraint(fields=["month", "kiln"], name="month_figure_of_a_kiln_once"),
            models.UniqueConstraint(
                fields=["month"],
                condition=Q(kiln__isnull=True),
                name="month_figure_of_minutes_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.month:%Y-%m} {self.kiln or ''}".strip()
