"""Plans of the kilns laid before the keeper, searches for better ones, the bench time promised
to orders, and the address of the workshop's calendar."""

import secrets

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from workshop.models import Kiln, Person, Skill


class FiringPlan(models.Model):
    """A plan of all loads not pinned, as it was worked out; it moves nothing until accepted.

    before, after  tardiness_min, late_orders, kiln_minutes, loads, finish_min of the plan that
                   stood and of this one
    content        the loads of the plan, the orders whose day moves by it, and those that miss it
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

    @property
    def broken_promises(self) -> list[str]:
        """Orders that miss their day by this plan and did not before."""
        return [row["order"] for row in self.content.get("late", ()) if not row["was_late"]]


class FiringSearch(models.Model):
    """A longer search for a better plan, in a process of its own, and how far it has come.

    seen_at   when the searching process last said that it is alive
    so_far    the numbers of the best plan found up to then
    ended_at  when it ended by itself; a search that was cut off never does
    said      why it ended without a plan, as a sentence
    """

    asked_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(_("asked for"), auto_now_add=True)
    seconds = models.PositiveIntegerField()
    seen_at = models.DateTimeField(null=True, blank=True)
    searched_s = models.PositiveIntegerField(default=0)
    so_far = models.JSONField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, db_index=True)
    plan = models.ForeignKey(FiringPlan, models.SET_NULL, null=True, blank=True, related_name="+")
    said = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["-pk"]
        verbose_name = _("longer search")
        verbose_name_plural = _("longer searches")

    def __str__(self) -> str:
        return f"{self.asked_at:%Y-%m-%d %H:%M}"


class BenchShare(models.Model):
    """Hand minutes of one skill on one day that are promised to an order.

    Written when the order is confirmed and again whenever the keeper accepts a plan; a row is
    work still to be done until the order has come past that work.
    """

    order = models.ForeignKey("orders.Order", models.CASCADE, related_name="bench_shares")
    day = models.DateField(_("day"), db_index=True)
    skill = models.CharField(_("skill"), max_length=12, choices=Skill)
    minutes = models.PositiveIntegerField(_("minutes"))

    class Meta:
        ordering = ["day", "id"]
        verbose_name = _("bench time promised")
        verbose_name_plural = _("bench times promised")
        constraints = [
            models.UniqueConstraint(
                fields=["order", "day", "skill"], name="bench_share_once_a_day"
            ),
            models.CheckConstraint(condition=Q(minutes__gte=1), name="bench_share_takes_time"),
        ]

    def __str__(self) -> str:
        return f"{self.day:%Y-%m-%d} {self.skill} {self.minutes}"


def new_secret() -> str:
    return secrets.token_urlsafe(24)


class CalendarAddress(models.Model):
    """The secret in the address of the calendar feed; renewing it closes the old address."""

    secret = models.CharField(max_length=48, unique=True, default=new_secret)
    renewed_at = models.DateTimeField(auto_now=True)
    renewed_by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    # The address lies in calendars of other makers: names go there only by the owner's word.
    with_names = models.BooleanField(_("with customers’ names"), default=False)

    class Meta:
        verbose_name = _("calendar address")
        verbose_name_plural = _("calendar addresses")

    def __str__(self) -> str:
        return f"{self.renewed_at:%Y-%m-%d}"
