"""Paying collectors: each payout has a numbered slip, and a sack is paid once."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from stock.models import Collector, Payout, Sack
from stock.services.ceilings import check_payout
from workshop.letterhead import head_of
from workshop.models import Business, Person, exact
from workshop.services.acts import record_act
from workshop.services.numbers import next_number

SERIES = "payout"


@transaction.atomic
def pay_collector(collector: Collector, *, person: Person, sacks: Sequence[Sack] = ()) -> Payout:
    """Pay a collector's owed sacks, all or those given, and write the slip."""
    # The collector's row stands for the account: of two who pay at once, one waits.
    Collector.objects.select_for_update().get(pk=collector.pk)
    owed = Sack.objects.select_for_update(of=("self",)).filter(
        collector=collector, paid_on__isnull=True, amount__gt=0
    )
    if sacks:
        owed = owed.filter(pk__in=[sack.pk for sack in sacks])
    rows = list(owed.select_related("colour").order_by("number"))
    if not rows:
        raise ValidationError(_("Nothing is owed to %(name)s.") % {"name": collector})
    paid_on = timezone.localdate()
    payout = write_payout(collector, rows, person=person, on=paid_on)
    Sack.objects.filter(pk__in=[row.pk for row in rows]).update(paid_on=paid_on, payout=payout)
    moved = exact(payout.total)
    Collector.objects.filter(pk=collector.pk).update(owed=F("owed") - moved, paid=F("paid") + moved)
    return payout


def write_payout(
    collector: Collector, sacks: Sequence[Sack], *, person: Person, on: date
) -> Payout:
    """Number and freeze the slip of what is paid now; call in the transaction that pays it."""
    business = Business.current()
    # A sack paid last week is written down with its own day; its slip is of today.
    issued_on = max(timezone.localdate(), on)
    year, sequence, number = next_number(SERIES, issued_on)
    total = sum((sack.amount for sack in sacks), Decimal(0))
    check_payout(person, total)
    payout = Payout(
        year=year,
        sequence=sequence,
        number=number,
        collector=collector,
        issued_on=issued_on,
        paid_on=on,
        paid_by=person,
        currency=business.currency,
        total=total,
    )
    payout.content = _content(payout, sacks, business)
    payout.save()
    told = {"sacks": [sack.number for sack in sacks], "paid": str(total), "slip": number}
    record_act(person, "pay collector", collector, after=told)
    return payout


def _content(payout: Payout, sacks: Sequence[Sack], business: Business) -> dict[str, Any]:
    return {
        "kind": SERIES,
        "number": payout.number,
        "issued_on": payout.issued_on.isoformat(),
        "paid_on": payout.paid_on.isoformat(),
        **head_of(business),
        "name": payout.collector.name,
        "phone": payout.collector.phone,
        "total": _text(payout.total),
        "lines": [
            {
                "sack": sack.number,
                "on": sack.received_on.isoformat(),
                "colour": str(sack.colour or _("mixed")),
                "net_g": sack.net_g,
                "price": _text(sack.price_per_kg),
                "amount": _text(sack.amount),
            }
            for sack in sacks
        ],
    }


def _text(amount: Decimal) -> str:
    """An exact amount as text: JSON numbers would lose digits."""
    return f"{amount.normalize():f}"
