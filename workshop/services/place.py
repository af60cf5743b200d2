"""The place itself, written down whole: the business with its rate of VAT, a week, the steps."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import Business, LabourRate, Person, TaxRate, WorkingHours, WorkStep
from workshop.services.acts import record_act
from workshop.services.plain import save_plain

Stretch = tuple[time, time]


@transaction.atomic
def begin_business(business: Business, *, tax_rate: Decimal | None, person: Person) -> Business:
    """The first row of an empty book; one registered for VAT begins with its usual rate."""
    business.save()
    if business.tax_registered and tax_rate:
        TaxRate.objects.create(
            name=business.tax_name,
            rate=tax_rate,
            valid_from=date(timezone.localdate().year, 1, 1),
            standard=True,
        )
    record_act(person, "begin business", business, after={"name": business.name})
    return business


@transaction.atomic
def keep_week(
    week: Mapping[int, Sequence[Stretch]], *, days: Iterable[int], person: Person
) -> list[WorkingHours]:
    """The working hours of these days anew: when each opens and closes; none on a day left out."""
    old = WorkingHours.objects.select_for_update().filter(weekday__in=list(days))
    before = {"week": _told(old)}
    old.delete()
    kept = WorkingHours.objects.bulk_create(
        WorkingHours(weekday=day, opens=opens, closes=closes)
        for day, stretches in sorted(week.items())
        for opens, closes in stretches
    )
    record_act(person, "keep week", Business.in_force(), before=before, after={"week": _told(kept)})
    return kept


def _told(hours: Iterable[WorkingHours]) -> str:
    return "; ".join(map(str, hours)) or _("closed")


@transaction.atomic
def begin_rates(rates: Sequence[LabourRate], *, person: Person) -> list[LabourRate]:
    """Several steps with their minutes and pay, in one go."""
    for rate in rates:
        rate.full_clean()
        step, pay = rate.step_id, str(rate.hourly)
        rate.save()
        record_act(
            person,
            "add labourrate",
            rate,
            after={"step": step, "minutes": str(rate.minutes_each), "pay": pay},
        )
    return list(rates)


@transaction.atomic
def save_rate(form: Any, *, act: str, person: Person) -> LabourRate:
    """A rate as typed, and its step, where that is called by a new name from now on.

    Its earlier rates of this kind and form go along, and with the last of its rates its tickets. A
    name that another step has already takes over this one rate.
    """
    before = form.initial.get("step")
    rate = save_plain(form, act=act, person=person)
    there = LabourRate.objects.filter(step=rate.step_id).exclude(pk=rate.pk)
    if before in {None, rate.step_id} or there.exists():
        return rate
    LabourRate.objects.filter(step=before, kind=rate.kind, form=rate.form).update(step=rate.step_id)
    old = WorkStep.objects.get(pk=before)
    if not old.rates.exists():
        for relation in WorkStep._meta.related_objects:
            key, rows = relation.field.name, relation.related_model._default_manager
            rows.filter(**{key: before}).update(**{key: rate.step_id})
        old.delete()
    return rate
