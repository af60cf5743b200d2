"""Orders, their lines, and the beads that must be made for them."""

import json
import uuid
import zlib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer
from orders.models.designs import StrandDesign
from stock.models import Balance, Bead, BeadBatch, LoadTray
from workshop.models import FoundBy, MoneyField, Person, ShareField


class Stage(models.IntegerChoices):
    """How far along an order is: the beads of its progress strand."""

    TAKEN = 0, _("taken")
    GLASS = 1, _("glass ready")
    MOULDED = 2, _("moulded")
    FIRED = 3, _("fired")
    FINISHED = 4, _("finished")
    STRUNG = 5, _("strung")
    COLLECTED = 6, _("collected")


class OrderQuerySet(models.QuerySet):
    def open(self):
        """Confirmed and not yet collected."""
        return self.filter(state=Order.State.CONFIRMED)


class Order(models.Model):
    """What one customer wants, taken at the counter."""

    FOUND_BY = FoundBy(words=("note",))

    class State(models.TextChoices):
        DRAFT = "draft", _("not confirmed")
        QUOTED = "quoted", _("quoted")
        CONFIRMED = "confirmed", _("confirmed")
        COLLECTED = "collected", _("collected")
        CANCELLED = "cancelled", _("cancelled")

    number = models.PositiveIntegerField(_("order"), unique=True)
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    customer = models.ForeignKey(
        Customer, models.PROTECT, related_name="orders", verbose_name=_("customer")
    )
    state = models.CharField(
        _("state"), max_length=10, choices=State, default=State.DRAFT, db_index=True
    )
    stage = models.PositiveSmallIntegerField(_("stage"), choices=Stage, default=Stage.TAKEN)
    stage_since = models.DateTimeField(_("since"), null=True, blank=True)
    taken_on = models.DateField(_("taken"), db_index=True)
    taken_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="orders_taken")
    due_on = models.DateField(_("due"), null=True, blank=True, db_index=True)
    likely_on = models.DateField(_("likely ready"), null=True, blank=True)
    p90_on = models.DateField(_("surely ready"), null=True, blank=True)
    confirmed_at = models.DateTimeField(_("confirmed"), null=True, blank=True)
    collected_on = models.DateField(_("collected"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    total = MoneyField(_("price"), default=0)
    prices_with_tax = models.BooleanField(_("prices include VAT"), default=False, editable=False)
    cost = MoneyField(_("full cost"), default=0)
    pocket = MoneyField(_("out of pocket"), null=True, blank=True)
    # As told when it was promised: what was asked for, and the share kept once its beads are begun.
    deposit_asked = MoneyField(_("deposit asked for"), null=True, blank=True, editable=False)
    deposit_rule = ShareField(_("kept of a deposit"), null=True, blank=True, editable=False)
    deposit_kept = MoneyField(_("kept of its deposit"), null=True, blank=True, editable=False)
    bench_min = models.PositiveIntegerField(
        _("minutes of preparing and moulding promised"), default=0, editable=False
    )
    below_cost_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+"
    )
    below_cost_why = models.CharField(_("why below cost"), max_length=200, blank=True)
    # Whether a final invoice names it; kept as that is issued, and proven by `check_book`.
    charged = models.BooleanField(default=False, editable=False)
    version = models.PositiveIntegerField(default=0, editable=False)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        verbose_name = _("order")
        verbose_name_plural = _("orders")
        indexes = [
            models.Index(fields=["state", "due_on"], name="order_open_by_due"),
            models.Index(
                fields=["collected_on", "number"],
                name="order_handed_over_not_charged",
                condition=Q(state="collected", charged=False),
            ),
            models.Index(fields=["collected_on"], name="order_by_day_collected"),
            # When a customer bought last, without reading the orders themselves.
            models.Index(
                fields=["customer", "taken_on", "state"], name="order_by_customer_and_day"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(due_on__isnull=True) | Q(due_on__gte=F("taken_on")),
                name="order_due_after_taken",
                violation_error_message=_("An order cannot be due before the day it was taken."),
            ),
        ]

    def __str__(self) -> str:
        return _("order %d") % self.number

    @property
    def told_on(self) -> date | None:
        """The day the trader is told: what they asked for, or the careful day if that is later."""
        days = [day for day in (self.due_on, self.p90_on) if day is not None]
        return max(days, default=None)

    @property
    def is_open(self) -> bool:
        return self.state == self.State.CONFIRMED

    @property
    def is_offered(self) -> bool:
        """Nothing is promised yet: the customer has still to say yes."""
        return self.state in {self.State.DRAFT, self.State.QUOTED}

    @property
    def is_over(self) -> bool:
        return self.state in {self.State.COLLECTED, self.State.CANCELLED}

    @property
    def was_confirmed(self) -> bool:
        """Confirmed, and perhaps handed over since: what may be invoiced."""
        return self.state in {self.State.CONFIRMED, self.State.COLLECTED}

    @property
    def beads_are_finished(self) -> bool:
        """Every bead of it lies ready to be strung."""
        return self.is_open and self.stage >= Stage.FINISHED

    @property
    def may_come_sooner(self) -> bool:
        """The likely day is another than the careful one, which the trader is told."""
        return self.p90_on is not None and self.p90_on != self.likely_on

    @cached_property
    def working(self) -> dict[str, Any] | None:
        """The working kept at confirmation; read only when asked for (1 query)."""
        kept = KeptWorking.objects.filter(order=self).first()
        return kept.told if kept else None


class KeptWorking(models.Model):
    """How an order's figures were found on the day it was confirmed.

    Packed and in a table of its own: it runs to hundreds of kilobytes, and no list needs it.
    """

    order = models.OneToOneField(Order, models.CASCADE, primary_key=True, related_name="kept")
    packed = models.BinaryField()

    def __str__(self) -> str:
        return f"{self.order_id}"

    @classmethod
    def keep(cls, order: Order, told: dict[str, Any]) -> None:
        packed = zlib.compress(json.dumps(told, separators=(",", ":")).encode())
        cls.objects.bulk_create(
            [cls(order=order, packed=packed)],
            update_conflicts=True, unique_fields=["order"], update_fields=["packed"],
        )  # fmt: skip
        order.__dict__.pop("working", None)

    @property
    def told(self) -> dict[str, Any]:
        return json.loads(zlib.decompress(bytes(self.packed)))


class OrderLineQuerySet(models.QuerySet):
    def with_designs(self):
        """Lines with their designs, ready to be laid, costed and drawn."""
        return self.select_related("design__clasp", "design__cord")


class WantedLines(models.Manager):
    """Without lines taken off their order, of which a paper still speaks: they want nothing."""

    def get_queryset(self):
        return super().get_queryset().filter(strands__gt=0)


@dataclass(frozen=True)
class WantedLine:
    """So many strands of a design (its primary key), not written down yet; `price` only when
    somebody set it."""

    design: int
    strands: int
    price: Decimal | None = None


# What an order line's price_from says when somebody typed the price.
BY_HAND = "line"


class OrderLine(models.Model):
    """So many strands of one design at one price.

    strung     of them, those that are ready, handed over or not
    handed     of those, the ones that the customer has taken away
    came_back  of those, the ones that were brought back
    """

    order = models.ForeignKey(Order, models.CASCADE, related_name="lines", verbose_name=_("order"))
    position = models.PositiveSmallIntegerField(default=0)
    design = models.ForeignKey(
        StrandDesign, models.PROTECT, related_name="lines", verbose_name=_("design")
    )
    strands = models.PositiveIntegerField(_("strands"))
    price = MoneyField(_("each"))
    price_from = models.CharField(_("price from"), max_length=80, blank=True)
    tax_name = models.CharField(_("VAT rate"), max_length=60, blank=True, editable=False)
    strung = models.PositiveIntegerField(_("strung"), default=0)
    handed = models.PositiveIntegerField(_("handed over"), default=0)
    came_back = models.PositiveIntegerField(_("came back"), default=0)

    objects = WantedLines.from_queryset(OrderLineQuerySet)()
    every = OrderLineQuerySet.as_manager()

    class Meta:
        ordering = ["position", "id"]
        verbose_name = _("line")
        verbose_name_plural = _("lines")
        constraints = [
            models.UniqueConstraint(fields=["order", "design"], name="order_line_once_a_design"),
            models.CheckConstraint(
                condition=Q(strands__gte=0) & Q(price__gte=0),
                name="order_line_wants_something",
                violation_error_message=_("A line wants strands, at a price not below 0."),
            ),
            models.CheckConstraint(
                condition=Q(strung__lte=F("strands")), name="order_line_strung_within"
            ),
            models.CheckConstraint(
                condition=Q(handed__lte=F("strung")), name="order_line_handed_over_within"
            ),
            models.CheckConstraint(
                condition=Q(came_back__lte=F("handed")), name="order_line_came_back_within"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.strands} × {self.design}"

    @property
    def to_hand_over(self) -> int:
        return self.strands - self.handed

    @property
    def with_customer(self) -> int:
        """Handed over, and not brought back."""
        return self.handed - self.came_back

    @property
    def ready(self) -> int:
        """Strung and still here."""
        return self.strung - self.handed


class WorkOrder(models.Model):
    """The beads of one kind to be made for one order, from glass to good beads."""

    class Step(models.TextChoices):
        GLASS = "glass", _("waiting for glass")
        MOULDING = "moulding", _("to be moulded")
        FIRING = "firing", _("ready to fire")
        PAINTING = "painting", _("to be painted")
        SECOND = "second", _("ready for the second firing")
        FINISHING = "finishing", _("to be finished")
        DONE = "done", _("done")

    order = models.ForeignKey(Order, models.CASCADE, related_name="jobs", verbose_name=_("order"))
    bead = models.ForeignKey(Bead, models.PROTECT, related_name="jobs", verbose_name=_("bead"))
    needed = models.PositiveIntegerField(_("good beads needed"))
    to_start = models.PositiveIntegerField(_("beads to start"))
    moulds = models.PositiveIntegerField(_("mould fills"))
    step = models.CharField(
        _("step"), max_length=10, choices=Step, default=Step.GLASS, db_index=True
    )
    step_since = models.DateTimeField(_("since"))
    batch = models.ForeignKey(BeadBatch, models.PROTECT, null=True, blank=True, related_name="jobs")
    good = models.PositiveIntegerField(_("good"), default=0)

    class Meta:
        db_table = "orders_beadjob"
        ordering = ["id"]
        verbose_name = _("beads to make")
        verbose_name_plural = _("beads to make")
        constraints = [
            models.CheckConstraint(
                # What came good before is not started again when too few did.
                condition=Q(to_start__gte=F("needed") - F("good")),
                name="bead_job_starts_enough",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.needed} {self.bead}"


class GlassNeed(models.Model):
    """Prepared glass of one colour and form that a confirmed order will take, in milligrams."""

    order = models.ForeignKey(Order, models.CASCADE, related_name="glass_needs")
    colour = models.ForeignKey("stock.GlassColour", models.PROTECT, related_name="+")
    form = models.CharField(max_length=8)
    needed_mg = models.BigIntegerField()
    used_mg = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["colour__name", "form"]
        constraints = [
            models.UniqueConstraint(fields=["order", "colour", "form"], name="glass_need_once"),
        ]

    def __str__(self) -> str:
        return f"{self.needed_mg} mg {self.form}"


class StockReservation(models.Model):
    """Stock held for an order: so much of one balance, until used or let go."""

    order = models.ForeignKey(
        Order, models.CASCADE, related_name="allocations", verbose_name=_("order")
    )
    line = models.ForeignKey(
        OrderLine, models.CASCADE, null=True, blank=True, related_name="allocations"
    )
    balance = models.ForeignKey(Balance, models.PROTECT, related_name="allocations")
    quantity = models.BigIntegerField(_("held"))
    by_hand = models.BooleanField(default=False)

    class Meta:
        db_table = "orders_allocation"
        ordering = ["id"]
        verbose_name = _("hold")
        verbose_name_plural = _("holds")
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="allocation_holds_something"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.balance_id}"


class LoadShare(models.Model):
    """The part of a tray that belongs to one order's beads.

    reserved  kept for the order when it was confirmed, and not planned by the keeper since
    """

    tray = models.ForeignKey(LoadTray, models.CASCADE, related_name="shares")
    job = models.ForeignKey(WorkOrder, models.CASCADE, related_name="shares")
    moulds = models.PositiveIntegerField()
    beads = models.PositiveIntegerField()
    reserved = models.BooleanField(_("reserved"), default=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["tray", "job"], name="load_share_once"),
        ]

    def __str__(self) -> str:
        return f"{self.beads} of {self.job_id}"
