"""The place itself, written down whole: the business with its rate of VAT, a week, the steps."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.models import Business, LabourRate, Person, TaxRate, WorkingHours
from workshop.services.acts import record_act

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
        rate.save()
        record_act(
            person,
            "add labourrate",
            rate,
            after={"step": rate.step, "minutes": str(rate.minutes_each), "pay": str(rate.hourly)},
        )
    return list(rates)
