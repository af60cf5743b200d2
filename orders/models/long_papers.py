"""Papers too long to be printed while somebody waits."""

from datetime import timedelta

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from workshop.models import Person

SILENT = timedelta(minutes=3)  # one that says nothing for so long was cut off: our choice


class LongPaper(models.Model):
    """A long paper that was asked for, how far it is printed, and its file once it is there.

    asked     what of the book it tells, as its kind understands it; mark: kind and that, hashed
    pieces    small files it is printed in, and how many of them are done
    seen_at   when the printing process last said that it is alive
    """

    kind = models.CharField(max_length=20)
    asked = models.JSONField()
    mark = models.CharField(max_length=64, db_index=True)
    name = models.CharField(max_length=80)
    asked_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(_("asked for"), auto_now_add=True)
    seen_at = models.DateTimeField(null=True)
    pieces = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    ended_at = models.DateTimeField(null=True)
    stopped = models.BooleanField(default=False)
    said = models.CharField(max_length=400, blank=True)
    pdf = models.BinaryField(null=True)

    class Meta:
        ordering = ["-pk"]
        verbose_name = _("long paper")
        verbose_name_plural = _("long papers")
        constraints = [
            models.UniqueConstraint(
                fields=["mark"], condition=Q(ended_at__isnull=True), name="long_paper_once"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_running(self) -> bool:
        """It has not ended, and was heard of lately."""
        heard = self.seen_at or self.asked_at
        return self.ended_at is None and heard > timezone.now() - SILENT

    @property
    def is_there(self) -> bool:
        return self.ended_at is not None and not self.stopped and not self.said
