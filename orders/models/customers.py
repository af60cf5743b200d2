"""The people who want strands."""

from decimal import Decimal

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from workshop.languages import or_workshops
from workshop.models import Business, FoundBy, KeepsSums, MoneyField, ShareField, SortedByName


class CustomerGroup(models.TextChoices):
    TRADER = "trader", _("market trader")
    SHOP = "shop", _("shop")
    WALK_IN = "walk-in", _("walk-in")


class Customer(SortedByName, KeepsSums):
    """A trader, a shop or somebody at the counter."""

    class Prices(models.TextChoices):
        AS_GROUP = "", _("as their group")
        WITH_TAX = "gross", _("with VAT")
        WITHOUT_TAX = "net", _("without VAT")

    name = models.CharField(_("name"), max_length=120, db_index=True)
    group = models.CharField(
        _("who"), max_length=10, choices=CustomerGroup, default=CustomerGroup.TRADER
    )
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    address = models.TextField(_("address"), blank=True)
    country = models.CharField(_("country"), max_length=2, blank=True)
    tax_number = models.CharField(_("VAT number"), max_length=30, blank=True)
    language = models.CharField(
        _("language"),
        max_length=7,
        blank=True,
        choices=or_workshops,
        help_text=_("Of their papers, messages and page."),
    )
    prices_shown = models.CharField(
        _("sees prices"), max_length=5, choices=Prices, blank=True, default=Prices.AS_GROUP
    )
    credit_limit = MoneyField(_("may owe up to"), null=True, blank=True)
    deposit_share = ShareField(
        _("deposit"),
        null=True,
        blank=True,
        help_text=_("Share of an order. Left empty: the usual one."),
        validators=[MaxValueValidator(Decimal("1"))],
    )
    note = models.TextField(_("note"), blank=True)
    in_use = models.BooleanField(_("still buying"), default=True)
    # Stands for everybody who buys from the shelf without giving a name; there is one at most.
    nameless = models.BooleanField(default=False, editable=False)
    version = models.PositiveIntegerField(default=0, editable=False)
    # Kept by `keep_accounts` in the act that changes them, and proven by `check_book`.
    owes = MoneyField(_("owes"), default=0, editable=False)
    credit = MoneyField(_("credit"), default=0, editable=False)
    last_on = models.DateField(_("last order"), null=True, editable=False)
    orders_taken = models.PositiveIntegerField(_("orders"), default=0, editable=False)

    FOUND_BY = FoundBy(parts=("name", "email", "tax_number"), digits=("phone", "tax_number"))
    KEPT = frozenset({"owes", "credit", "last_on", "orders_taken"})

    class Meta:
        ordering = ["sorts_as"]
        verbose_name = _("customer")
        verbose_name_plural = _("customers")
        indexes = [
            models.Index(fields=["-last_on", "name"], name="customer_by_last_order"),
            models.Index(fields=["owes"], name="customer_owing", condition=~Q(owes=0)),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["nameless"], condition=Q(nameless=True), name="customer_nameless_once"
            ),
            models.CheckConstraint(
                condition=Q(credit_limit__isnull=True) | Q(credit_limit__gte=0),
                name="customer_limit_not_negative",
                violation_error_message=_("A limit cannot be below 0; leave it empty for none."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


def sees_tax(customer: Customer | None, business: Business, group: str = "") -> bool:
    """Whether a customer is told prices with VAT: their own word, else that of their group."""
    if not business.tax_registered:
        return False
    if customer is not None and customer.prices_shown:
        return customer.prices_shown == Customer.Prices.WITH_TAX
    return business.tells_with_tax(customer.group if customer is not None else group)
