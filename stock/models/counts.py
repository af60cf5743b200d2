"""Counts of the shelves, and tags that tell where a strand came from."""

import secrets

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from stock.models.book import Item, Posting, StockLocation
from workshop.formats import date_short
from workshop.models import Person


class StockCount(models.Model):
    """One item counted in one place: what the book said, and what was found."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="counts", verbose_name=_("item"))
    place = models.ForeignKey(
        StockLocation, models.PROTECT, related_name="counts", verbose_name=_("place")
    )
    on = models.DateField(_("day"), db_index=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", verbose_name=_("who"))
    booked = models.BigIntegerField(_("in the book"))
    found = models.BigIntegerField(_("found"))
    posting = models.ForeignKey(
        Posting, models.PROTECT, null=True, blank=True, related_name="counts"
    )

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name = _("count")
        verbose_name_plural = _("counts")
        constraints = [
            models.CheckConstraint(condition=Q(found__gte=0), name="count_finds_no_less_than_none"),
        ]

    def __str__(self) -> str:
        return f"{self.item}, {date_short(self.on)}"


def new_token() -> str:
    """An address nobody can guess."""
    return secrets.token_urlsafe(12)


class StrandTag(models.Model):
    """The tag of the strands strung in one posting; its page is public once the owner says so."""

    token = models.CharField(max_length=32, unique=True, default=new_token, editable=False)
    posting = models.OneToOneField(Posting, models.PROTECT, related_name="tag")
    published = models.BooleanField(_("published"), default=False)

    class Meta:
        verbose_name = _("strand tag")
        verbose_name_plural = _("strand tags")

    def __str__(self) -> str:
        return self.token
