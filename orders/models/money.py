"""Papers that were issued and money that came in or went back."""

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer
from orders.models.orders import Order
from workshop.models import MoneyField, Person


class Paper(models.Model):
    """An issued paper: its number, its frozen content, its PDF and the PDF's hash. Never edited."""

    class Kind(models.TextChoices):
        QUOTE = "quote", _("quote")
        INVOICE = "invoice", _("invoice")
        CREDIT = "credit", _("credit note")
        RECEIPT = "receipt", _("receipt")
        REFUND = "refund", _("refund slip")

    kind = models.CharField(_("paper"), max_length=8, choices=Kind)
    year = models.PositiveSmallIntegerField(default=0)
    sequence = models.PositiveIntegerField(_("number in its series"))
    number = models.CharField(_("number"), max_length=30)
    issued_on = models.DateField(_("issued"), db_index=True)
    issued_at = models.DateTimeField(auto_now_add=True)
    issued_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    customer = models.ForeignKey(
        Customer, models.PROTECT, related_name="papers", verbose_name=_("customer")
    )
    order = models.ForeignKey(
        Order, models.PROTECT, null=True, blank=True, related_name="papers", verbose_name=_("order")
    )
    names = models.ForeignKey(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="named_by",
        verbose_name=_("refers to"),
    )
    due_on = models.DateField(_("due"), null=True, blank=True, db_index=True)
    currency = models.CharField(max_length=3)
    net = MoneyField(_("without VAT"), default=0)
    tax = MoneyField(_("VAT"), default=0)
    total = MoneyField(_("total"), default=0)
    settled = MoneyField(_("settled"), default=0, editable=False)
    content = models.JSONField()
    pdf = models.FileField(upload_to="papers/%Y/%m", blank=True)
    sha256 = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name = _("paper")
        verbose_name_plural = _("papers")
        indexes = [models.Index(fields=["kind", "due_on"], name="paper_open_items")]
        constraints = [
            models.UniqueConstraint(fields=["kind", "year", "sequence"], name="paper_number_once"),
            models.UniqueConstraint(fields=["kind", "number"], name="paper_printed_number_once"),
            models.CheckConstraint(
                condition=Q(total=F("net") + F("tax")), name="paper_total_is_net_and_tax"
            ),
            models.CheckConstraint(
                condition=Q(settled__gte=0) & Q(settled__lte=F("total")),
                name="paper_settled_within_total",
            ),
            models.CheckConstraint(
                condition=~Q(kind="credit") | Q(names__isnull=False),
                name="paper_credit_names_its_invoice",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def open_amount(self):
        return self.total - self.settled


class Payment(models.Model):
    """Money in (or, negative, back to the customer)."""

    class Method(models.TextChoices):
        CASH = "cash", _("cash")
        BANK = "bank", _("bank transfer")
        MOBILE = "mobile", _("mobile money")
        CARD = "card", _("card")

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    customer = models.ForeignKey(
        Customer, models.PROTECT, related_name="payments", verbose_name=_("customer")
    )
    order = models.ForeignKey(
        Order,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="payments",
        verbose_name=_("order"),
    )
    on = models.DateField(_("day"), db_index=True)
    amount = MoneyField(_("amount"))
    rounding = MoneyField(
        _("cash rounding"),
        default=0,
        help_text=_("Difference of the cash handed over to the amount booked."),
    )
    method = models.CharField(_("how"), max_length=8, choices=Method, default=Method.CASH)
    network = models.CharField(_("network"), max_length=40, blank=True)
    payer_number = models.CharField(_("payer's number"), max_length=16, blank=True)
    reference = models.CharField(_("reference"), max_length=60, blank=True)
    drawer = models.CharField(_("drawer"), max_length=40, blank=True)
    taken_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)
    unused = MoneyField(_("not yet used"), default=0, editable=False)

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("payment")
        verbose_name_plural = _("payments")
        constraints = [
            models.CheckConstraint(
                condition=~Q(amount=0),
                name="payment_is_not_nothing",
                violation_error_message=_("A payment of 0 is no payment."),
            ),
            models.CheckConstraint(
                condition=(Q(amount__gt=0) & Q(unused__gte=0) & Q(unused__lte=F("amount")))
                | (Q(amount__lt=0) & Q(unused__lte=0) & Q(unused__gte=F("amount"))),
                name="payment_used_within_amount",
            ),
            models.UniqueConstraint(
                fields=["network", "reference"],
                condition=Q(method="mobile"),
                name="payment_mobile_reference_once",
                violation_error_message=_("This mobile-money reference is booked already."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.on:%Y-%m-%d}"


class PaymentShare(models.Model):
    """The part of a payment that settles one invoice."""

    payment = models.ForeignKey(Payment, models.PROTECT, related_name="shares")
    paper = models.ForeignKey(Paper, models.PROTECT, related_name="payment_shares")
    amount = MoneyField()
    on = models.DateField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(amount=0), name="payment_share_is_not_nothing"),
        ]

    def __str__(self) -> str:
        return f"{self.amount}"
