"""Plans of the kilns laid before the keeper, and the address of the workshop's calendar."""

import secrets

from django.db import models
from django.utils.translation import gettext_lazy as _

from workshop.models import Kiln, Person


class FiringPlan(models.Model):
    """A plan of all loads not pinned, as it was worked out; it moves nothing until accepted.

    before, after  tardiness_min, late_orders, kiln_minutes, loads, finish_min of the plan that
                   stood and of this one
    content        the loads of the plan, and the orders whose day moves by it
    state_mark     what it was worked out from; a plan of other facts is not accepted
    least_*        what no plan can do with less of; empty when that could not be worked out
    """

    made_at = models.DateTimeField(_("worked out"), auto_now_add=True)
    made_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    accepted_at = models.DateTimeField(_("accepted"), null=True, blank=True, db_index=True)
    accepted_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    forbid_day = models.DateField(_("no firing on"), null=True, blank=True)
    forbid_kiln = models.ForeignKey(
        Kiln, models.CASCADE, null=True, blank=True, related_name="+", verbose_name=_("kiln")
    )
    why = models.CharField(_("why"), max_length=80, blank=True)
    before = models.JSONField()
    after = models.JSONField()
    least_kiln_minutes = models.PositiveIntegerField(null=True, blank=True)
    least_loads = models.PositiveIntegerField(null=True, blank=True)
    least_late_orders = models.PositiveIntegerField(null=True, blank=True)
    content = models.JSONField()
    state_mark = models.CharField(max_length=64)

    class Meta:
        ordering = ["-pk"]
        verbose_name = _("firing plan")
        verbose_name_plural = _("firing plans")

    def __str__(self) -> str:
        return _("firing plan %d") % self.pk


def new_secret() -> str:
    return secrets.token_urlsafe(24)


class CalendarAddress(models.Model):
    """The secret in the address of the calendar feed; renewing it closes the old address."""

    secret = models.CharField(max_length=48, unique=True, default=new_secret)
    renewed_at = models.DateTimeField(auto_now=True)
    renewed_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")

    class Meta:
        verbose_name = _("calendar address")
        verbose_name_plural = _("calendar addresses")

    def __str__(self) -> str:
        return f"{self.renewed_at:%Y-%m-%d}"
