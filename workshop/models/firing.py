"""What beads are fired in and by: kilns, moulds and firing programmes."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.models.fields import MoneyField, ShareField, SizeField


class Fuel(models.TextChoices):
    WOOD = "wood", _("wood")
    CHARCOAL = "charcoal", _("charcoal")
    LPG = "lpg", _("bottled gas")
    ELECTRICITY = "electricity", _("electricity")


class BeadKind(models.TextChoices):
    POWDER = "powder", _("powder")
    FUSED = "fused", _("fused chunk")
    REMADE = "remade", _("remade")
    PAINTED = "painted", _("painted")
    CENTREPIECE = "centrepiece", _("centrepiece")


class Kiln(models.Model):
    """A kiln with a shelf of so many mould places."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    places = models.PositiveSmallIntegerField(_("mould places"), validators=[MinValueValidator(1)])
    lowest_c = models.PositiveSmallIntegerField(_("lowest temperature, °C"), default=500)
    highest_c = models.PositiveSmallIntegerField(_("highest temperature, °C"), default=1000)
    preheat_min = models.PositiveSmallIntegerField(_("preheat, minutes"), default=60)
    cooling_min = models.PositiveSmallIntegerField(_("cooling, minutes"), default=90)
    fuel = models.CharField(_("fuel"), max_length=12, choices=Fuel, default=Fuel.WOOD)
    fuel_price = MoneyField(
        _("fuel price"), default=0, help_text=_("Per kilogram, or per kWh of electricity.")
    )
    fuel_per_load = models.DecimalField(
        _("fuel for a usual load"),
        max_digits=8,
        decimal_places=3,
        null=True,
        blank=True,
        help_text=_("Kilograms or kWh, weighed. Left empty, it is worked out from the heat."),
    )
    efficiency = ShareField(
        _("efficiency"),
        default=Decimal("0.12"),
        help_text=_("Share of the fuel's heat that reaches the load."),
        validators=[MinValueValidator(Decimal("0.01")), MaxValueValidator(Decimal("1"))],
    )
    moisture = ShareField(_("moisture of the wood"), default=Decimal("0.20"))
    in_use = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["name"]
        verbose_name = _("kiln")
        verbose_name_plural = _("kilns")
        constraints = [
            models.CheckConstraint(
                condition=Q(places__gte=1),
                name="kiln_has_a_place",
                violation_error_message=_("A kiln needs at least one mould place."),
            ),
            models.CheckConstraint(
                condition=Q(lowest_c__lt=F("highest_c")),
                name="kiln_range_is_a_range",
                violation_error_message=_("The lowest temperature must be below the highest."),
            ),
            models.CheckConstraint(
                condition=Q(highest_c__lte=1400),
                name="kiln_not_hotter_than_any",
                violation_error_message=_(
                    "No bead kiln goes past 1,400 °C; write degrees Celsius."
                ),
            ),
            models.CheckConstraint(
                condition=Q(efficiency__gt=0)
                & Q(efficiency__lte=1)
                & Q(moisture__gte=0)
                & Q(moisture__lt=1),
                name="kiln_shares_are_shares",
                violation_error_message=_(
                    "Efficiency lies above 0 %% and up to 100 %%, moisture below 100 %%."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Programme(models.Model):
    """A firing programme: what the kiln is held at, how long, and what may share its load."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    kind = models.CharField(
        _("for beads of kind"), max_length=12, choices=BeadKind, default=BeadKind.POWDER
    )
    hold_c = models.PositiveSmallIntegerField(_("temperature, °C"))
    hold_min = models.PositiveSmallIntegerField(_("minutes"))
    from_c = models.PositiveSmallIntegerField(_("coolest, °C"))
    to_c = models.PositiveSmallIntegerField(_("hottest, °C"))
    from_min = models.PositiveSmallIntegerField(_("shortest, minutes"))
    to_min = models.PositiveSmallIntegerField(_("longest, minutes"))
    unusual_on_purpose = models.BooleanField(
        _("unusual on purpose"),
        default=False,
        help_text=_("Tick to keep a programme outside common practice."),
    )
    in_use = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["name"]
        verbose_name = _("firing programme")
        verbose_name_plural = _("firing programmes")
        constraints = [
            models.CheckConstraint(
                condition=Q(from_c__lte=F("hold_c")) & Q(hold_c__lte=F("to_c")),
                name="programme_temperature_in_window",
                violation_error_message=_(
                    "The temperature must lie between the coolest and the hottest."
                ),
            ),
            models.CheckConstraint(
                condition=Q(from_min__lte=F("hold_min"))
                & Q(hold_min__lte=F("to_min"))
                & Q(from_min__gte=1),
                name="programme_minutes_in_window",
                violation_error_message=_(
                    "The minutes must lie between the shortest and the longest, from 1 up."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Mould(models.Model):
    """A clay mould: how many beads of which size it makes and how many of it are owned."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    shape = models.CharField(_("bead shape"), max_length=14)
    bead_across_mm = SizeField(_("bead size across, mm"))
    cavities = models.PositiveSmallIntegerField(_("cavities"), validators=[MinValueValidator(1)])
    owned = models.PositiveSmallIntegerField(_("how many owned"), validators=[MinValueValidator(0)])
    places = models.PositiveSmallIntegerField(
        _("places taken on the shelf"), default=1, validators=[MinValueValidator(1)]
    )
    clay_g = models.PositiveIntegerField(_("clay mass, g"))
    held_min = models.PositiveSmallIntegerField(
        _("tied up after the load, minutes"),
        default=0,
        help_text=_("Cooling by itself, emptying, kiln wash."),
    )

    class Meta:
        ordering = ["name"]
        verbose_name = _("mould")
        verbose_name_plural = _("moulds")
        constraints = [
            models.CheckConstraint(
                condition=Q(cavities__gte=1) & Q(places__gte=1) & Q(bead_across_mm__gt=0),
                name="mould_holds_something",
                violation_error_message=_(
                    "A mould has at least one cavity, takes at least one place and has a size."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name
