"""Glass by colour, and where it comes from: collectors, their prices and their sacks."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.formats import date_short
from workshop.models import (
    FoundBy,
    KeepsSums,
    MoneyField,
    NamedFurther,
    Person,
    ShareField,
    SortedByName,
)

MARK_LENGTH = 24
PARTLY = [MinValueValidator(Decimal("0.0001")), MaxValueValidator(Decimal("1"))]


class GlassForm(models.TextChoices):
    """What state glass is in on its way from sack to mould."""

    RAW = "raw", _("raw")
    CHUNKS = "chunks", _("chunks")
    POWDER = "powder", _("powder")
    REJECTS = "rejects", _("rejects")


class GlassKind(models.TextChoices):
    """What a glass was made for, which says what it may be melted with."""

    BOTTLE = "bottle", _("bottle glass")
    SHEET = "sheet", _("window glass")
    OVEN = "oven", _("oven glass")
    UNKNOWN = "unknown", _("unknown glass")


# Glass that is not melted at all until the owner has said what may become of it.
HELD_APART = frozenset({GlassKind.OVEN, GlassKind.UNKNOWN})


class GlassColour(NamedFurther):
    """One glass the workshop keeps apart: bottle glass of a colour, or a heap of another kind.

    kept_from  the bottle glass of the same colour, from which a heap of another kind is kept
    """

    name = models.CharField(_("name"), max_length=40, unique=True)
    kind = models.CharField(
        _("kind of glass"),
        max_length=8,
        choices=GlassKind,
        default=GlassKind.BOTTLE,
        help_text=_("Window, oven and unknown glass lie on heaps of their own."),
    )
    kept_from = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, editable=False, related_name="kept_apart"
    )
    swatch = models.CharField(
        _("colour on screen"),
        max_length=7,
        validators=[RegexValidator(r"^#[0-9a-fA-F]{6}\Z", _("Write a colour such as #2f6b4a."))],
    )
    see_through = models.BooleanField(_("light comes through"), default=True)
    density_g_cm3 = models.DecimalField(
        _("density, g/cm³"),
        max_digits=5,
        decimal_places=3,
        default=Decimal("2.500"),
        validators=[MinValueValidator(Decimal("2")), MaxValueValidator(Decimal("8"))],
    )
    expansion_e7 = models.DecimalField(
        _("expansion, 10⁻⁷/K"), max_digits=5, decimal_places=1, null=True, blank=True
    )
    washing_yield = ShareField(_("left after washing"), default=Decimal("0.97"), validators=PARTLY)
    powder_yield = ShareField(
        _("left after grinding to powder"), default=Decimal("0.90"), validators=PARTLY
    )
    chunk_yield = ShareField(
        _("left after breaking to chunks"), default=Decimal("0.95"), validators=PARTLY
    )
    bottle_g = models.PositiveIntegerField(
        _("mass of one bottle, g"), default=350, validators=[MinValueValidator(1)]
    )
    price_per_kg = MoneyField(_("price per kg, raw"), default=Decimal("0.20"))
    reorder_g = models.PositiveIntegerField(_("collect more below, g"), default=0)
    lead_days = models.PositiveSmallIntegerField(
        _("days until more is brought"), default=14, validators=[MinValueValidator(1)]
    )
    in_use = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["sorts_as"]
        verbose_name = _("glass colour")
        verbose_name_plural = _("glass colours")
        constraints = [
            models.CheckConstraint(
                condition=Q(washing_yield__gt=0, washing_yield__lte=1)
                & Q(powder_yield__gt=0, powder_yield__lte=1)
                & Q(chunk_yield__gt=0, chunk_yield__lte=1),
                name="glass_yields_are_shares",
                violation_error_message=_("A yield lies above 0 %% and up to 100 %%."),
            ),
            models.CheckConstraint(
                condition=Q(density_g_cm3__gt=0) & Q(bottle_g__gt=0) & Q(price_per_kg__gte=0),
                name="glass_weighs_something",
                violation_error_message=_(
                    "Density and bottle mass must be above 0, the price not below."
                ),
            ),
            models.UniqueConstraint(
                fields=["kept_from", "kind"], name="glass_one_heap_of_a_kind_beside_a_colour"
            ),
            models.CheckConstraint(
                condition=Q(kept_from__isnull=True) | ~Q(kind="bottle"),
                name="glass_kept_from_bottles_is_none",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_bottle(self) -> bool:
        return self.kind == GlassKind.BOTTLE

    def yield_for(self, form: str) -> Decimal:
        """Share of raw glass that is left as `form`, washing included."""
        return self.washing_yield * (
            self.powder_yield if form == GlassForm.POWDER else self.chunk_yield
        )


class Collector(SortedByName, KeepsSums):
    """Somebody who brings bottles and is paid by the kilogram."""

    FOUND_BY = FoundBy(parts=("name",), digits=("phone",))

    name = models.CharField(_("name"), max_length=120)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    note = models.TextField(_("note"), blank=True)
    in_use = models.BooleanField(_("still collecting"), default=True)
    # Kept by the acts that weigh in, pay and take back sacks, and proven by `check_book`.
    brought = models.PositiveIntegerField(_("sacks"), default=0, editable=False)
    owed = MoneyField(_("owed"), default=0, editable=False)
    paid = MoneyField(_("paid"), default=0, editable=False)
    last_on = models.DateField(_("last"), null=True, editable=False)

    KEPT = frozenset({"brought", "owed", "paid", "last_on"})

    class Meta:
        ordering = ["sorts_as"]
        verbose_name = _("collector")
        verbose_name_plural = _("collectors")

    def __str__(self) -> str:
        return self.name


class CollectorPrice(models.Model):
    """What a kilogram of a colour is paid from a day on; without a collector, for everyone."""

    collector = models.ForeignKey(
        Collector,
        models.CASCADE,
        null=True,
        blank=True,
        related_name="prices",
        verbose_name=_("collector"),
    )
    colour = models.ForeignKey(
        GlassColour, models.CASCADE, related_name="collector_prices", verbose_name=_("colour")
    )
    price_per_kg = MoneyField(_("price per kg"))
    valid_from = models.DateField(_("from"))

    class Meta:
        ordering = ["colour__name", "-valid_from"]
        verbose_name = _("collector's price")
        verbose_name_plural = _("collectors' prices")
        constraints = [
            models.UniqueConstraint(
                fields=["collector", "colour", "valid_from"],
                name="collector_price_once_a_day",
                violation_error_message=_(
                    "This collector has a price for this colour from that day already; change it, "
                    "or write a later day."
                ),
            ),
            models.UniqueConstraint(
                fields=["colour", "valid_from"],
                condition=Q(collector__isnull=True),
                name="collector_price_for_all_once_a_day",
                violation_error_message=_(
                    "This colour has a price for everybody from that day already; change it, or "
                    "write a later day."
                ),
            ),
            models.CheckConstraint(
                condition=Q(price_per_kg__gte=0),
                name="collector_price_not_negative",
                violation_error_message=_("A price per kilogram cannot be below 0."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.colour}, {date_short(self.valid_from)}"


class Sack(models.Model):
    """One sack weighed in: gross less tare less dirt is the glass in it."""

    class Origin(models.TextChoices):
        BOTTLES = "bottles", _("bottles")
        SHEET = "sheet", _("window or sheet glass")
        OVEN = "oven", _("oven dishes, laboratory glass")
        UNKNOWN = "unknown", _("glass nobody knows")
        OLD_BEADS = "old-beads", _("old beads")
        BOUGHT = "bought", _("bought glass")

    number = models.PositiveIntegerField(_("sack"), unique=True)
    collector = models.ForeignKey(
        Collector, models.PROTECT, related_name="sacks", verbose_name=_("collector")
    )
    colour = models.ForeignKey(
        GlassColour,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="sacks",
        verbose_name=_("colour"),
        help_text=_("Left empty: mixed, still to be sorted."),
    )
    origin = models.CharField(
        _("what it is"), max_length=10, choices=Origin, default=Origin.BOTTLES
    )
    held_apart = models.BooleanField(
        _("held apart"),
        default=False,
        help_text=_("Unknown old glass: do not melt with bottle glass."),
    )
    cleared_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    cleared_why = models.CharField(_("reason"), max_length=200, blank=True)
    with_bottles = models.BooleanField(_("put with bottle glass"), default=False, editable=False)
    mark = models.CharField(
        _("lot or maker's mark"),
        max_length=MARK_LENGTH,
        blank=True,
        help_text=_("It stays with the glass, on a heap of its own."),
    )
    received_on = models.DateField(_("received"), db_index=True)
    gross_g = models.PositiveIntegerField(_("gross, g"))
    tare_g = models.PositiveIntegerField(_("tare, g"), default=0)
    dirt_share = ShareField(_("dirt"), default=Decimal("0.03"))
    price_per_kg = MoneyField(_("price per kg"), default=0)
    amount = MoneyField(_("to pay"), default=0)
    paid_on = models.DateField(_("paid"), null=True, blank=True)
    payout = models.ForeignKey(
        "stock.Payout", models.PROTECT, null=True, blank=True, related_name="sacks"
    )
    note = models.CharField(_("note"), max_length=200, blank=True)
    logged_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    posting = models.OneToOneField("stock.Posting", models.PROTECT, null=True, related_name="sack")

    class Meta:
        ordering = ["-number"]
        verbose_name = _("sack")
        verbose_name_plural = _("sacks")
        indexes = [
            models.Index(
                fields=["collector", "received_on"],
                name="sack_to_pay",
                condition=Q(paid_on__isnull=True, amount__gt=0),
            ),
            models.Index(fields=["colour"], name="sack_bought", condition=Q(origin="bought")),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(tare_g__lt=F("gross_g")),
                name="sack_weighs_more_than_its_tare",
                violation_error_message=_("The empty sack must weigh less than the full one."),
            ),
            models.CheckConstraint(
                condition=Q(dirt_share__gte=0) & Q(dirt_share__lt=1),
                name="sack_is_not_all_dirt",
                violation_error_message=_("Dirt must be at least 0 %% and below 100 %%."),
            ),
            models.CheckConstraint(
                condition=Q(gross_g__lte=2_000_000),
                name="sack_can_be_lifted",
                violation_error_message=_(
                    "A sack over 2,000 kg is a slip of the finger; weigh it again."
                ),
            ),
        ]

    def __str__(self) -> str:
        return _("sack %d") % self.number

    @property
    def net_g(self) -> int:
        """Glass in the sack: gross less tare, less the share of dirt."""
        return int((self.gross_g - self.tare_g) * (1 - Decimal(self.dirt_share)))

    @property
    def awaits_word(self) -> bool:
        """Whether the owner may still say that its glass goes with bottle glass."""
        other_kind = self.colour is not None and not self.colour.is_bottle
        return self.held_apart or (other_kind and not self.with_bottles)

    @property
    def is_owed(self) -> bool:
        return self.paid_on is None and self.amount > 0


class GlassTest(models.Model):
    """Two glasses fused together and looked at when cold: they held, or they cracked.

    A mark on either side narrows the test to glass of that mark.
    """

    one = models.ForeignKey(
        GlassColour, models.CASCADE, related_name="+", verbose_name=_("one glass")
    )
    one_mark = models.CharField(_("its mark"), max_length=MARK_LENGTH, blank=True)
    other = models.ForeignKey(
        GlassColour, models.CASCADE, related_name="+", verbose_name=_("the other glass")
    )
    other_mark = models.CharField(_("its mark"), max_length=MARK_LENGTH, blank=True)
    held = models.BooleanField(_("the joint held"))
    tested_on = models.DateField(_("looked at"))
    how = models.CharField(_("how it was tested"), max_length=200, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", verbose_name=_("who"))

    class Meta:
        ordering = ["-tested_on", "-pk"]
        verbose_name = _("glasses tested together")
        verbose_name_plural = _("glasses tested together")
        constraints = [
            models.CheckConstraint(
                condition=~Q(one=F("other")) | ~Q(one_mark=F("other_mark")),
                name="glass_test_of_two_glasses",
                violation_error_message=_(
                    "A glass always goes with itself; choose two glasses, or two marks."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{said_glass(self.one, self.one_mark)} + {said_glass(self.other, self.other_mark)}"


def said_glass(colour: "GlassColour | None", mark: str = "") -> str:
    """A glass by its colour and its mark, as heaps are called."""
    name = str(colour or _("mixed"))
    return f"{name} · {mark}" if mark else name
