"""Photographs, kept in the book itself so that every copy of it holds them."""

from base64 import b64encode
from collections.abc import Iterable

from django.db import models
from django.utils.translation import gettext_lazy as _

from workshop.models.people import Person

JPEG = "data:image/jpeg;base64,"  # RFC 2397


class PhotoQuerySet(models.QuerySet):
    def of(self, kind: str, keys: Iterable[int]) -> "PhotoQuerySet":
        """Those of some things of a kind, without the pictures themselves (1 query)."""
        found = self.filter(kind=kind, subject__in=list(keys)).defer("picture", "small")
        return found.select_related("taken_by").order_by("subject", "-pk")

    def for_papers(self, kind: str, keys: Iterable[int]) -> dict[int, str]:
        """By thing, the photograph that papers show, as an address that holds it (1 query)."""
        found = self.filter(kind=kind, subject__in=list(keys), on_papers=True)
        rows = found.values_list("subject", "small")
        return {key: f"{JPEG}{b64encode(bytes(small)).decode()}" for key, small in rows}


class Photo(models.Model):
    """One photograph: made small, without what the camera wrote into it."""

    kind = models.CharField(_("of what"), max_length=10)
    subject = models.PositiveBigIntegerField()
    """The key by which the page of the thing is addressed; see `workshop/photos.py`."""
    picture = models.BinaryField()
    small = models.BinaryField()
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()
    note = models.CharField(_("what it shows"), max_length=120, blank=True)
    on_papers = models.BooleanField(
        _("On the price list and order slips"), default=False, db_index=True
    )
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        verbose_name = _("photograph")
        ordering = ["-id"]
        indexes = [models.Index(fields=["kind", "subject"], name="photos_of_a_thing")]

    def __str__(self) -> str:
        return self.note or f"{self.kind} {self.subject}"
