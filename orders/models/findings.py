"""Findings: what strands need besides beads, and whatever else is bought in and used up."""

from decimal import Decimal

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as translated
from django.utils.translation import gettext_lazy as _

from stock.measures import FUEL, SMALLEST_IN, say_in, unit_of_use
from stock.models import Item
from workshop import formats
from workshop.models import Fuel, MoneyField, SizeField


class Finding(models.Model):
    """What is bought in besides glass: spacers, clasps and cord for strands; paint, wash, fuel.

    item           what the book counts it as, from its first purchase or count on
    kept           it is counted in stock: orders hold it and wait for it, strings take it
    reorder_at     so little of it is left when more is bought, in its smallest unit
    kg_per_litre   what a litre of it weighs, where it is a liquid and somebody weighed one
    delivery_days  how long it takes to come once ordered; empty: to be asked
    """

    class Kind(models.TextChoices):
        SPACER = "spacer", _("spacer")
        CLASP = "clasp", _("clasp")
        CORD = "cord", _("cord, by the metre")
        OTHER = "other", _("other")
        PAINT = "paint", _("paint, by the kilogram")
        WASH = "wash", _("kiln wash, by the kilogram")
        FUEL = "fuel", _("fuel, by the kilogram")

    name = models.CharField(_("name"), max_length=60, unique=True)
    kind = models.CharField(_("kind"), max_length=8, choices=Kind)
    length_mm = SizeField(_("length on the cord, mm"), default=0)
    across_mm = SizeField(_("size across, mm"), default=0)
    price = MoneyField(_("price"), default=0, help_text=_("Each; cord by the metre."))
    fuel = models.CharField(_("kind of fuel"), max_length=12, choices=Fuel, blank=True)
    item = models.OneToOneField(
        Item, models.PROTECT, null=True, blank=True, related_name="finding", editable=False
    )
    kept = models.BooleanField(_("kept in stock"), default=False, editable=False)
    reorder_at = models.BigIntegerField(_("buy more when so little is left"), default=0)
    delivery_days = models.PositiveSmallIntegerField(
        _("days until it comes"),
        null=True,
        blank=True,
        help_text=_("From the day it is ordered. Left empty: ask the supplier."),
    )
    kg_per_litre = models.DecimalField(
        _("a litre weighs, kg"),
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        help_text=_("Of paint, wash or a liquid fuel: then litres are read too."),
    )
    supplier = models.CharField(_("bought from"), max_length=80, blank=True)
    mass_mg = models.PositiveIntegerField(_("mass, mg"), default=0)
    swatch = models.CharField(
        _("colour on screen"),
        max_length=7,
        default="#b08d57",
        validators=[RegexValidator(r"^#[0-9a-fA-F]{6}\Z", _("Write a colour such as #b08d57."))],
    )

    class Meta:
        ordering = ["kind", "name"]
        verbose_name = _("finding")
        verbose_name_plural = _("findings")
        constraints = [
            models.CheckConstraint(
                condition=Q(length_mm__gte=0) & Q(across_mm__gte=0) & Q(price__gte=0),
                name="finding_not_negative",
                violation_error_message=_("Sizes and price of a finding cannot be below 0."),
            ),
            models.CheckConstraint(
                condition=Q(kg_per_litre__isnull=True)
                | Q(kg_per_litre__gt=0, kind__in=["paint", "wash", "fuel"]),
                name="finding_liquid_weighs_something",
                violation_error_message=_(
                    "Only paint, wash and fuel are measured in litres, and a litre has weight."
                ),
            ),
            models.CheckConstraint(
                condition=Q(kept=False) | Q(item__isnull=False),
                name="finding_kept_has_an_item",
            ),
            models.CheckConstraint(
                condition=Q(reorder_at__gte=0),
                name="finding_reorder_not_negative",
                violation_error_message=_("What is left when more is bought cannot be below 0."),
            ),
            models.CheckConstraint(
                condition=(Q(kind="fuel") & ~Q(fuel="")) | (~Q(kind="fuel") & Q(fuel="")),
                name="finding_fuel_of_a_kind",
                violation_error_message=_(
                    "Say which fuel it is; leave that empty for everything else."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args, **kwargs) -> None:
        super().save(*args, **kwargs)
        if self.item_id is not None:  # the book calls it what the workshop calls it
            Item.objects.filter(pk=self.item_id).exclude(name=self.name).update(name=self.name)

    @property
    def use(self) -> str:
        """As what it is used up; fuel with its kind."""
        return f"{FUEL} {self.fuel}" if self.kind == self.Kind.FUEL else self.kind

    @property
    def unit(self) -> str:
        """The unit it is bought and priced in."""
        return unit_of_use(self.use)

    def said(self, quantity: int) -> str:
        """A quantity of it in words; of a liquid in litres too."""
        words = say_in(self.unit, quantity)
        if not self.kg_per_litre or not quantity:
            return words
        litres = Decimal(quantity) / (SMALLEST_IN[self.unit] * self.kg_per_litre)
        said = {"mass": words, "litres": formats.decimal(litres, 0, 2)}
        return translated("%(mass)s (%(litres)s l)") % said

    @property
    def is_on_strands(self) -> bool:
        """It goes onto strands, and orders wait for it."""
        return self.kind in ON_STRANDS


ON_STRANDS = (Finding.Kind.SPACER, Finding.Kind.CLASP, Finding.Kind.CORD)
