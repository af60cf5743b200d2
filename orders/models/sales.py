"""Sales from the shelf: strands that lay ready, handed over and paid at once."""

from decimal import Decimal

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orders.models.customers import Customer
from orders.models.money import Document, Payment
from orders.models.orders import Order
from stock.models import Posting, StockLocation
from workshop.formats import date_short
from workshop.models import Person, ShareField


class StallDay(models.Model):
    """Strands carried out to a stall, to be sold there and brought home at the end of the day.

    What is out lies in the stall's own place of the book: still ours, and promised to no order.
    """

    place = models.ForeignKey(
        StockLocation, models.PROTECT, related_name="stall_days", verbose_name=_("stall")
    )
    on = models.DateField(_("day"), db_index=True)
    carried_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)
    home_at = models.DateTimeField(_("home"), null=True, blank=True)

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("stall day")
        verbose_name_plural = _("stall days")
        constraints = [
            models.UniqueConstraint(
                fields=["place"], condition=Q(home_at__isnull=True), name="stall_day_one_open"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.place}, {date_short(self.on)}"

    @property
    def is_open(self) -> bool:
        return self.home_at is None


class Consignment(models.Model):
    """Strands lent to a shop: they lie there in a place of the book, and stay ours until sold.

    share  of the price to buyers that the shop keeps
    """

    shop = models.OneToOneField(
        Customer, models.PROTECT, related_name="consignment", verbose_name=_("shop")
    )
    place = models.OneToOneField(StockLocation, models.PROTECT, related_name="consignment")
    share = ShareField(
        _("the shop’s share"),
        help_text=_("Of the price to buyers, such as 30 %."),
        validators=[MaxValueValidator(Decimal("0.95"))],
    )
    began_on = models.DateField(_("since"))
    counted_on = models.DateField(_("last counted"), null=True, blank=True)

    class Meta:
        ordering = ["shop__name"]
        verbose_name = _("goods with a shop")
        verbose_name_plural = _("goods with shops")
        constraints = [
            models.CheckConstraint(
                condition=Q(share__gte=0) & Q(share__lt=1),
                name="consignment_share_within",
                violation_error_message=_("The shop’s share is at least 0 and less than 100 %%."),
            ),
        ]

    def __str__(self) -> str:
        return str(self.shop)


class Sale(models.Model):
    """What was sold from the shelf: an order that was collected and paid as it was taken.

    posting   its strands leaving the shelf
    payment   none where nothing was asked for
    """

    order = models.OneToOneField(
        Order, models.PROTECT, related_name="sale", verbose_name=_("number")
    )
    posting = models.OneToOneField(Posting, models.PROTECT, related_name="sale")
    invoice = models.OneToOneField(Document, models.PROTECT, related_name="sale")
    payment = models.OneToOneField(
        Payment, models.PROTECT, null=True, blank=True, related_name="sale"
    )
    stall_day = models.ForeignKey(
        StallDay, models.PROTECT, null=True, blank=True, related_name="sales"
    )
    consignment = models.ForeignKey(
        Consignment, models.PROTECT, null=True, blank=True, related_name="sales"
    )
    sold_at = models.DateTimeField(_("sold"), auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name = _("sale")
        verbose_name_plural = _("sales")

    def __str__(self) -> str:
        return _("sale %d") % self.order.number

    @property
    def number(self) -> int:
        return self.order.number


class SaleReturn(models.Model):
    """Strands of a sale that came back, credited and paid back in one act."""

    sale = models.ForeignKey(Sale, models.PROTECT, related_name="returns")
    posting = models.OneToOneField(Posting, models.PROTECT, related_name="sale_return")
    credit = models.OneToOneField(Document, models.PROTECT, related_name="sale_return")
    refund = models.OneToOneField(
        Payment, models.PROTECT, null=True, blank=True, related_name="sale_return"
    )
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        verbose_name = _("strands that came back")
        verbose_name_plural = _("strands that came back")

    def __str__(self) -> str:
        return f"{self.sale} {self.credit.number}"
