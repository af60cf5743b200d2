"""Money in and out: deposits, coins, overpayment, laying on, giving back, taking back."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from orders.models import Payment
from orders.money.queries.accounts import balance_of, credit_warning
from orders.money.services.drawers import count_drawer, through_drawer
from orders.money.services.papers import issue_credit_note, issue_invoice
from orders.money.services.payments import (
    PaymentDetails,
    allocate,
    allocate_oldest_first,
    e164,
    record_payment,
    refund,
    reverse_payment,
    standing_shares,
    undo_share,
)
from tests.builders import make_business
from tests.orders.money.setting import order_of, registered, trader

pytestmark = pytest.mark.django_db


def invoice(strands: int, price: str, **given):
    return issue_invoice(order_of((strands, price), **given), person=None)


def test_cash_is_rounded_to_the_smallest_coin_and_the_difference_is_booked_apart():
    # EN 16931 worked by hand: three lines of 0.33 at 19 % are 1.18; in 5-cent coins 1.20 is paid.
    make_business(smallest_coin=Decimal("0.05"))
    paper = invoice(1, "1.18")
    paid = record_payment(paper.customer, Decimal("1.18"), person=None)
    assert (paid.amount, paid.rounding, paid.handed_over) == (
        Decimal("1.18"),
        Decimal("0.02"),
        Decimal("1.20"),
    )
    paper.refresh_from_db()
    assert paper.is_settled


def test_coins_handed_over_for_an_odd_debt_pay_it_and_make_no_credit():
    make_business(smallest_coin=Decimal("0.05"))
    paper = invoice(1, "1.18")
    paid = record_payment(paper.customer, Decimal("1.20"), person=None)
    assert (paid.amount, paid.rounding, paid.unused) == (Decimal("1.18"), Decimal("0.02"), 0)


def test_a_bank_transfer_is_never_rounded():
    make_business(smallest_coin=Decimal("0.05"))
    paper = invoice(1, "1.18")
    paid = record_payment(paper.customer, Decimal("1.18"), person=None, way=PaymentDetails("bank"))
    assert paid.rounding == 0


@pytest.mark.parametrize(
    ("currency", "coin", "price", "handed"),
    [
        ("JPY", "1", "1180", "1180"),
        ("TND", "0.005", "1.182", "1.180"),
        ("EUR", "0.01", "1.18", "1.18"),
    ],
)
def test_currencies_of_0_2_and_3_decimals_are_paid(currency, coin, price, handed):
    make_business(currency=currency, smallest_coin=Decimal(coin))
    paper = invoice(1, price)
    paid = record_payment(paper.customer, paper.total, person=None)
    assert paid.handed_over == Decimal(handed)
    assert balance_of(paper.customer).balance == 0


def test_more_than_is_owed_becomes_credit_and_never_a_negative_invoice():
    make_business()
    paper = invoice(3, "6.50")
    paid = record_payment(paper.customer, Decimal(25), person=None)
    assert paid.unused == Decimal("5.50")
    assert balance_of(paper.customer).balance == Decimal("-5.50")


def test_money_goes_to_the_oldest_invoice_first():
    make_business()
    old, new = invoice(1, "10"), invoice(1, "10")
    record_payment(old.customer, Decimal(12), person=None)
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.open_amount, new.open_amount) == (0, 8)


def test_money_may_be_laid_by_hand_on_the_newer_one():
    make_business()
    old, new = invoice(1, "10"), invoice(1, "10")
    record_payment(old.customer, Decimal(10), person=None, papers=[(new, Decimal(10))])
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.open_amount, new.open_amount) == (10, 0)


def test_no_more_can_be_laid_on_an_invoice_than_is_open():
    make_business()
    paper = invoice(1, "10")
    with pytest.raises(ValidationError, match="Only €10.00 of INV-.* is open"):
        record_payment(paper.customer, Decimal(15), person=None, papers=[(paper, Decimal(15))])
    assert not Payment.objects.exists()


def test_money_of_one_customer_cannot_pay_another_ones_invoice():
    make_business()
    paper = invoice(1, "10")
    other = trader("Tomas Keel")
    with pytest.raises(ValidationError, match="belongs to another customer"):
        record_payment(other, Decimal(10), person=None, papers=[(paper, Decimal(10))])


def test_a_deposit_waits_for_its_own_order():
    make_business()
    waiting, other = order_of((1, "10")), order_of((1, "20"))
    record_payment(waiting.customer, Decimal(5), person=None, order=waiting)
    paper = issue_invoice(other, person=None)
    allocate_oldest_first(waiting.customer, person=None)
    paper.refresh_from_db()
    assert paper.open_amount == 20
    assert issue_invoice(waiting, person=None).open_amount == 5


def test_a_deposit_above_the_invoice_leaves_the_rest_as_credit():
    make_business()
    order = order_of((1, "10"))
    record_payment(order.customer, Decimal(30), person=None, order=order)
    assert issue_invoice(order, person=None).is_settled
    assert balance_of(order.customer).credit == 20


def test_credit_can_be_given_back_and_no_more():
    make_business()
    order = order_of((1, "10"))
    record_payment(order.customer, Decimal(30), person=None, order=order)
    issue_invoice(order, person=None)
    with pytest.raises(ValidationError, match="Only €20.00 of credit is there"):
        refund(order.customer, Decimal(21), person=None)
    refund(order.customer, Decimal(20), person=None)
    assert balance_of(order.customer).balance == 0


def test_a_bounced_transfer_opens_the_invoice_again():
    make_business()
    paper = invoice(1, "10")
    paid = record_payment(paper.customer, Decimal(10), person=None, way=PaymentDetails("bank"))
    reverse_payment(paid, person=None, reason="Bounced")
    paper.refresh_from_db()
    assert paper.open_amount == 10
    assert balance_of(paper.customer).balance == 10
    with pytest.raises(ValidationError, match="taken back before"):
        reverse_payment(paid, person=None, reason="Again")


def test_money_laid_on_the_wrong_invoice_is_taken_off_and_laid_anew():
    make_business()
    old, new = invoice(1, "10"), invoice(1, "10")
    paid = record_payment(old.customer, Decimal(10), person=None)
    undo_share(standing_shares(paid)[0], person=None)
    paid.refresh_from_db()
    allocate(paid, [(new, Decimal(10))], person=None)
    old.refresh_from_db()
    new.refresh_from_db()
    assert (old.open_amount, new.open_amount) == (10, 0)


def test_a_drawer_holds_coins_and_a_difference_is_written_down():
    make_business(smallest_coin=Decimal("0.05"))
    paper = invoice(1, "1.18")
    record_payment(
        paper.customer, Decimal("1.18"), person=None, way=PaymentDetails("cash", drawer="Counter")
    )
    record_payment(paper.customer, Decimal(7), person=None, way=PaymentDetails("bank"))
    assert through_drawer("Counter", paper.issued_on) == (Decimal("1.20"), 0)
    count = count_drawer("Counter", Decimal("51.00"), person=None, float_left=Decimal(50))
    assert (count.expected, count.difference) == (Decimal("51.20"), Decimal("-0.20"))


def test_a_warning_comes_when_the_limit_would_be_passed():
    registered()
    customer = trader(credit_limit=Decimal(100))
    invoice(1, "70", customer=customer)  # 86.10 with 23 %
    assert credit_warning(customer, Decimal("13.90")) == ""
    warning = credit_warning(customer, Decimal("13.91"))
    assert "owes €86.10 and may owe up to €100.00" in warning
    assert credit_warning(trader("No limit"), Decimal(10_000)) == ""


@pytest.mark.parametrize(
    ("typed", "country", "stored"),
    [
        # E.164 forms; parsed by the phonenumbers library, 9.0 line.
        ("0712 345678", "KE", "+254712345678"),
        ("+44 20 7946 0018", "", "+442079460018"),
        ("(201) 555-0123", "US", "+12015550123"),
    ],
)
def test_telephone_numbers_are_kept_as_e164(typed, country, stored):
    assert e164(typed, country) == stored


def test_a_credit_note_pays_what_is_open_and_the_rest_is_credit():
    make_business()
    paper = invoice(3, "6.50")
    record_payment(paper.customer, Decimal(15), person=None)
    note = issue_credit_note(paper, person=None, reason="Came back")
    paper.refresh_from_db()
    assert paper.is_settled
    # 19.50 credited: 4.50 closes the invoice, 15.00 is the customer's.
    assert note.open_amount == Decimal(15)
    assert balance_of(paper.customer).balance == Decimal(-15)


def test_the_deposit_of_a_cancelled_order_can_pay_another_invoice():
    make_business()
    dropped, other = order_of((1, "10")), order_of((1, "20"))
    record_payment(dropped.customer, Decimal(5), person=None, order=dropped)
    type(dropped).objects.filter(pk=dropped.pk).update(state="cancelled")
    paper = issue_invoice(other, person=None)
    assert allocate_oldest_first(dropped.customer, person=None) == 5
    paper.refresh_from_db()
    assert paper.open_amount == 15


def test_money_that_came_in_last_week_is_booked_with_its_own_day():
    make_business()
    paper = invoice(1, "10")
    record_payment(paper.customer, Decimal(2), person=None)
    last_week = paper.issued_on - timedelta(days=7)
    paid = record_payment(
        paper.customer, Decimal(3), person=None, way=PaymentDetails("bank"), on=last_week
    )
    assert paid.on == last_week
    assert paid.paper.issued_on == paper.issued_on
    assert paid.paper.content["payment"]["on"] == last_week.isoformat()
