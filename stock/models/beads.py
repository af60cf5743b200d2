"""What a bead is: its shape, its colours, its mould and how it is fired."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from stock.models.glass import GlassColour, GlassForm
from workshop.models import (
    BeadKind,
    FoundBy,
    MoneyField,
    Mould,
    NamedFurther,
    Programme,
    ShareField,
    SizeField,
)
from workshop.physics.shapes import SHAPE_FIELDS, BeadShape, ShapeError, bead_shape


class Shape(models.TextChoices):
    ROUND = "round", _("round")
    TUBE = "tube", _("tube")
    DISC = "disc", _("disc, pierced through its face")
    COIN = "coin", _("coin, pierced edge to edge")
    BARREL = "barrel", _("barrel")
    BICONE = "bicone", _("bicone")
    SHARP_BICONE = "sharp_bicone", _("sharp bicone")
    ELLIPSOID = "ellipsoid", _("ellipsoid")
    OBLATE = "oblate", _("oblate")
    RING = "ring", _("ring")
    CUBE = "cube", _("cube")
    STAR = "star", _("star")
    CROSS = "cross", _("cross")
    FISH = "fish", _("fish")


class Pattern(models.TextChoices):
    """How the colours lie in the bead."""

    PLAIN = "plain", _("plain")
    LAYERS = "layers", _("layers across the bore")
    STRIPES = "stripes", _("stripes along the bore")
    MIXED = "mixed", _("mixed")


DIMENSIONS = (
    "diameter_mm",
    "length_mm",
    "bore_mm",
    "end_diameter_mm",
    "inner_diameter_mm",
    "thickness_mm",
    "width_mm",
    "arm_mm",
    "body_length_mm",
    "body_height_mm",
    "tail_length_mm",
    "tail_height_mm",
    "points",
)


class Bead(NamedFurther):
    """A kind of bead the workshop makes again and again."""

    FOUND_BY = FoundBy(parts=("name", "further_names"))

    name = models.CharField(_("name"), max_length=80, unique=True)
    kind = models.CharField(_("kind"), max_length=12, choices=BeadKind)
    shape = models.CharField(_("shape"), max_length=14, choices=Shape)
    pattern = models.CharField(
        _("colours lie as"), max_length=8, choices=Pattern, default=Pattern.PLAIN
    )
    diameter_mm = SizeField(_("diameter, mm"), null=True, blank=True)
    length_mm = SizeField(_("length along the bore, mm"), null=True, blank=True)
    bore_mm = SizeField(_("bore, mm"))
    end_diameter_mm = SizeField(_("diameter at the ends, mm"), null=True, blank=True)
    inner_diameter_mm = SizeField(_("diameter between the points, mm"), null=True, blank=True)
    thickness_mm = SizeField(_("thickness, mm"), null=True, blank=True)
    width_mm = SizeField(_("width, mm"), null=True, blank=True)
    arm_mm = SizeField(_("width of an arm, mm"), null=True, blank=True)
    body_length_mm = SizeField(_("length of the body, mm"), null=True, blank=True)
    body_height_mm = SizeField(_("height of the body, mm"), null=True, blank=True)
    tail_length_mm = SizeField(_("length of the tail, mm"), null=True, blank=True)
    tail_height_mm = SizeField(_("height of the tail, mm"), null=True, blank=True)
    points = models.PositiveSmallIntegerField(_("points"), null=True, blank=True)

    form = models.CharField(
        _("made from"),
        max_length=8,
        choices=[(GlassForm.POWDER, _("powder")), (GlassForm.CHUNKS, _("chunks"))],
        default=GlassForm.POWDER,
    )
    grain_mm = SizeField(_("grain size, mm"), default=Decimal("0.15"))
    mould = models.ForeignKey(Mould, models.PROTECT, related_name="beads", verbose_name=_("mould"))
    programme = models.ForeignKey(
        Programme, models.PROTECT, related_name="beads", verbose_name=_("firing")
    )
    second_programme = models.ForeignKey(
        Programme,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="second_beads",
        verbose_name=_("second firing"),
        help_text=_("For painted beads."),
    )
    paint = models.CharField(
        _("the paint is"),
        max_length=8,
        blank=True,
        default="",
        choices=[
            ("", _("not said")),
            ("enamel", _("a low-melting enamel")),
            ("glass", _("ground glass")),
        ],
        help_text=_("For painted beads: an enamel is set well below powder heat."),
    )
    reject_rate = ShareField(_("rejects, first firing"), default=Decimal("0.08"))
    second_reject_rate = ShareField(_("rejects, second firing"), default=Decimal("0"))
    polishing_loss = ShareField(_("lost in polishing"), default=Decimal("0.02"))
    porosity = ShareField(_("porosity"), default=Decimal("0"))
    spill_share = ShareField(_("spilt at the mould"), default=Decimal("0.02"))
    made_to_order = models.BooleanField(
        _("made to order only"),
        default=False,
        help_text=_("Nobody else buys it: an order bears every bead that is started for it."),
    )
    pigment_g_per_kg = models.DecimalField(
        _("pigment, g per kg of glass"), max_digits=7, decimal_places=2, default=0
    )
    pigment_price_per_kg = MoneyField(_("pigment price per kg"), default=0)
    paint_price_each = MoneyField(_("paint for one bead"), default=0)
    pierced_hot = models.BooleanField(_("pierced by hand while hot"), default=False)
    pierced_waste = ShareField(
        _("lost in piercing"),
        default=Decimal("0"),
        help_text=_("Share of the fired glass that the hole takes when it is pierced hot."),
    )
    fired_in = models.CharField(
        _("fired in"),
        max_length=6,
        blank=True,
        default="",
        choices=[
            ("", _("any kiln")),
            ("closed", _("only a closed kiln")),
            ("hot", _("only a kiln kept hot")),
        ],
    )
    pierce_min = models.DecimalField(
        _("piercing a mould, minutes of one hand"),
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        help_text=_("Left empty: the minutes of the rate for piercing."),
    )
    soft_min = models.DecimalField(
        _("a mould stays soft for, minutes"),
        max_digits=5,
        decimal_places=2,
        default=1,
        help_text=_("A first guess is one minute; your own watch goes before it."),
    )
    drawn_together = models.BooleanField(
        _("all moulds come out at once"),
        default=False,
        help_text=_("Else they are drawn one by one, and the others wait in the heat."),
    )
    anneal_min = models.PositiveSmallIntegerField(
        _("from out of the hot kiln to cold, minutes"),
        default=0,
        help_text=_(
            "In ash, pot or a second chamber. Cold ash saves from shock; it does not anneal."
        ),
    )
    # Where the reject rates are from, and how they scatter from load to load: a beta-binomial
    # fit, written when a measured rate is accepted and emptied when a rate is typed.
    reject_from = models.CharField(max_length=80, blank=True, editable=False)
    second_reject_from = models.CharField(max_length=80, blank=True, editable=False)
    reject_scatter = models.JSONField(null=True, blank=True, editable=False)
    second_reject_scatter = models.JSONField(null=True, blank=True, editable=False)
    weighed_mg = models.PositiveIntegerField(
        _("mass of one, weighed, mg"),
        null=True,
        blank=True,
        help_text=_("Mean of the beads weighed."),
    )
    weighed_count = models.PositiveIntegerField(_("beads weighed"), default=0)
    in_use = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["sorts_as"]
        verbose_name = _("bead")
        verbose_name_plural = _("beads")
        constraints = [
            models.CheckConstraint(
                condition=Q(bore_mm__gt=0),
                name="bead_bore_above_nothing",
                violation_error_message=_(
                    "The bore must be wider than 0 mm, or the bead cannot be strung."
                ),
            ),
            models.CheckConstraint(
                condition=Q(diameter_mm__isnull=True) | Q(bore_mm__lt=F("diameter_mm")),
                name="bead_bore_narrower_than_bead",
                violation_error_message=_(
                    "The bore must be narrower than the bead, or no glass is left."
                ),
            ),
            models.CheckConstraint(
                condition=Q(reject_rate__gte=0, reject_rate__lt=1)
                & Q(second_reject_rate__gte=0, second_reject_rate__lt=1),
                name="bead_some_come_good",
                violation_error_message=_(
                    "Rejects must be at least 0 %% and below 100 %%, or no bead ever comes good."
                ),
            ),
            models.CheckConstraint(
                condition=Q(polishing_loss__gte=0, polishing_loss__lt=1)
                & Q(porosity__gte=0, porosity__lt=1)
                & Q(spill_share__gte=0, spill_share__lt=1)
                & Q(pierced_waste__gte=0, pierced_waste__lt=1),
                name="bead_losses_are_shares",
                violation_error_message=_(
                    "Losses and porosity must be at least 0 %% and below 100 %%."
                ),
            ),
            models.CheckConstraint(
                condition=Q(soft_min__gt=0)
                & (Q(pierce_min__isnull=True) | Q(pierce_min__gt=0))
                & (Q(pierced_hot=False) | ~Q(fired_in="closed")),
                name="bead_pierced_hot_where_it_is_hot",
                violation_error_message=_(
                    "A bead pierced by hand comes hot out of a kiln kept hot; its minutes lie "
                    "above 0."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        try:
            # A shape that was not chosen is told at its own box.
            if self.shape in SHAPE_FIELDS:
                self.measure()
        except ShapeError as error:
            field = error.field if error.field in DIMENSIONS else None
            raise ValidationError({field: error.sentence} if field else error.sentence) from error
        if self.kind == BeadKind.PAINTED and self.second_programme_id is None:
            raise ValidationError(
                {
                    "second_programme": _(
                        "A painted bead is fired a second time; choose its second firing."
                    )
                }
            )

    def measure(self) -> BeadShape:
        """The bead as the geometry sees it; raises ShapeError where no glass is left."""
        sizes = {}
        for name in SHAPE_FIELDS[self.shape]:
            value = getattr(self, name)
            if value is None:
                label = self._meta.get_field(name).verbose_name
                raise ShapeError(name, f"A {self.get_shape_display()} bead needs its {label}.")
            sizes[name] = int(value) if name == "points" else float(value)
        return bead_shape(self.shape, **sizes)

    @property
    def moulded_from(self) -> str:
        """The form of glass its moulds are filled with: remade beads are made of rejects."""
        return GlassForm.REJECTS.value if self.kind == BeadKind.REMADE else self.form

    @property
    def firings(self) -> int:
        return 2 if self.second_programme_id else 1


class BeadColour(models.Model):
    """How much of a bead's glass is of one colour, by mass."""

    bead = models.ForeignKey(Bead, models.CASCADE, related_name="colours", verbose_name=_("bead"))
    colour = models.ForeignKey(
        GlassColour, models.PROTECT, related_name="bead_colours", verbose_name=_("colour")
    )
    share = ShareField(_("share"), validators=[MinValueValidator(Decimal("0.0001"))])
    layer = models.PositiveSmallIntegerField(_("layer"), default=0)

    class Meta:
        ordering = ["layer", "id"]
        verbose_name = _("colour of a bead")
        verbose_name_plural = _("colours of a bead")
        constraints = [
            models.UniqueConstraint(fields=["bead", "colour"], name="bead_colour_once"),
            models.CheckConstraint(
                condition=Q(share__gt=0, share__lte=1),
                name="bead_colour_share_is_a_share",
                violation_error_message=_("A colour's share lies above 0 %% and up to 100 %%."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.share:.0%} {self.colour}"


class BeadBatch(models.Model):
    """Beads of one kind made together; the glass book follows them by this number."""

    number = models.PositiveIntegerField(_("batch"), unique=True)
    bead = models.ForeignKey(Bead, models.PROTECT, related_name="batches", verbose_name=_("bead"))
    made_on = models.DateField(_("made"), db_index=True)
    started = models.PositiveIntegerField(_("beads started"), default=0)
    good = models.PositiveIntegerField(_("good"), default=0)
    rejected = models.PositiveIntegerField(_("rejects"), default=0)
    remade_from = models.ManyToManyField(
        "self", symmetrical=False, blank=True, related_name="remade_into"
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["-number"]
        verbose_name = _("bead batch")
        verbose_name_plural = _("bead batches")
        constraints = [
            models.CheckConstraint(
                condition=Q(good__lte=F("started") - F("rejected")),
                name="batch_no_more_out_than_in",
                violation_error_message=_(
                    "Good beads and rejects together cannot be more than were started."
                ),
            ),
        ]

    def __str__(self) -> str:
        return _("batch %d") % self.number
