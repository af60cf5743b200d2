"""The business itself: one row that says whose workshop this is."""

import zoneinfo
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.invoicing_law import short_form_up_to
from workshop.languages import SOURCE, names
from workshop.models.fields import MoneyField, ShareField
from workshop.money import minor_digits

MONEY_SERIES = ("invoice", "credit", "receipt", "refund", "opening", "pay")


def steps_of_debt(told: str) -> tuple[int, int, int]:
    """The days at which a debt comes to its next age; ValueError for what is no rising three."""
    told = told.strip() or "30 60 90"  # the usual layout, where nothing is chosen
    first, second, third = (int(part) for part in told.replace(",", " ").split())
    if not 0 < first < second < third < 1000:
        raise ValueError(told)
    return first, second, third


class Business(models.Model):
    """Name, money, time zone and the owner's standing choices. There is only ever one row."""

    class OnAccount(models.TextChoices):
        EVERYBODY = "all", _("everybody")
        BUSINESSES = "business", _("traders and shops only")

    class SecondStep(models.TextChoices):
        NOBODY = "", _("nobody must")
        OWNERS = "owner", _("owners must")
        MONEY = "money", _("owners and counter hands must")
        EVERYBODY = "all", _("everybody must")

    name = models.CharField(_("name"), max_length=120, default="Our workshop")
    address = models.TextField(_("address"), blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    country = models.CharField(
        _("country"), max_length=2, blank=True, help_text=_("Two letters, ISO 3166, e.g. PT.")
    )
    currency = models.CharField(
        _("currency"), max_length=3, default="EUR", help_text=_("Three letters, ISO 4217.")
    )
    time_zone = models.CharField(_("time zone"), max_length=60, default="UTC")
    language = models.CharField(
        _("language"),
        max_length=7,
        default=SOURCE,
        choices=names,
        help_text=_(
            "Of papers, and of whoever has chosen no other. Issued papers stay as they are."
        ),
    )
    invented = models.BooleanField(_("invented for the demo"), default=False, editable=False)

    tax_registered = models.BooleanField(_("registered for VAT"), default=False)
    tax_number = models.CharField(_("VAT number"), max_length=30, blank=True)
    tax_name = models.CharField(
        _("what VAT is called here"),
        max_length=12,
        default="VAT",
        help_text=_("As it stands on papers: VAT, IVA, TVA, GST …"),
    )
    company_number = models.CharField(
        _("company number"),
        max_length=40,
        blank=True,
        help_text=_("In the trade register; printed on papers."),
    )
    with_tax_trader = models.BooleanField(_("traders see prices with VAT"), default=False)
    with_tax_shop = models.BooleanField(_("shops see prices with VAT"), default=False)
    with_tax_walk_in = models.BooleanField(
        _("walk-ins see prices with VAT"),
        default=True,
        help_text=_("Prices to consumers are final prices, VAT included, in many countries."),
    )
    account_invoices = models.CharField(
        _("invoices for payments on account go to"),
        max_length=8,
        choices=OnAccount,
        default=OnAccount.EVERYBODY,
        help_text=_("Others get a receipt. Ask your adviser what the law of your country wants."),
    )
    iban = models.CharField(_("IBAN"), max_length=42, blank=True)
    bic = models.CharField(_("BIC"), max_length=11, blank=True)
    smallest_coin = MoneyField(
        _("smallest coin"), default=Decimal("0.01"), help_text=_("Cash is rounded to this.")
    )
    payment_days = models.PositiveSmallIntegerField(_("days to pay"), default=14)
    quote_days = models.PositiveSmallIntegerField(_("days a quote stands"), default=30)
    debt_steps = models.CharField(
        _("ages of what is owed, in days"),
        max_length=20,
        default="30, 60, 90",
        blank=True,
        help_text=_("Three numbers, each larger than the one before: 14, 30, 60."),
    )
    paper_size = models.CharField(
        _("paper"), max_length=6, default="A4", choices=[("A4", "A4"), ("Letter", "Letter")]
    )
    paper_words = models.TextField(
        _("words at the foot of papers"), blank=True, help_text=_("Terms, opening hours, thanks.")
    )
    e_invoice = models.BooleanField(
        _("put the electronic invoice into the PDF"),
        default=False,
        help_text=_("EN 16931, as Factur-X; for currencies of up to two decimals."),
    )
    customs_heading = models.CharField(_("customs heading"), max_length=20, default="7018.10")

    assurance = ShareField(
        _("assurance"),
        default=Decimal("0.95"),
        help_text=_("How sure the workshop wants to be that enough beads come good."),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(Decimal("0.9999"))],
    )
    whole_moulds = models.BooleanField(
        _("fill whole moulds"), default=False, help_text=_("Start whole moulds, never part of one.")
    )
    rejects_by_load = models.BooleanField(
        _("count on rejects coming load by load"),
        default=False,
        help_text=_("Starts more beads where the records show that whole loads go wrong."),
    )
    min_weighed = models.PositiveSmallIntegerField(
        _("use a weighed mass from"),
        default=20,
        help_text=_("Beads weighed; with fewer, the mass is worked out from the size."),
        validators=[MinValueValidator(1)],
    )
    margin = ShareField(
        _("margin"), default=Decimal("0.25"), help_text=_("Share of the price above cost.")
    )
    margin_trader = ShareField(
        _("margin, market traders"), null=True, blank=True, help_text=_("Left empty: the usual.")
    )
    margin_shop = ShareField(
        _("margin, shops"), null=True, blank=True, help_text=_("Left empty: the usual.")
    )
    margin_walk_in = ShareField(
        _("margin, walk-ins"), null=True, blank=True, help_text=_("Left empty: the usual.")
    )
    overhead = ShareField(
        _("overhead"), default=Decimal("0.12"), help_text=_("Added to the cost of making.")
    )
    hours_when_worked = models.BooleanField(
        _("hands are paid by the hour only when there is work"),
        default=False,
        help_text=_("Then an order’s hours are money that it takes out of the drawer."),
    )
    price_step = MoneyField(
        _("round prices up to"),
        default=Decimal("0.10"),
        help_text=_("A price easily paid, e.g. 0.10."),
    )
    count_tolerance = ShareField(
        _("counts by weight within"),
        default=Decimal("0.02"),
        help_text=_("A count by weight is booked only when it is surer than this, either way."),
    )
    yard_price_most = MoneyField(
        _("the yard pays a kilogram at most"),
        null=True,
        blank=True,
        help_text=_("Above the price list. Left empty: the price list and no more."),
    )
    yard_cash_most = MoneyField(
        _("the yard pays out at a time at most"),
        null=True,
        blank=True,
        help_text=_("Left empty: what the sacks come to."),
    )
    deposit_share = ShareField(_("usual deposit"), default=Decimal("0.30"))
    customer_pages = models.BooleanField(
        _("customers may look how far their order is"),
        default=False,
        help_text=_(
            "Behind an address that cannot be guessed: how far it is, the sum, the day. It ends a "
            "month after it was collected. Only where this runs on a server."
        ),
    )
    deposit_from = MoneyField(
        _("a deposit from"),
        null=True,
        blank=True,
        help_text=_("Orders that come to less are taken without one. Left empty: every order."),
    )
    deposit_kept = ShareField(
        _("kept of a deposit"),
        default=Decimal("0"),
        help_text=_("Of an order cancelled once its beads are begun. Before that all goes back."),
        validators=[MaxValueValidator(Decimal("1"))],
    )
    short_form_most = MoneyField(
        _("an invoice without a name is enough up to"),
        null=True,
        blank=True,
        help_text=_("VAT included. Left empty: what is usual in the country; local rules decide."),
    )
    length_unit = models.CharField(
        _("lengths on screens"),
        max_length=4,
        default="cm",
        choices=[("cm", "cm"), ("in", "in"), ("mm", "mm")],
    )
    mass_unit = models.CharField(
        _("masses on screens"), max_length=4, default="kg", choices=[("kg", "kg"), ("lb", "lb")]
    )

    two_for_refunds = MoneyField(
        _("two people for giving back more than"),
        null=True,
        blank=True,
        help_text=_("To one customer in a day. Left empty: one person does."),
    )
    two_for_bank = models.BooleanField(
        _("two people for another bank account"),
        default=False,
        help_text=_("Somebody else looks before invoices ask for money to another account."),
    )
    two_for_people = models.BooleanField(
        _("two people for shutting somebody out"),
        default=False,
        help_text=_("Before a person may not sign in any more."),
    )
    second_step_for = models.CharField(
        _("second step when signing in"),
        max_length=10,
        blank=True,
        choices=SecondStep,
        default=SecondStep.NOBODY,
        help_text=_("A code from a telephone, besides the password. Anybody may use one."),
    )

    class Meta:
        verbose_name = _("business")
        verbose_name_plural = _("business")
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="business_is_one_row"),
            models.CheckConstraint(
                condition=Q(margin__gte=0) & Q(margin__lt=1),
                name="business_margin_is_a_share",
                violation_error_message=_("The margin must be at least 0 %% and below 100 %%."),
            ),
            models.CheckConstraint(
                # A condition on an empty value is neither true nor false, and so lets it pass.
                condition=Q(margin_trader__gte=0, margin_trader__lt=1)
                & Q(margin_shop__gte=0, margin_shop__lt=1)
                & Q(margin_walk_in__gte=0, margin_walk_in__lt=1),
                name="business_group_margins_are_shares",
                violation_error_message=_("A margin must be at least 0 %% and below 100 %%."),
            ),
            models.CheckConstraint(
                condition=Q(tax_registered=False) | ~Q(tax_number=""),
                name="business_registered_has_number",
                violation_error_message=_("A business registered for VAT needs its VAT number."),
            ),
            models.CheckConstraint(
                condition=Q(smallest_coin__gt=0) & Q(price_step__gt=0),
                name="business_coin_and_step_above_nothing",
                violation_error_message=_("The smallest coin and the price step must be above 0."),
            ),
            models.CheckConstraint(
                condition=Q(assurance__gt=0) & Q(assurance__lt=1) & Q(overhead__gte=0),
                name="business_assurance_is_a_share",
                violation_error_message=_("The assurance must lie between 0 %% and 100 %%."),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def short_form_up_to(self) -> Decimal | None:
        """Up to this sum an invoice may leave out who buys: the owner's word, else the country's
        usual; None where none is known."""
        if self.short_form_most is not None:
            return self.short_form_most
        return short_form_up_to(self.country, self.currency)

    def save(self, *args, **kwargs) -> None:
        self.pk = 1
        super().save(*args, **kwargs)

    def clean(self) -> None:
        if self.time_zone not in zoneinfo.available_timezones():
            raise ValidationError(
                {
                    "time_zone": _("“%s” is no time zone; write one such as Europe/Lisbon.")
                    % self.time_zone
                }
            )
        try:
            minor_digits(self.currency)
        except ValueError as error:
            raise ValidationError({"currency": str(error)}) from error
        try:
            steps_of_debt(self.debt_steps)
        except ValueError as error:
            words = _("Write three numbers of days, each larger than the one before: 14, 30, 60.")
            raise ValidationError({"debt_steps": words}) from error
        self._keep_the_currency_of_papers()

    def _keep_the_currency_of_papers(self) -> None:
        """Accounts add up in one currency, so it stays once money was written down in it."""
        before = Business.objects.filter(pk=self.pk).values_list("currency", flat=True).first()
        if before is None or before == self.currency:
            return
        if NumberSequence.objects.filter(kind__in=MONEY_SERIES, next_number__gt=1).exists():
            raise ValidationError(
                {
                    "currency": _(
                        "Papers were issued in %(before)s already, and accounts cannot hold two "
                        "currencies. Begin an empty book for %(now)s."
                    )
                    % {"before": before, "now": self.currency}
                }
            )

    @classmethod
    def current(cls) -> "Business":
        """The one row; before it is written, its defaults."""
        return cls.objects.first() or cls()

    @classmethod
    def in_force(cls) -> "Business":
        """The row that the request being answered has read already; else the one row."""
        return _of_request.get() or cls.current()

    def tells_with_tax(self, group: str) -> bool:
        """Whether a group of customers is told prices with VAT; nobody is where none is due."""
        told = {
            "trader": self.with_tax_trader,
            "shop": self.with_tax_shop,
            "walk-in": self.with_tax_walk_in,
        }
        return self.tax_registered and told.get(group, False)

    @property
    def money_digits(self) -> int:
        return minor_digits(self.currency)


_of_request: ContextVar[Business | None] = ContextVar("business", default=None)


@contextmanager
def answering_for(business: Business) -> Iterator[None]:
    """Within it, `Business.in_force()` is this row; a request runs inside one."""
    token = _of_request.set(business)
    try:
        yield
    finally:
        _of_request.reset(token)


class NumberSequence(models.Model):
    """The next number of one kind of paper. The row is locked while a paper is issued."""

    kind = models.CharField(_("kind of paper"), max_length=20)
    year = models.PositiveSmallIntegerField(
        _("year"), default=0, help_text=_("0: numbers run on for ever.")
    )
    next_number = models.PositiveIntegerField(_("next number"), default=1)

    class Meta:
        db_table = "workshop_paperseries"
        verbose_name = _("paper series")
        verbose_name_plural = _("paper series")
        constraints = [
            models.UniqueConstraint(fields=["kind", "year"], name="paper_series_once_a_year"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.year or ''}".strip()

    def take_numbers(self, count: int) -> range:
        """Take the next numbers; call inside the transaction that issues what bears them."""
        own = NumberSequence.objects.filter(pk=self.pk)
        first = self.next_number
        # Mostly nobody has taken any since this row was read, and it need not be read again.
        if own.filter(next_number=first).update(next_number=first + count):
            self.next_number = first + count
            return range(first, first + count)
        changed = own.update(next_number=F("next_number") + count)
        assert changed == 1, "the series was deleted while a paper was being issued"
        self.refresh_from_db(fields=["next_number"])
        return range(self.next_number - count, self.next_number)


class NumberPattern(models.Model):
    """How the numbers of one kind of paper are written.

    The year and what follows the joint can be told apart in every number, and what stands before
    the year ends in no digit; so one pattern never writes the number of another paper again.
    """

    class Kind(models.TextChoices):
        QUOTE = "quote", _("quote")
        INVOICE = "invoice", _("invoice")
        CREDIT = "credit", _("credit note")
        RECEIPT = "receipt", _("receipt")
        REFUND = "refund", _("refund slip")
        OPENING = "opening", _("balance brought forward")
        PAY = "pay", _("pay slip")
        PAYOUT = "payout", _("collector’s slip")

    # Slips of hands and collectors are rows of their own, and no documents.
    OF_DOCUMENTS = Kind.choices[: Kind.values.index(Kind.PAY)]
    USUAL = {
        Kind.QUOTE: "Q-",
        Kind.INVOICE: "INV-",
        Kind.CREDIT: "CN-",
        Kind.RECEIPT: "R-",
        Kind.REFUND: "RF-",
        Kind.OPENING: "BF-",
        Kind.PAY: "PAY-",
        Kind.PAYOUT: "C-",
    }

    class Year(models.IntegerChoices):
        WHOLE = 4, "2027"
        SHORT = 2, "27"

    class Joint(models.TextChoices):
        DASH = "-", "-"
        STROKE = "/", "/"
        DOT = ".", "."

    kind = models.CharField(_("kind of paper"), max_length=20, choices=Kind, unique=True)
    prefix = models.CharField(
        _("before the year"),
        max_length=12,
        blank=True,
        validators=[
            RegexValidator(
                r"^([A-Za-z0-9./-]*[A-Za-z./-])?$",
                _("Letters, digits, full stops, strokes and dashes, and no digit at its end."),
            )
        ],
    )
    year_digits = models.PositiveSmallIntegerField(_("the year"), choices=Year, default=Year.WHOLE)
    joint = models.CharField(_("after the year"), max_length=1, choices=Joint, default=Joint.DASH)
    digits = models.PositiveSmallIntegerField(
        _("digits of the number"),
        default=4,
        validators=[MinValueValidator(1), MaxValueValidator(8)],
        help_text=_("Filled up with noughts: 4 writes the seventh paper as 0007."),
    )

    class Meta:
        verbose_name = _("pattern of paper numbers")
        verbose_name_plural = _("patterns of paper numbers")

    def __str__(self) -> str:
        return self.get_kind_display()

    @classmethod
    def of(cls, kind: str) -> "NumberPattern":
        """The owner's pattern of a kind, else the usual one."""
        return cls.objects.filter(kind=kind).first() or cls.usual(kind)

    @classmethod
    def usual(cls, kind: str) -> "NumberPattern":
        return cls(kind=kind, prefix=cls.USUAL[cls.Kind(kind)])

    @classmethod
    def each(cls) -> list["NumberPattern"]:
        """One of each kind of paper (1 query)."""
        own = {pattern.kind: pattern for pattern in cls.objects.all()}
        return [own.get(kind) or cls.usual(kind) for kind in cls.Kind.values]

    def written(self, year: int, sequence: int) -> str:
        """The printed number; a series of year 0 runs on for ever and names no year."""
        of_year = f"{year:04d}"[-self.year_digits :] + self.joint if year else ""
        return f"{self.prefix}{of_year}{sequence:0{self.digits}d}"


class TaxRate(models.Model):
    """A rate of VAT with its category letter and the day from which it holds."""

    class Category(models.TextChoices):
        # Letters of UNTDID 5305, as EN 16931 uses them.
        STANDARD = "S", _("standard or reduced rate")
        ZERO = "Z", _("zero rated")
        EXEMPT = "E", _("exempt")
        EXPORT = "G", _("export outside the union")
        REVERSE = "AE", _("reverse charge")
        OUTSIDE = "O", _("outside the scope of VAT")

    name = models.CharField(_("name"), max_length=60)
    category = models.CharField(
        _("category"), max_length=2, choices=Category, default=Category.STANDARD
    )
    rate = models.DecimalField(_("per cent"), max_digits=5, decimal_places=2, default=0)
    reason = models.CharField(_("reason for no VAT"), max_length=120, blank=True)
    valid_from = models.DateField(_("from"))
    standard = models.BooleanField(_("used unless another is chosen"), default=False)

    class Meta:
        ordering = ["name", "-valid_from"]
        verbose_name = _("VAT rate")
        verbose_name_plural = _("VAT rates")
        constraints = [
            models.UniqueConstraint(fields=["name", "valid_from"], name="tax_rate_once_a_day"),
            models.CheckConstraint(
                condition=Q(rate__gte=0) & Q(rate__lte=100),
                name="tax_rate_is_a_percentage",
                violation_error_message=_("A rate of VAT lies between 0 and 100 per cent."),
            ),
            models.CheckConstraint(
                condition=Q(category="S", rate__gt=0) | (~Q(category="S") & Q(rate=0)),
                name="tax_rate_fits_its_category",
                violation_error_message=_(
                    "The standard category needs a rate above 0 %%; every other category has 0 %%."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.rate.normalize():f} %"

    @classmethod
    def standard_on(cls, day) -> "TaxRate | None":
        """The rate that holds on a day unless another is chosen (1 query)."""
        held = cls.objects.filter(standard=True, valid_from__lte=day)
        return held.order_by("-valid_from", "-pk").first()
