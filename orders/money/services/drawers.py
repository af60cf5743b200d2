"""Counting a drawer at the end of the day against what the book says went through it."""

from datetime import date, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ExpressionWrapper, F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import DrawerCount, Payment, PaySlip
from stock.models import Payout
from workshop.models import MoneyField, Person
from workshop.money import ZERO
from workshop.services.acts import record_act

A_YEAR = timedelta(days=366)
HANDED = ExpressionWrapper(F("amount") + F("rounding"), output_field=MoneyField())


def through_drawer(drawer: str, on: date) -> tuple[Decimal, Decimal]:
    """Cash that came in and that was paid out of a drawer on a day (4 queries).

    Collectors are paid out of the drawer without a name (common practice, no source).
    """
    cash = Payment.objects.filter(method=Payment.Method.CASH, drawer=drawer, on=on).order_by()
    came_in = cash.filter(amount__gt=0).aggregate(n=Sum(HANDED))["n"] or ZERO
    back = cash.filter(amount__lt=0).aggregate(n=Sum(HANDED))["n"] or ZERO
    slips = PaySlip.objects.filter(in_cash=True, drawer=drawer, paid_on=on)
    paid = slips.aggregate(n=Sum("total"))["n"] or ZERO
    if not drawer:
        paid += Payout.objects.filter(paid_on=on).aggregate(n=Sum("total"))["n"] or ZERO
    return came_in, paid - back


def drawers_used(on: date) -> list[str]:
    """Names of the drawers that cash went through within a year, the nameless one first."""
    names = set(
        Payment.objects.filter(method=Payment.Method.CASH, on__gt=on - A_YEAR)
        .order_by()
        .values_list("drawer", flat=True)
        .distinct()
    )
    return sorted(names | {""})


@transaction.atomic
def count_drawer(
    drawer: str,
    counted: Decimal,
    *,
    person: Person | None,
    float_left: Decimal,
    on: date | None = None,
    note: str = "",
) -> DrawerCount:
    """Write down what was counted; a difference stands in the book and is never hidden."""
    on = on or timezone.localdate()
    if counted < 0 or float_left < 0:
        raise ValidationError({"counted": _("A drawer cannot hold less than nothing.")})
    came_in, paid_out = through_drawer(drawer, on)
    count = DrawerCount.objects.create(
        drawer=drawer,
        on=on,
        float_left=float_left,
        expected=float_left + came_in - paid_out,
        counted=counted,
        note=note,
        counted_by=person,
    )
    record_act(person, "count drawer", count, after={"difference": str(count.difference)})
    return count
