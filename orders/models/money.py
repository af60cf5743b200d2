"""Papers that were issued and money that came in or went back.

Nothing here is ever edited: an issued paper is amended by a further paper that names it, money is
given back by a payment below 0. A trigger in the database refuses the rest.
"""

import uuid
from decimal import Decimal

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer
from orders.models.orders import Order, OrderLine
from workshop.days import soonest
from workshop.formats import date_short, money
from workshop.models import FoundBy, MoneyField, NumberPattern, Person, TaxRate
from workshop.search import holding


class DocumentQuerySet(models.QuerySet):
    def owing(self):
        """Papers that ask a customer for money: invoices and balances brought forward."""
        return self.filter(kind__in=Document.OWING)

    def open(self):
        """Owing papers that are not settled in full."""
        return self.owing().filter(settled__lt=F("total"))

    def oldest_first(self):
        return self.order_by(soonest(), "id")

    def called(self, words: str):
        """The paper with this printed number; where there is none, those in whose number or
        customer's name every word stands (1 query beside their own)."""
        printed = self.filter(kind__in=Document.Kind.values, number=words.strip().upper())
        return printed if printed.exists() else holding(self, words, whose="customer")


class Document(models.Model):
    """An issued paper: its number and its frozen content. `settled` alone moves, as money comes in.

    net + tax + rounding = total, the amount asked for (or, on a credit note, given back).
    """

    Kind = NumberPattern.Kind
    KINDS = NumberPattern.OF_DOCUMENTS

    OWING = (Kind.INVOICE, Kind.OPENING)

    kind = models.CharField(_("paper"), max_length=8, choices=KINDS)
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
    payment = models.OneToOneField(
        "orders.Payment",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="paper",
        verbose_name=_("payment"),
    )
    due_on = models.DateField(_("due"), null=True, blank=True, db_index=True)
    currency = models.CharField(max_length=3)
    net = MoneyField(_("without VAT"), default=0)
    tax = MoneyField(_("VAT"), default=0)
    rounding = MoneyField(_("rounding"), default=0)
    total = MoneyField(_("total"), default=0)
    settled = MoneyField(_("settled"), default=0, editable=False)
    on_account = models.BooleanField(_("for a payment on account"), default=False)
    content = models.JSONField()

    objects = DocumentQuerySet.as_manager()
    FOUND_BY = FoundBy(words=("number",))

    class Meta:
        db_table = "orders_paper"
        ordering = ["-id"]
        verbose_name = _("paper")
        verbose_name_plural = _("papers")
        indexes = [
            # The kinds stand in front and not in the condition: SQLite never sees that a list of
            # values asked for is the list of a condition.
            models.Index(
                fields=["customer", "kind", "due_on", "total", "settled"],
                name="paper_open_items",
                condition=Q(settled__lt=F("total")),
            ),
            # Those of everybody: without a customer the one above is not begun with.
            models.Index(
                fields=["kind"], name="paper_open_by_kind", condition=Q(settled__lt=F("total"))
            ),
            models.Index(fields=["kind", "issued_on"], name="paper_by_kind_and_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["kind", "year", "sequence"], name="paper_number_once"),
            models.UniqueConstraint(fields=["kind", "number"], name="paper_printed_number_once"),
            models.CheckConstraint(
                condition=Q(total=F("net") + F("tax") + F("rounding")),
                name="paper_total_is_net_and_tax",
            ),
            models.CheckConstraint(
                condition=Q(settled__gte=0) & Q(settled__lte=F("total")),
                name="paper_settled_within_total",
            ),
            models.CheckConstraint(
                condition=~Q(kind="credit") | Q(names__isnull=False),
                name="paper_credit_names_its_invoice",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["receipt", "refund"]) | Q(payment__isnull=False),
                name="paper_receipt_has_its_payment",
            ),
            models.CheckConstraint(
                condition=Q(on_account=False) | Q(kind="invoice", order__isnull=False),
                name="paper_on_account_is_an_invoice",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind_words} {self.number}"

    @property
    def kind_words(self) -> str:
        """What the paper is called; an invoice for a payment on account by its whole name."""
        if self.on_account:
            return _("invoice for a payment on account")
        return self.get_kind_display()

    @property
    def open_amount(self) -> Decimal:
        return self.total - self.settled

    @property
    def is_late(self) -> bool:
        """Whether it asks for money that should have come before today."""
        waits = self.kind in self.OWING and self.open_amount > 0 and self.due_on is not None
        return waits and self.due_on < timezone.localdate()

    @property
    def is_settled(self) -> bool:
        return self.settled == self.total


class PassedPaper(models.Model):
    """A paper dated ahead by a clock that ran wrong: the owner's word that others go past it.

    The paper keeps its number and its day; the next one of its kind need not follow that day.
    """

    paper = models.OneToOneField(Document, models.PROTECT, related_name="passed")
    passed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    passed_at = models.DateTimeField(auto_now_add=True)
    why = models.CharField(_("why"), max_length=200)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(why=""), name="passed_paper_says_why")]

    def __str__(self) -> str:
        return f"{self.paper} was gone past"


class DocumentLine(models.Model):
    """One line of an invoice or credit note, a discount or carriage; frozen with its paper.

    How much of it was credited since is kept beside it, so that the database itself refuses to
    credit more than was charged. Of a payment on account that is what was taken off by a final
    invoice, or given back; `gross` is what was received, VAT included.
    """

    class Role(models.TextChoices):
        GOODS = "goods", _("goods")
        DISCOUNT = "discount", _("discount")
        CARRIAGE = "carriage", _("carriage")
        ACCOUNT = "account", _("payment on account")
        OFF = "off", _("payment on account, taken off")

    # Taken off what a paper asks for, though written down above 0.
    BELOW_ZERO = (Role.DISCOUNT, Role.OFF)

    paper = models.ForeignKey(Document, models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    role = models.CharField(max_length=8, choices=Role, default=Role.GOODS)
    order_line = models.ForeignKey(
        OrderLine, models.PROTECT, null=True, blank=True, related_name="paper_lines"
    )
    names = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="named_by"
    )
    words = models.CharField(_("what"), max_length=200)
    quantity = models.PositiveIntegerField(_("how many"), default=1)
    price = MoneyField(_("each"))
    net = MoneyField(_("without VAT"))
    tax_category = models.CharField(max_length=2, default="O", choices=TaxRate.Category)
    tax_rate = models.DecimalField(max_digits=5, decimal_places=2, default=0)
    credited_quantity = models.PositiveIntegerField(default=0)
    credited_net = MoneyField(default=0)
    gross = MoneyField(_("received"), default=0)
    credited_gross = MoneyField(default=0)

    class Meta:
        db_table = "orders_paperline"
        ordering = ["paper_id", "position"]
        constraints = [
            models.UniqueConstraint(fields=["paper", "position"], name="paper_line_once"),
            models.CheckConstraint(
                condition=Q(quantity__gte=1) & Q(price__gte=0) & Q(net__gte=0),
                name="paper_line_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(credited_quantity__lte=F("quantity"))
                & Q(credited_net__gte=0)
                & Q(credited_net__lte=F("net")),
                name="paper_line_credited_within",
            ),
            models.CheckConstraint(
                condition=Q(credited_gross__gte=0) & Q(credited_gross__lte=F("gross")),
                name="paper_line_received_used_within",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.words}"

    @property
    def left_quantity(self) -> int:
        return self.quantity - self.credited_quantity

    @property
    def left_net(self) -> Decimal:
        return self.net - self.credited_net

    @property
    def left_gross(self) -> Decimal:
        """Of a payment on account, what no final invoice took off and nobody gave back."""
        return self.gross - self.credited_gross

    @property
    def sign(self) -> int:
        """-1 for what is taken off the sum of its paper."""
        return -1 if self.role in self.BELOW_ZERO else 1


class Payment(models.Model):
    """Money in (or, negative, back to the customer).

    `amount` is what is booked; `rounding` is what the smallest coin added to it or took from it,
    so amount + rounding went through the drawer. `unused` is the customer's credit that is left.
    """

    class Method(models.TextChoices):
        CASH = "cash", _("cash")
        BANK = "bank", _("bank transfer")
        MOBILE = "mobile", _("mobile money")
        CARD = "card", _("card")
        OPENING = "opening", _("brought forward")

    # Money that moves across a counter; a balance brought forward never does.
    FOUND_BY = FoundBy(words=("reference",))
    WAYS = [(way.value, way.label) for way in Method if way.value != "opening"]

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
    fee = MoneyField(_("fee kept by the network"), default=0)
    drawer = models.CharField(_("drawer"), max_length=40, blank=True)
    taken_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)
    unused = MoneyField(_("not yet used"), default=0, editable=False)
    reverses = models.OneToOneField(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="reversed_by",
        verbose_name=_("takes back"),
    )

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("payment")
        verbose_name_plural = _("payments")
        indexes = [
            models.Index(fields=["customer"], name="payment_unused", condition=~Q(unused=0)),
        ]
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
                Lower("network"),
                "reference",
                condition=Q(method="mobile"),
                name="payment_mobile_reference_once",
                violation_error_message=_("This mobile-money reference is booked already."),
            ),
            models.CheckConstraint(
                condition=Q(method="cash") | Q(rounding=0),
                name="payment_only_cash_is_rounded",
            ),
        ]

    @property
    def gives_back(self) -> bool:
        """Money went back to the customer."""
        return self.amount < 0

    def __str__(self) -> str:
        return f"{money(self.amount)}, {date_short(self.on)}"

    @property
    def handed_over(self) -> Decimal:
        """What went through the drawer, in coins that exist."""
        return self.amount + self.rounding


class PaymentAllocation(models.Model):
    """So much of a payment or credit note that settles one invoice or one refund.

    A share below 0 takes back one that was laid on the wrong invoice.
    """

    payment = models.ForeignKey(
        Payment, models.PROTECT, null=True, blank=True, related_name="shares"
    )
    credit = models.ForeignKey(
        Document, models.PROTECT, null=True, blank=True, related_name="credit_shares"
    )
    paper = models.ForeignKey(
        Document, models.PROTECT, null=True, blank=True, related_name="payment_shares"
    )
    refund = models.ForeignKey(
        Payment, models.PROTECT, null=True, blank=True, related_name="refund_shares"
    )
    amount = MoneyField()
    on = models.DateField()

    class Meta:
        db_table = "orders_paymentshare"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(amount=0), name="payment_share_is_not_nothing"),
            models.CheckConstraint(
                condition=Q(payment__isnull=False, credit__isnull=True)
                | Q(payment__isnull=True, credit__isnull=False),
                name="payment_share_from_one",
            ),
            models.CheckConstraint(
                condition=Q(paper__isnull=False, refund__isnull=True)
                | Q(paper__isnull=True, refund__isnull=False),
                name="payment_share_to_one",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount}"


class DocumentFile(models.Model):
    """The PDF of a paper as it was first made, and its hash; served again unchanged for ever.

    It lies in the database beside its paper, so that one backup holds both.
    """

    paper = models.OneToOneField(
        Document, models.PROTECT, null=True, blank=True, related_name="file"
    )
    slip = models.OneToOneField(
        "orders.PaySlip", models.PROTECT, null=True, blank=True, related_name="file"
    )
    payout = models.OneToOneField(
        "stock.Payout", models.PROTECT, null=True, blank=True, related_name="file"
    )
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        db_table = "orders_paperfile"
        constraints = [
            models.CheckConstraint(
                condition=Q(paper__isnull=False, slip__isnull=True, payout__isnull=True)
                | Q(paper__isnull=True, slip__isnull=False, payout__isnull=True)
                | Q(paper__isnull=True, slip__isnull=True, payout__isnull=False),
                name="paper_file_of_one",
            ),
        ]

    def __str__(self) -> str:
        return self.sha256


class DrawerCount(models.Model):
    """The cash in a drawer counted at the end of a day, against what the book says."""

    drawer = models.CharField(_("drawer"), max_length=40, blank=True)
    on = models.DateField(_("day"), db_index=True)
    float_left = MoneyField(_("in the drawer at the start"), default=0)
    expected = MoneyField(_("by the book"))
    counted = MoneyField(_("counted"))
    note = models.CharField(_("note"), max_length=200, blank=True)
    counted_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    counted_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("drawer count")
        verbose_name_plural = _("drawer counts")
        constraints = [
            models.CheckConstraint(
                condition=Q(counted__gte=0) & Q(float_left__gte=0),
                name="drawer_count_not_negative",
                violation_error_message=_("A drawer cannot hold less than nothing."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.drawer}, {date_short(self.on)}"

    @property
    def difference(self) -> Decimal:
        return self.counted - self.expected
