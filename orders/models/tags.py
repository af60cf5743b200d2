"""Codes on the tags of ready strands that went to an order from the shelf."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from orders.models.orders import Order
from stock.models import Posting
from stock.strand_codes import strand_code


class ShelfTag(models.Model):
    """One strand of a stringing to the shelf, named on a tag of an order.

    place  which of the stringing's strands, the first being 1; a code is given out once, for the
           tag stays on its strand when the order is called off
    """

    order = models.ForeignKey(Order, models.PROTECT, related_name="shelf_tags")
    posting = models.ForeignKey(Posting, models.PROTECT, related_name="+")
    place = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        verbose_name = _("tag of a ready strand")
        verbose_name_plural = _("tags of ready strands")
        constraints = [
            models.UniqueConstraint(fields=["posting", "place"], name="shelf_tag_given_once"),
        ]

    def __str__(self) -> str:
        return strand_code(self.posting_id, self.place)
