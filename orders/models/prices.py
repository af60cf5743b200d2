"""Quantity breaks: so much off, for a group of customers or everybody, from so many strands."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from orders.models.customers import CustomerGroup
from workshop.models import ShareField


class QuantityBreak(models.Model):
    """A share taken off from so many strands of one design up; a share of 0 ends an older one."""

    group = models.CharField(
        _("who"),
        max_length=10,
        choices=CustomerGroup,
        blank=True,
        help_text=_("Left empty: everybody whose own price list has no break for that many."),
    )
    from_strands = models.PositiveIntegerField(_("from how many"))
    off = ShareField(_("off"))
    valid_from = models.DateField(_("from"))

    class Meta:
        ordering = ["group", "from_strands", "-valid_from"]
        verbose_name = _("quantity break")
        verbose_name_plural = _("quantity breaks")
        constraints = [
            models.UniqueConstraint(
                fields=["group", "from_strands", "valid_from"],
                name="quantity_break_once_a_day",
                violation_error_message=_(
                    "There is a break for these customers, this many strands and this day already."
                ),
            ),
            models.CheckConstraint(
                condition=Q(from_strands__gte=2),
                name="quantity_break_from_two",
                violation_error_message=_("A break begins at 2 strands or more."),
            ),
            models.CheckConstraint(
                condition=Q(off__gte=0) & Q(off__lt=1),
                name="quantity_break_off_is_a_share",
                violation_error_message=_("What is taken off lies from 0 %% to below 100 %%."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_group_display() if self.group else '–'} {self.from_strands}"
