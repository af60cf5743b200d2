"""Sales from the shelf: strands that lay ready, handed over and paid at once."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from orders.models.money import Document, Payment
from orders.models.orders import Order
from stock.models import Posting
from workshop.models import Person


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
