"""Paying the hands: dated rates, the agreed least, each ticket once."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.models import PayFloor, PaySlip
from orders.money.papers.files import slip_pdf
from orders.money.services.pay import pay_due, pay_hand
from stock.models import WorkTicket
from stock.services.preparation import prepare_glass, raw_of, ready
from tests.builders import make_business, make_colour, make_person, put_glass
from workshop.models import LabourRate

pytestmark = pytest.mark.django_db
MONDAY, FRIDAY = date(2026, 3, 2), date(2026, 3, 6)


def rate(step: str = "Stringing", **given):
    usual = {"skill": "stringing", "basis": "strand", "minutes_each": 5, "hourly": Decimal(12)}
    return LabourRate.objects.create(
        **{"step_id": step, "valid_from": date(2026, 1, 1)} | usual | given
    )


def ticket(hand, on: date = MONDAY, **given):
    return WorkTicket.objects.create(**{"hand": hand, "on": on, "step_id": "Stringing"} | given)


def test_piece_pay_is_made_up_to_the_agreed_hourly_least():
    # 90 pieces × 1.10 = 99.00; 8 h × 12.50 = 100.00; the greater is paid (common practice).
    make_business()
    hand = make_person("bench")
    rate(piece=Decimal("1.10"))
    PayFloor.objects.create(hourly=Decimal("12.50"), valid_from=date(2026, 1, 1))
    ticket(hand, pieces=90, minutes=480)
    pay = pay_due(hand, MONDAY, FRIDAY)
    assert (pay.earned, pay.top_up, pay.total) == (Decimal(99), Decimal(1), Decimal(100))


def test_the_least_is_taken_over_all_the_days_paid_not_day_by_day():
    make_business()
    hand = make_person("bench")
    rate(piece=Decimal("1.10"))
    PayFloor.objects.create(hourly=Decimal("12.50"), valid_from=date(2026, 1, 1))
    ticket(hand, MONDAY, pieces=90, minutes=480)  # 99.00 of 100.00
    ticket(hand, FRIDAY, pieces=100, minutes=480)  # 110.00 of 100.00
    assert pay_due(hand, MONDAY, FRIDAY).top_up == 0


def test_a_hands_own_least_goes_before_everybodys():
    make_business()
    hand = make_person("bench")
    rate(piece=Decimal("0"))
    PayFloor.objects.create(hourly=Decimal("10"), valid_from=date(2026, 2, 1))
    PayFloor.objects.create(hand=hand, hourly=Decimal("15"), valid_from=date(2026, 1, 1))
    ticket(hand, minutes=120)
    assert pay_due(hand, MONDAY, FRIDAY).total == Decimal(30)


def test_work_is_paid_at_the_rate_of_its_day():
    make_business()
    hand = make_person("bench")
    rate(hourly=Decimal(12))
    rate(hourly=Decimal(15), valid_from=date(2026, 3, 4))
    ticket(hand, MONDAY, minutes=60)
    ticket(hand, FRIDAY, minutes=60)
    assert [line.amount for line in pay_due(hand, MONDAY, FRIDAY).lines] == [12, 15]


def test_a_ticket_is_paid_once():
    make_business()
    hand = make_person("bench")
    rate()
    ticket(hand, minutes=60)
    assert pay_hand(hand, MONDAY, FRIDAY, person=None).total == Decimal(12)
    with pytest.raises(ValidationError, match="has no unpaid work"):
        pay_hand(hand, MONDAY, FRIDAY, person=None)
    assert PaySlip.objects.count() == 1


def test_work_without_a_rate_is_not_paid_by_guess():
    make_business()
    hand = make_person("bench")
    ticket(hand, minutes=60)
    with pytest.raises(ValidationError, match="Stringing has no labour rate"):
        pay_due(hand, MONDAY, FRIDAY)


@pytest.mark.papers
def test_the_slip_is_printed_once_and_kept():
    make_business()
    hand = make_person("bench")
    rate(piece=Decimal("0.035"))
    ticket(hand, pieces=1000, minutes=60)
    slip = pay_hand(hand, MONDAY, FRIDAY, person=None)
    assert slip_pdf(slip) == slip_pdf(PaySlip.objects.get())


def test_only_the_owner_pays(client):
    make_business()
    hand = make_person("bench")
    rate()
    ticket(hand, minutes=60)
    for role, status in (("counter", 404), ("bench", 404), ("owner", 200)):
        client.force_login(make_person(role))
        assert client.get(reverse("orders:pay")).status_code == status
        assert client.get(reverse("orders:pay_one", args=[hand.pk])).status_code == status
    answer = client.post(
        reverse("orders:pay_one", args=[hand.pk]),
        {"first_day": "2026-03-01", "last_day": "2026-03-31", "in_cash": "on"},
    )
    assert answer.url == reverse("orders:pay_slip", args=[PaySlip.objects.get().pk])


def test_the_minutes_of_preparing_are_paid_by_the_steps_they_were_spent_on():
    """61 minutes over washing at 9 and grinding at 20 a kilogram: 61 × 9/29 = 18.93 and 42.07, so
    19 and 42; at 6.00 and 12.00 an hour 1.90 and 8.40 (largest remainders, worked by hand)."""
    make_business()
    hand, owner, green = make_person("yard"), make_person("owner"), make_colour()
    for step, minutes, hourly in (("Washing", 9, 6), ("Grinding", 20, 12)):
        rate(step, skill="preparing", basis="kg", minutes_each=minutes, hourly=Decimal(hourly))
    rate("Breaking", skill="preparing", basis="kg", minutes_each=8, form="chunks")
    put_glass(green, "raw", 5)
    prepare_glass(
        [raw_of(green, 4_000_000)], [ready(green, "powder", 3_400_000)], form="powder",
        person=owner, hand=hand, on=MONDAY, minutes=61,
    )  # fmt: skip
    lines = pay_due(hand, MONDAY, FRIDAY).lines
    assert [(each.ticket.step_id, each.ticket.minutes, each.amount) for each in lines] == [
        ("Washing", 19, Decimal("1.90")), ("Grinding", 42, Decimal("8.40")),
    ]  # fmt: skip
    assert {each.ticket.pieces for each in lines} == {3}  # whole kilograms
    assert not pay_due(owner, MONDAY, FRIDAY).lines
