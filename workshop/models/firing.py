"""What beads are fired in and by: kilns, moulds and firing programmes."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.models.fields import MoneyField, ShareField, SizeField
from workshop.physics.cycle import ClosedKiln, Soak, slow_min
from workshop.physics.kept_hot import KeptHot
from workshop.physics.sentences import PhysicsError


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


class WayOfWorking(models.TextChoices):
    CLOSED = "closed", _("closed: heated, held, cooled and opened cold for each load")
    HOT = "hot", _("kept hot: lit once, moulds go in and come out in rounds")


class KnownFrom(models.TextChoices):
    """Where a figure about a kiln is from."""

    GUESS = "guess", _("first guess")
    BUILDING = "building", _("from the building")
    MEASURED = "measured", _("measured")


HOT_FIGURES = (
    "warm_up_min",
    "change_min",
    "keep_hot_min",
    "hotter_c_per_min",
    "cooler_c_per_min",
)
"""What a kiln kept hot needs to be planned."""


class Kiln(models.Model):
    """A kiln with a shelf of so many mould places, closed or kept hot."""

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
    usual_fill = ShareField(
        _("usual fill"),
        null=True,
        blank=True,
        help_text=_("Share of the places that a usual load fills. Left empty, it is measured."),
    )
    wear_per_load = MoneyField(
        _("wear of a load"),
        default=0,
        help_text=_("Price of shelves and lining, divided by the loads they last."),
    )
    in_use = models.BooleanField(_("in use"), default=True)

    way = models.CharField(
        _("way of working"), max_length=6, choices=WayOfWorking, default=WayOfWorking.CLOSED
    )
    warm_up_min = models.PositiveSmallIntegerField(
        _("warm-up, minutes"),
        null=True,
        blank=True,
        help_text=_("From lighting it to hot, once a run."),
    )
    change_min = models.PositiveSmallIntegerField(
        _("changing moulds, minutes"),
        null=True,
        blank=True,
        help_text=_("Open, take out, put in, close, back to temperature."),
    )
    keep_hot_min = models.PositiveSmallIntegerField(
        _("kept hot without moulds, minutes"),
        null=True,
        blank=True,
        help_text=_("The longest wait between two rounds; after it the kiln is lit anew."),
    )
    hotter_c_per_min = models.DecimalField(
        _("hotter by, °C a minute"), max_digits=5, decimal_places=1, null=True, blank=True
    )
    cooler_c_per_min = models.DecimalField(
        _("cooler by, °C a minute"), max_digits=5, decimal_places=1, null=True, blank=True
    )
    heat_c_per_min = models.DecimalField(
        _("heats by, °C a minute"),
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text=_("Left empty: the preheat minutes count, whatever the temperature."),
    )
    open_c = models.PositiveSmallIntegerField(
        _("opened at, °C"),
        null=True,
        blank=True,
        help_text=_("Left empty: a soak counts on top of the whole cooling."),
    )
    ref_c = models.PositiveSmallIntegerField(
        _("cooling was timed from, °C"),
        null=True,
        blank=True,
        help_text=_("Left empty: from each programme's own temperature."),
    )
    body_mj = models.DecimalField(
        _("heat of its body, MJ"),
        max_digits=7,
        decimal_places=2,
        null=True,
        blank=True,
        help_text=_("Taken up at each warm-up. With the loss, fuel is reckoned by the hour."),
    )
    body_from = models.CharField(
        _("the body is"), max_length=8, choices=KnownFrom, default=KnownFrom.GUESS
    )
    loss_kw = models.DecimalField(
        _("loss while hot, kW"), max_digits=6, decimal_places=3, null=True, blank=True
    )
    loss_from = models.CharField(
        _("the loss is"), max_length=8, choices=KnownFrom, default=KnownFrom.GUESS
    )
    fire_efficiency = ShareField(
        _("efficiency of the fire"),
        null=True,
        blank=True,
        help_text=_("Share of the fuel's heat that does not leave by the flue; electricity 100 %."),
    )
    fire_from = models.CharField(
        _("the fire's efficiency is"), max_length=8, choices=KnownFrom, default=KnownFrom.GUESS
    )

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
            models.CheckConstraint(
                condition=~Q(way=WayOfWorking.HOT)
                | Q(
                    warm_up_min__isnull=False,
                    change_min__isnull=False,
                    keep_hot_min__isnull=False,
                    hotter_c_per_min__gt=0,
                    cooler_c_per_min__gt=0,
                ),
                name="kiln_kept_hot_has_its_minutes",
                violation_error_message=_(
                    "A kiln kept hot needs its warm-up, change and waiting minutes, and how fast "
                    "it grows hotter and cooler."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(heat_c_per_min__isnull=True) | Q(heat_c_per_min__gt=0))
                & (Q(open_c__isnull=True) | Q(open_c__gt=20))
                & (Q(ref_c__isnull=True) | Q(open_c__isnull=True) | Q(ref_c__gt=F("open_c"))),
                name="kiln_cools_down",
                violation_error_message=_(
                    "It heats by more than 0 °C a minute, and is opened above the 20 °C of the "
                    "room and below where its cooling was timed from."
                ),
            ),
            models.CheckConstraint(
                condition=(Q(body_mj__isnull=True) | Q(body_mj__gt=0))
                & (Q(loss_kw__isnull=True) | Q(loss_kw__gt=0))
                & (
                    Q(fire_efficiency__isnull=True)
                    | Q(fire_efficiency__gt=0, fire_efficiency__lte=1)
                ),
                name="kiln_heat_is_above_nothing",
                violation_error_message=_(
                    "Body and loss lie above 0, the fire's efficiency up to 100 %%."
                ),
            ),
            models.CheckConstraint(
                condition=Q(usual_fill__isnull=True) | Q(usual_fill__gt=0, usual_fill__lte=1),
                name="kiln_usual_fill_is_a_share",
                violation_error_message=_(
                    "A usual load fills more than none of the places and at most all of them."
                ),
            ),
            models.CheckConstraint(
                condition=Q(wear_per_load__gte=0),
                name="kiln_wear_not_negative",
                violation_error_message=_("What a load wears off the kiln cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_kept_hot(self) -> bool:
        return self.way == WayOfWorking.HOT

    @property
    def as_hot(self) -> KeptHot | None:
        """How it is worked, for the planner; None for a closed kiln."""
        if not self.is_kept_hot:
            return None
        return KeptHot(
            self.warm_up_min or 0,
            self.change_min or 0,
            self.keep_hot_min or 0,
            self.hotter_c_per_min or Decimal(1),
            self.cooler_c_per_min or Decimal(1),
        )

    @property
    def as_closed(self) -> ClosedKiln:
        """How it heats and cools, for the curve of a closed firing."""

        def figure(value: Decimal | int | None) -> float | None:
            return None if value is None else float(value)

        return ClosedKiln(
            self.preheat_min,
            self.cooling_min,
            figure(self.heat_c_per_min),
            figure(self.open_c),
            figure(self.ref_c),
        )

    @property
    def knows_its_heat(self) -> bool:
        """Whether fuel can be reckoned from body, loss and fire."""
        return None not in (self.body_mj, self.loss_kw, self.fire_efficiency)


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
    soak_c = models.PositiveSmallIntegerField(
        _("soak at, °C"),
        null=True,
        blank=True,
        help_text=_("A rest on the way down, so that thick beads do not crack. All four or none."),
    )
    soak_min = models.PositiveSmallIntegerField(_("soak for, minutes"), null=True, blank=True)
    slow_to_c = models.PositiveSmallIntegerField(
        _("then slowly down to, °C"), null=True, blank=True
    )
    slow_c_per_min = models.DecimalField(
        _("by, °C a minute"), max_digits=5, decimal_places=2, null=True, blank=True
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
            models.CheckConstraint(
                condition=Q(
                    soak_c__isnull=True,
                    soak_min__isnull=True,
                    slow_to_c__isnull=True,
                    slow_c_per_min__isnull=True,
                )
                | Q(
                    soak_c__lt=F("hold_c"),
                    soak_min__isnull=False,
                    slow_to_c__lt=F("soak_c"),
                    slow_to_c__gt=20,
                    slow_c_per_min__gt=0,
                ),
                name="programme_soak_lies_on_the_way_down",
                violation_error_message=_(
                    "A soak needs all four of its figures: below the temperature held, then slowly "
                    "down to something cooler yet."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def soak(self) -> Soak | None:
        """Soak and slow cooling; None where it cools by itself from the hold."""
        figures = (self.soak_c, self.soak_min, self.slow_to_c, self.slow_c_per_min)
        return None if None in figures else Soak(*(float(f) for f in figures if f is not None))

    def slow_min_in(self, kiln: Kiln) -> int:
        """Whole minutes that its soak and slow cooling add to a load of a closed kiln."""
        try:
            return slow_min(kiln.as_closed, self.hold_c, self.hold_min, self.soak)
        except PhysicsError:
            # A kiln opened hotter than the slow cooling ends: reckoned as if that were not known.
            closed = ClosedKiln(kiln.preheat_min, kiln.cooling_min)
            return slow_min(closed, self.hold_c, self.hold_min, self.soak)


class Mould(models.Model):
    """A clay mould: how many beads of which size it makes and how many of it are owned."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    shape = models.CharField(_("bead shape"), max_length=14)
    also_shapes = models.JSONField(
        _("serves also for"),
        default=list,
        blank=True,
        help_text=_("Other shapes whose beads are made in it, whatever their size."),
    )
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
    held_hot_min = models.PositiveSmallIntegerField(
        _("tied up after coming out hot, minutes"),
        null=True,
        blank=True,
        help_text=_("From a kiln kept hot; left empty: as long as after a closed load."),
    )
    price = MoneyField(_("price of one"), default=0)
    usual_life = models.PositiveSmallIntegerField(
        _("fillings it lasts"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text=_("Left empty: 40, until enough have gone to measure it."),
    )
    wash_per_fill = MoneyField(
        _("kiln wash of a filling"), default=0, help_text=_("Grams × price.")
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
            models.CheckConstraint(
                condition=Q(price__gte=0) & Q(wash_per_fill__gte=0),
                name="mould_costs_not_negative",
                violation_error_message=_("The price of a mould and its wash cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def serves(self, shape: str) -> bool:
        """Whether beads of a shape are made in it."""
        return shape == self.shape or shape in self.also_shapes
