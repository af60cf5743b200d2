"""Paying the hands: piece or hourly pay from logged work, never below the agreed least."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import PaidWork, PayFloor, PaySlip
from orders.money.queries import snapshot
from orders.money.services.paper_numbers import next_paper_number
from orders.papers.pages import price
from stock.models import WorkTicket
from stock.services.standards import StandardsOfDays
from workshop.formats import date_short
from workshop.letterhead import language_of, party_of
from workshop.models import Business, Person
from workshop.money import ZERO, round_half_up
from workshop.services.acts import record_act

MINUTES = Decimal(60)


@dataclass(frozen=True)
class PayLine:
    """One ticket and what it earns: pieces × rate, or minutes at the hourly rate of its day."""

    ticket: WorkTicket
    by_piece: bool
    rate: Decimal
    amount: Decimal

    @property
    def rate_words(self) -> str:
        return price(self.rate, Business.in_force().currency)


@dataclass(frozen=True)
class Pay:
    """What a hand has earned in some days and is not paid yet."""

    hand: Person
    first_day: date
    last_day: date
    lines: tuple[PayLine, ...]
    minutes: int
    least: Decimal

    @property
    def earned(self) -> Decimal:
        return sum((line.amount for line in self.lines), ZERO)

    @property
    def top_up(self) -> Decimal:
        return max(ZERO, self.least - self.earned)

    @property
    def total(self) -> Decimal:
        return self.earned + self.top_up


def pay_due(hand: Person, first_day: date, last_day: date) -> Pay:
    """Reckon a hand's unpaid tickets of some days (8 queries).

    Pay uses the rate that held on the day of the work. The agreed least holds for the whole
    period: hours × least, and what piece pay lacks is added. Rejected pieces are not paid by the
    piece, but their minutes count toward the least (common practice, no source).
    """
    business = Business.current()
    tickets = list(
        WorkTicket.objects.filter(hand=hand, on__range=(first_day, last_day), paid=False)
        .select_related("bead")
        .order_by("on", "id")
    )
    standards = StandardsOfDays()
    floors = list(
        PayFloor.objects.filter(Q(hand=hand) | Q(hand=None), valid_from__lte=last_day).order_by(
            "-valid_from"
        )
    )
    lines = tuple(_line(ticket, standards, business) for ticket in tickets)
    least = sum(
        (Decimal(ticket.minutes) / MINUTES * _least(ticket, floors) for ticket in tickets), ZERO
    )
    return Pay(
        hand,
        first_day,
        last_day,
        lines,
        sum(ticket.minutes for ticket in tickets),
        round_half_up(least, business.currency),
    )


@transaction.atomic
def pay_hand(
    hand: Person,
    first_day: date,
    last_day: date,
    *,
    person: Person | None,
    in_cash: bool = True,
    drawer: str = "",
    on: date | None = None,
) -> PaySlip:
    """Pay what is due and write the slip; a ticket is paid once."""
    business = Business.current()
    on = on or timezone.localdate()
    Person.objects.select_for_update().get(pk=hand.pk)
    pay = pay_due(hand, first_day, last_day)
    if not pay.lines:
        raise ValidationError(
            _("%(name)s has no unpaid work from %(first)s to %(last)s. Choose other days.")
            % {"name": hand, "first": date_short(first_day), "last": date_short(last_day)}
        )
    year, sequence, number = next_paper_number("pay", on)
    slip = PaySlip.objects.create(
        year=year,
        sequence=sequence,
        number=number,
        hand=hand,
        first_day=first_day,
        last_day=last_day,
        paid_on=on,
        paid_by=person,
        currency=business.currency,
        earned=pay.earned,
        top_up=pay.top_up,
        total=pay.total,
        in_cash=in_cash,
        drawer=drawer,
        content=_content(pay, business, number, on),
    )
    PaidWork.objects.bulk_create(
        PaidWork(slip=slip, ticket=line.ticket, amount=line.amount) for line in pay.lines
    )
    WorkTicket.objects.filter(pk__in=[line.ticket.pk for line in pay.lines]).update(paid=True)
    record_act(person, "pay hand", slip, after={"total": str(slip.total), "to": str(hand)})
    return slip


def _line(ticket: WorkTicket, standards: StandardsOfDays, business: Business) -> PayLine:
    earned = standards.on(ticket.on).earned(ticket)
    if earned is None:
        raise ValidationError(
            _("%(step)s has no labour rate on %(day)s. Write the rate under Workshop, then pay.")
            % {"step": ticket.step_id, "day": date_short(ticket.on)}
        )
    rate, paid_at, amount = earned
    return PayLine(
        ticket, rate.piece is not None, paid_at, round_half_up(amount, business.currency)
    )


def _least(ticket: WorkTicket, floors: Sequence[PayFloor]) -> Decimal:
    held = [floor for floor in floors if floor.valid_from <= ticket.on]
    own = next((floor for floor in held if floor.hand_id), None)
    found = own or next(iter(held), None)
    return found.hourly if found else ZERO


def _content(pay: Pay, business: Business, number: str, on: date) -> dict:
    return {
        "kind": "pay",
        "number": number,
        "issued_on": on.isoformat(),
        "currency": business.currency,
        "language": language_of(business, pay.hand),
        "country": business.country,
        "paper_size": business.paper_size,
        "seller": party_of(business),
        "name": str(pay.hand),
        "first_day": pay.first_day.isoformat(),
        "last_day": pay.last_day.isoformat(),
        "minutes": pay.minutes,
        "least": snapshot.text(pay.least),
        "earned": snapshot.text(pay.earned),
        "top_up": snapshot.text(pay.top_up),
        "total": snapshot.text(pay.total),
        "lines": [
            {
                "on": line.ticket.on.isoformat(),
                "step": line.ticket.step_id,
                "bead": str(line.ticket.bead or ""),
                "pieces": line.ticket.pieces,
                "rejected": line.ticket.rejected,
                "minutes": line.ticket.minutes,
                "by_piece": line.by_piece,
                "rate": snapshot.text(line.rate),
                "amount": snapshot.text(line.amount),
            }
            for line in pay.lines
        ],
    }
