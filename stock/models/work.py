"""Work on the shelves' contents: preparations, kiln loads with their trays, stringing."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from stock.models.beads import Bead, BeadBatch
from stock.models.book import Posting
from stock.models.glass import GlassForm
from workshop.models import Kiln, Mould, NameKey, Person, SizeField, WorkStep


class Preparation(models.Model):
    """Raw glass washed and broken or ground: what went in, what came out, who and how long."""

    number = models.PositiveIntegerField(_("preparation"), unique=True)
    done_on = models.DateField(_("done"), db_index=True)
    form = models.CharField(_("into"), max_length=8, choices=GlassForm)
    sieve_mm = SizeField(_("sieve, mm"), null=True, blank=True)
    hand = models.ForeignKey(
        Person, models.PROTECT, related_name="preparations", verbose_name=_("by")
    )
    minutes = models.PositiveIntegerField(_("minutes"), default=0)
    posting = models.OneToOneField(Posting, models.PROTECT, related_name="preparation")

    class Meta:
        ordering = ["-number"]
        verbose_name = _("preparation")
        verbose_name_plural = _("preparations")

    def __str__(self) -> str:
        return _("preparation %d") % self.number


class KilnLoad(models.Model):
    """One firing of one kiln, planned, burning, cooled or spoiled."""

    class State(models.TextChoices):
        PLANNED = "planned", pgettext_lazy("state of a load", "planned")
        FIRING = "firing", pgettext_lazy("state of a load", "firing")
        COOLED = "cooled", _("cooled")
        SPOILED = "spoiled", _("spoiled")

    number = models.PositiveIntegerField(_("load"), unique=True)
    kiln = models.ForeignKey(Kiln, models.PROTECT, related_name="loads", verbose_name=_("kiln"))
    state = models.CharField(
        _("state"), max_length=8, choices=State, default=State.PLANNED, db_index=True
    )
    starts_at = models.DateTimeField(_("starts"), db_index=True)
    hold_c = models.PositiveSmallIntegerField(_("temperature, °C"))
    hold_min = models.PositiveSmallIntegerField(_("minutes"))
    pinned = models.BooleanField(_("pinned"), default=False)
    # Out of a kiln kept hot several loads may be burning on paper: their beads cool apart, and
    # only the one that went in last stands in the kiln.
    in_kiln = models.BooleanField(_("stands in the kiln"), default=False, editable=False)
    started_at = models.DateTimeField(_("started"), null=True, blank=True)
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True)
    peak_c = models.PositiveSmallIntegerField(_("hottest measured, °C"), null=True, blank=True)
    held_min = models.PositiveSmallIntegerField(_("minutes held, measured"), null=True, blank=True)
    fuel_used = models.DecimalField(
        _("fuel used"), max_digits=8, decimal_places=3, null=True, blank=True
    )
    keeper = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="loads")
    # Of a round in a kiln kept hot, and of a closed load with a soak: what its own programme and
    # the load before it make of its minutes. Written with every plan.
    lit = models.BooleanField(_("the kiln is lit for it"), default=False)
    hands = models.PositiveSmallIntegerField(_("hands that pierce"), default=0)
    in_after_min = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    first_after_min = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    free_after_min = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    done_after_min = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    pierced_until = models.DateTimeField(_("pierced until"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-starts_at", "kiln"]
        indexes = [
            models.Index(fields=["ended_at"], name="load_by_end"),
            # Which rounds of a kiln kept hot belong to one run.
            models.Index(fields=["kiln", "started_at"], name="load_by_kiln_and_start"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["kiln"],
                condition=Q(in_kiln=True),
                name="kiln_holds_one_load",
                violation_error_message=_(
                    "This kiln still holds another load. Log what came out of it first."
                ),
            ),
            models.CheckConstraint(
                condition=Q(in_kiln=False) | Q(state="firing"),
                name="load_in_kiln_burns",
            ),
        ]
        verbose_name = _("kiln load")
        verbose_name_plural = _("kiln loads")

    def __str__(self) -> str:
        return _("load %d") % self.number

    @property
    def is_fixed(self) -> bool:
        """Burning, or pinned by the keeper: no plan moves it, and nothing joins it."""
        return self.pinned or self.state != KilnLoad.State.PLANNED

    @property
    def occupies_min(self) -> int:
        """From its start until the kiln is free; `kiln` must be loaded with the row."""
        if self.free_after_min is not None:
            return self.free_after_min
        return self.kiln.preheat_min + self.hold_min + self.kiln.cooling_min


class LoadTray(models.Model):
    """Moulds of one bead in one load; two trays of the same bead may stand in two loads."""

    load = models.ForeignKey(KilnLoad, models.CASCADE, related_name="trays", verbose_name=_("load"))
    bead = models.ForeignKey(Bead, models.PROTECT, related_name="trays", verbose_name=_("bead"))
    batch = models.ForeignKey(
        BeadBatch, models.PROTECT, null=True, blank=True, related_name="trays"
    )
    firing = models.PositiveSmallIntegerField(_("firing"), default=1)
    moulds = models.PositiveIntegerField(_("moulds"))
    beads = models.PositiveIntegerField(_("beads"))
    good = models.PositiveIntegerField(_("good"), null=True, blank=True)
    rejected = models.PositiveIntegerField(_("rejects"), null=True, blank=True)
    breakage = models.CharField(_("what went wrong"), max_length=80, blank=True)

    class Meta:
        ordering = ["load_id", "id"]
        verbose_name = _("tray")
        verbose_name_plural = _("trays")
        constraints = [
            models.CheckConstraint(
                condition=Q(firing__in=[1, 2]) & Q(beads__gte=1) & Q(moulds__gte=1),
                name="tray_holds_something",
            ),
            models.CheckConstraint(
                condition=Q(good__isnull=True) | Q(good__lte=F("beads") - F("rejected")),
                name="tray_no_more_out_than_in",
                violation_error_message=_(
                    "More beads came out than went in; count the tray again."
                ),
            ),
        ]

    @property
    def is_second_firing(self) -> bool:
        """Paint is burnt in; before that these beads were fired once."""
        return self.firing == 2

    def __str__(self) -> str:
        return f"{self.beads} {self.bead}"


class RejectCause(models.TextChoices):
    """What is wrong with a bead that is sorted out, as it is seen."""

    CHIPPED = "chipped", _("chipped")
    CROOKED = "crooked", _("crooked bore")
    STUCK = "stuck", _("stuck to the mould")
    CRACKED = "cracked", _("cracked")
    COLOUR = "colour", _("colour")
    SHORT = "short", _("short fill")


class RejectTally(models.Model):
    """So many rejects of one batch for one cause, tapped at sorting."""

    batch = models.ForeignKey(
        BeadBatch, models.CASCADE, related_name="tallies", verbose_name=_("batch")
    )
    load = models.ForeignKey(
        KilnLoad, models.SET_NULL, null=True, blank=True, related_name="tallies"
    )
    # The sorting it was told at: one that is taken back takes its causes with it.
    posting = models.ForeignKey(Posting, models.PROTECT, related_name="tallies")
    cause = models.CharField(_("cause"), max_length=8, choices=RejectCause)
    beads = models.PositiveIntegerField(_("beads"))
    on = models.DateField(_("day"), db_index=True)

    class Meta:
        ordering = ["-on", "cause"]
        verbose_name = _("rejects by cause")
        verbose_name_plural = _("rejects by cause")
        constraints = [
            models.CheckConstraint(condition=Q(beads__gte=1), name="tally_counts_a_bead"),
        ]

    def __str__(self) -> str:
        return f"{self.beads} {self.get_cause_display()}"


class MouldGone(models.Model):
    """So many moulds of a kind that are no more: what the life of a mould is learned from."""

    class Why(models.TextChoices):
        BROKEN = "broken", pgettext_lazy("of a mould", "broken")
        WORN = "worn", pgettext_lazy("of a mould", "worn out")

    mould = models.ForeignKey(Mould, models.PROTECT, related_name="gone", verbose_name=_("mould"))
    on = models.DateField(_("day"), db_index=True)
    count = models.PositiveSmallIntegerField(_("moulds gone"), default=1)
    why = models.CharField(_("why"), max_length=8, choices=Why, default=Why.BROKEN)
    load = models.ForeignKey(
        KilnLoad, models.SET_NULL, null=True, blank=True, related_name="moulds_gone"
    )
    told_by = models.ForeignKey(
        Person, models.PROTECT, related_name="moulds_gone", verbose_name=_("told by")
    )

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("moulds gone")
        verbose_name_plural = _("moulds gone")
        constraints = [
            models.CheckConstraint(condition=Q(count__gte=1), name="at_least_one_mould_gone"),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.mould}"


class WorkTicket(models.Model):
    """Work one hand did on one step of one thing: what pay and learned minutes are read from."""

    on = models.DateField(_("day"), db_index=True)
    hand = models.ForeignKey(Person, models.PROTECT, related_name="tickets", verbose_name=_("hand"))
    step = NameKey(
        WorkStep, models.PROTECT, db_column="step", related_name="tickets", verbose_name=_("step")
    )
    bead = models.ForeignKey(Bead, models.PROTECT, null=True, blank=True, related_name="tickets")
    belongs_ref = models.CharField(_("belongs to"), max_length=40, blank=True)
    # What the work did: one that is taken back takes its tickets with it.
    posting = models.ForeignKey(
        Posting, models.SET_NULL, null=True, blank=True, related_name="tickets"
    )
    pieces = models.PositiveIntegerField(_("passed"), default=0)
    rejected = models.PositiveIntegerField(_("rejects"), default=0)
    minutes = models.PositiveIntegerField(_("minutes"), default=0)
    # Whether a slip has paid it; kept as that is written, and proven by `check_book`.
    paid = models.BooleanField(_("paid"), default=False, editable=False)

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("work ticket")
        verbose_name_plural = _("work tickets")
        indexes = [
            models.Index(fields=["hand", "on"], name="ticket_unpaid", condition=Q(paid=False)),
        ]

    def __str__(self) -> str:
        return f"{self.on:%Y-%m-%d} {self.step_id}"
