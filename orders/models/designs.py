"""Strand designs: what lies on the cord, in order."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer, CustomerGroup
from orders.models.findings import Finding
from stock.models import Bead, Item
from workshop.formats import money
from workshop.models import FoundBy, MoneyField, NamedFurther, ShareField, SizeField, Skill


class StrandDesignQuerySet(models.QuerySet):
    def listed(self):
        """The workshop's own designs, without what stands on an order only."""
        return self.filter(sort=StrandDesign.Sort.DESIGN)

    def with_findings(self):
        """Designs with what holds them together, of which each would ask else."""
        return self.select_related("clasp", "cord")


class StrandDesign(NamedFurther):
    """A strand the workshop strings: its parts in order, its length, its gaps and findings."""

    FOUND_BY = FoundBy(parts=("name", "code", "further_names"))

    class Gap(models.TextChoices):
        NONE = "none", _("beads touch")
        GAP = "gap", _("a gap between beads")
        KNOT = "knot", _("a knot between beads")

    class Fit(models.TextChoices):
        STANDARD = "standard", _("standard strand: as many as fit")
        TO_LENGTH = "to-length", _("made to length: never shorter")
        NEAREST = "nearest", _("nearest to the length, longer or shorter")

    class Sort(models.TextChoices):
        """What a line of an order may be: only designs stand in lists."""

        DESIGN = "design", _("strand design")
        VARIANT = "variant", _("a design as it was asked for")
        LOOSE = "loose", _("loose beads")
        WORK = "work", _("work on a piece")

    class Worn(models.TextChoices):
        WRIST = "wrist", _("wrist")
        NECK = "neck", _("neck")
        WAIST = "waist", _("waist")

    sort = models.CharField(
        _("sort"), max_length=7, choices=Sort, default=Sort.DESIGN, editable=False
    )
    variant_of = models.ForeignKey(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="variants",
        editable=False,
        verbose_name=_("variant of"),
    )
    name = models.CharField(_("name"), max_length=80, unique=True)
    code = models.SlugField(_("short name"), max_length=30, unique=True)
    finished_mm = SizeField(_("finished length"), validators=[MinValueValidator(Decimal("10"))])
    worn_at = models.CharField(_("worn at the"), max_length=5, choices=Worn, blank=True, default="")
    around_mm = SizeField(
        _("size there"), null=True, blank=True, validators=[MinValueValidator(Decimal("10"))]
    )
    gap = models.CharField(_("between beads"), max_length=5, choices=Gap, default=Gap.NONE)
    gap_mm = SizeField(_("gap or knot, mm"), default=0)
    mirrored = models.BooleanField(_("mirrored about the middle"), default=False)
    graduated = models.BooleanField(
        _("graduated: sizes rise to the middle"),
        default=False,
        help_text=_(
            "The parts are one bead of each size, the smallest first; what is laid in the middle "
            "stands there once."
        ),
    )
    fit = models.CharField(_("fits as"), max_length=10, choices=Fit, default=Fit.STANDARD)
    whole_repeats = models.BooleanField(
        _("whole repeats only"),
        default=True,
        help_text=_("Else a pattern may finish with its first single pieces, to come nearer."),
    )
    tolerance = ShareField(
        _("tolerance of the length"),
        default=Decimal("0.03"),
        help_text=_("Further off, the page says so; nothing is refused."),
        validators=[MaxValueValidator(Decimal("0.5"))],
    )
    rows = models.PositiveSmallIntegerField(_("rows"), default=1, validators=[MinValueValidator(1)])
    row_step_mm = SizeField(_("each row longer than the one inside it by, mm"), default=0)
    clasp = models.ForeignKey(
        Finding,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="clasped",
        limit_choices_to={"kind": "clasp"},
        verbose_name=_("clasp"),
    )
    cord = models.ForeignKey(
        Finding,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="corded",
        limit_choices_to={"kind": "cord"},
        verbose_name=_("cord"),
    )
    cord_ratio = models.DecimalField(
        _("cord for each length"),
        max_digits=4,
        decimal_places=2,
        default=Decimal("1.30"),
        help_text=_("Metres of cord for each metre of strand; about 2 when knotted."),
        validators=[MinValueValidator(Decimal("1"))],
    )
    cord_tails_mm = SizeField(_("cord left over for the ends, mm"), default=0)
    learning_rate = ShareField(
        _("learning rate"),
        null=True,
        blank=True,
        help_text=_("Left empty: the hands know the design. At 80 %, each doubling saves a fifth."),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(Decimal("1"))],
    )
    learning_first = models.DecimalField(
        _("the first one takes so many usual times"),
        max_digits=5,
        decimal_places=2,
        default=Decimal("3"),
        validators=[MinValueValidator(Decimal("1"))],
    )
    learning_made = models.PositiveIntegerField(_("strands of it strung before"), default=0)
    learning_practised = models.PositiveIntegerField(
        _("practised after so many strands"),
        null=True,
        blank=True,
        help_text=_(
            "From then on each takes the usual time. Left empty: where the curve itself comes "
            "down to the usual time."
        ),
        validators=[MinValueValidator(1)],
    )
    item = models.OneToOneField(
        Item, models.PROTECT, null=True, blank=True, related_name="design", editable=False
    )
    note = models.TextField(_("note"), blank=True)
    in_use = models.BooleanField(_("in use"), default=True)

    objects = StrandDesignQuerySet.as_manager()

    class Meta:
        ordering = ["sorts_as"]
        verbose_name = _("strand design")
        verbose_name_plural = _("strand designs")
        constraints = [
            models.CheckConstraint(
                condition=Q(sort="variant", variant_of__isnull=False)
                | Q(~Q(sort="variant"), variant_of__isnull=True),
                name="design_variant_of_a_design",
            ),
            models.CheckConstraint(
                condition=Q(finished_mm__gt=0)
                & Q(gap_mm__gte=0)
                & Q(rows__gte=1)
                & Q(cord_ratio__gte=1),
                name="design_has_a_length",
                violation_error_message=_("A strand has a length above 0, and a gap not below 0."),
            ),
            models.CheckConstraint(
                condition=Q(worn_at="", around_mm__isnull=True)
                | (~Q(worn_at="") & Q(around_mm__gt=0)),
                name="design_worn_somewhere_of_a_size",
                violation_error_message=_("Say where it is worn, and what was measured there."),
            ),
            models.CheckConstraint(
                condition=Q(row_step_mm__gte=0) & Q(cord_tails_mm__gte=0),
                name="design_steps_and_tails_not_negative",
                violation_error_message=_(
                    "The step between rows and the cord left over cannot be below 0."
                ),
            ),
            models.CheckConstraint(
                condition=Q(learning_practised__isnull=True) | Q(learning_practised__gte=1),
                name="design_practised_after_some",
                violation_error_message=_("Hands are practised after one strand at the soonest."),
            ),
            models.CheckConstraint(
                condition=Q(learning_rate__isnull=True)
                | Q(learning_rate__gt=0, learning_rate__lte=1, learning_first__gte=1),
                name="design_learning_is_a_share",
                violation_error_message=_(
                    "A learning rate lies above 0 %% and up to 100 %%, and the first strand takes "
                    "at least one usual time."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_loose(self) -> bool:
        """Beads that nobody strings: they are counted out."""
        return self.sort == self.Sort.LOOSE

    @property
    def is_work(self) -> bool:
        """Work on what somebody brought in; nothing of it lies on a shelf."""
        return self.sort == self.Sort.WORK


class WorkMinutes(models.Model):
    """Minutes of one skill that a piece of work takes, such as restringing a strand."""

    design = models.ForeignKey(StrandDesign, models.CASCADE, related_name="work")
    skill = models.CharField(_("skill"), max_length=12, choices=Skill)
    minutes = models.DecimalField(
        _("minutes"),
        max_digits=7,
        decimal_places=2,
        validators=[MinValueValidator(Decimal("0.01"))],
    )

    class Meta:
        ordering = ["id"]
        verbose_name = _("minutes of work")
        verbose_name_plural = _("minutes of work")
        constraints = [
            models.UniqueConstraint(fields=["design", "skill"], name="work_minutes_once_a_skill"),
            models.CheckConstraint(condition=Q(minutes__gt=0), name="work_minutes_above_none"),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} {self.skill}"


class DesignPart(models.Model):
    """One part of a strand, in its place along the cord: a bead or a spacer."""

    class Role(models.TextChoices):
        ONCE = "once", _("once")
        REPEAT = "repeat", _("repeated to fill")
        CENTRE = "centre", _("in the middle")

    design = models.ForeignKey(
        StrandDesign, models.CASCADE, related_name="parts", verbose_name=_("design")
    )
    position = models.PositiveSmallIntegerField(_("place"))
    role = models.CharField(_("laid"), max_length=6, choices=Role, default=Role.REPEAT)
    bead = models.ForeignKey(
        Bead, models.PROTECT, null=True, blank=True, related_name="parts", verbose_name=_("bead")
    )
    spacer = models.ForeignKey(
        Finding,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="parts",
        limit_choices_to={"kind": "spacer"},
        verbose_name=_("spacer"),
    )
    count = models.PositiveSmallIntegerField(
        _("how many"), default=1, validators=[MinValueValidator(1)]
    )

    class Meta:
        ordering = ["position"]
        verbose_name = _("part of a design")
        verbose_name_plural = _("parts of a design")
        constraints = [
            models.UniqueConstraint(fields=["design", "position"], name="design_part_once"),
            models.CheckConstraint(
                condition=Q(bead__isnull=False, spacer__isnull=True)
                | Q(bead__isnull=True, spacer__isnull=False),
                name="design_part_is_bead_or_spacer",
                violation_error_message=_(
                    "A part is either a bead or a spacer; choose one of them."
                ),
            ),
            models.CheckConstraint(
                condition=Q(count__gte=1),
                name="design_part_counts",
                violation_error_message=_("A part stands at least once."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.bead or self.spacer}"


class DesignPrice(models.Model):
    """What a strand is sold at: to a group or to one customer, from a quantity, from a day."""

    design = models.ForeignKey(
        StrandDesign, models.CASCADE, related_name="prices", verbose_name=_("design")
    )
    group = models.CharField(
        _("who"),
        max_length=10,
        choices=CustomerGroup,
        blank=True,
        help_text=_("Left empty: everybody."),
    )
    customer = models.ForeignKey(
        Customer,
        models.CASCADE,
        null=True,
        blank=True,
        related_name="agreed_prices",
        verbose_name=_("agreed with"),
    )
    from_strands = models.PositiveIntegerField(_("from how many"), default=1)
    price = MoneyField(_("price each"))
    # Kept as it was told: with VAT to a group that sees prices so, without it to everybody else.
    with_tax = models.BooleanField(_("VAT included"), default=False, editable=False)
    valid_from = models.DateField(_("from"))

    class Meta:
        ordering = ["design__name", "group", "from_strands", "-valid_from"]
        verbose_name = _("price")
        verbose_name_plural = _("prices")
        constraints = [
            models.UniqueConstraint(
                fields=["design", "group", "from_strands", "valid_from"],
                condition=Q(customer__isnull=True),
                name="design_price_once_a_day",
                violation_error_message=_(
                    "There is a price for this design, this quantity and this day already; change "
                    "it, or write a later day."
                ),
            ),
            models.UniqueConstraint(
                fields=["design", "customer", "from_strands", "valid_from"],
                condition=Q(customer__isnull=False),
                name="design_agreed_price_once_a_day",
                violation_error_message=_(
                    "There is a price for this design, this quantity and this day already; change "
                    "it, or write a later day."
                ),
            ),
            models.CheckConstraint(
                condition=Q(price__gte=0) & Q(from_strands__gte=1),
                name="design_price_not_negative",
                violation_error_message=_("A price cannot be below 0, and a quantity starts at 1."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.design}: {money(self.price)}"
