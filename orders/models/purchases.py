"""What open orders take of the findings in stock, and what is bought of them."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models.findings import Finding
from orders.models.orders import Order
from stock.models import Posting
from workshop.formats import date_short
from workshop.models import MoneyField, Person


class FindingNeed(models.Model):
    """What the strands of an open order that are still to be strung take of a finding in stock.

    Kept beside the lines it follows from (`fit_findings`), so that what all orders lack is one sum.
    """

    order = models.ForeignKey(
        Order, models.CASCADE, related_name="finding_needs", verbose_name=_("order")
    )
    finding = models.ForeignKey(
        Finding, models.PROTECT, related_name="needs", verbose_name=_("what")
    )
    quantity = models.BigIntegerField(_("how much"))

    class Meta:
        ordering = ["id"]
        verbose_name = _("finding an order takes")
        verbose_name_plural = _("findings orders take")
        constraints = [
            models.UniqueConstraint(fields=["order", "finding"], name="finding_need_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="finding_need_above_none"),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.finding} {self.finding.said(self.quantity)}"


class BoughtTogether(models.Model):
    """Several things on one paper of a supplier, ordered or brought on one day."""

    supplier = models.CharField(_("bought from"), max_length=80, blank=True)
    paper = models.CharField(_("number of their paper"), max_length=40, blank=True)
    ordered_on = models.DateField(_("ordered"))
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", verbose_name=_("who"))

    class Meta:
        ordering = ["-ordered_on", "-pk"]
        verbose_name = _("purchase of several things")
        verbose_name_plural = _("purchases of several things")

    def __str__(self) -> str:
        return " · ".join(filter(None, (self.supplier, self.paper))) or date_short(self.ordered_on)


class PurchaseQuerySet(models.QuerySet):
    def on_their_way(self):
        """Ordered and not here yet, the first to come in front, with their findings."""
        rows = self.filter(arrived_on__isnull=True, called_off=False).select_related("finding")
        return rows.order_by(F("expected_on").asc(nulls_last=True), "pk")


class Purchase(models.Model):
    """Findings ordered from a supplier, until they come: then they are in the book.

    quantity  in the smallest unit
    price     of all of it, as the supplier's paper says; with VAT at `tax_rate` [per cent] in it
    net       what it is worth in the book: without VAT where the workshop gets that back
    together  the paper it stands on with other things, where it does
    """

    finding = models.ForeignKey(
        Finding, models.PROTECT, related_name="purchases", verbose_name=_("what")
    )
    supplier = models.CharField(_("bought from"), max_length=80, blank=True)
    quantity = models.BigIntegerField(_("how much"))
    price = MoneyField(_("price of all of it"))
    tax_rate = models.DecimalField(_("VAT in it"), max_digits=5, decimal_places=2, default=0)
    net = MoneyField(_("worth in the book"))
    paper = models.CharField(_("number of their paper"), max_length=40, blank=True)
    ordered_on = models.DateField(_("ordered"))
    expected_on = models.DateField(_("expected"), null=True, blank=True)
    arrived_on = models.DateField(_("came"), null=True, blank=True)
    posting = models.OneToOneField(
        Posting, models.PROTECT, null=True, blank=True, related_name="purchase"
    )
    called_off = models.BooleanField(_("called off"), default=False)
    together = models.ForeignKey(
        BoughtTogether, models.PROTECT, null=True, blank=True, related_name="purchases"
    )
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", verbose_name=_("who"))

    objects = PurchaseQuerySet.as_manager()

    class Meta:
        ordering = ["-ordered_on", "-pk"]
        verbose_name = _("purchase")
        verbose_name_plural = _("purchases")
        indexes = [
            models.Index(
                fields=["finding"],
                name="purchase_on_its_way",
                condition=Q(arrived_on__isnull=True, called_off=False),
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, price__gte=0, net__gte=0, tax_rate__gte=0),
                name="purchase_of_something",
            ),
            models.CheckConstraint(
                condition=Q(arrived_on__isnull=True, posting__isnull=True)
                | Q(arrived_on__isnull=False, posting__isnull=False, called_off=False),
                name="purchase_that_came_is_in_the_book",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.finding}: {self.finding.said(self.quantity)}"

    def days_from(self, day: date) -> int | None:
        """Days until it is expected; what is late may come tomorrow. None: nobody knows."""
        return None if self.expected_on is None else max(1, (self.expected_on - day).days)

    @property
    def is_on_its_way(self) -> bool:
        return self.arrived_on is None and not self.called_off
