"""What is known of customers and collectors is kept in the act that changes it."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from orders.counter.services.ordering import cancel_order
from orders.models import Customer
from orders.money.services.invoices import issue_invoice
from orders.money.services.payments import record_payment, refund
from stock.models import Collector
from stock.services.payouts import pay_collector
from stock.services.sacks import weigh_in_sack
from stock.services.undo import take_back
from tests.builders import (
    make_business,
    make_collector,
    make_colour,
    make_customer,
    make_kiln,
    make_order,
    make_person,
    make_rate,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_business(), make_kiln(), make_rate()
    return make_person("owner")


def kept(customer: Customer) -> tuple:
    customer.refresh_from_db()
    return customer.owes, customer.credit, customer.orders_taken


def test_owed_and_credit_follow_invoice_payment_and_refund(owner):
    customer = make_customer()
    order = make_order(3, customer=customer)
    assert kept(customer) == (0, 0, 1) and customer.last_on == timezone.localdate()
    invoice = issue_invoice(order, person=owner)
    assert kept(customer) == (invoice.total, 0, 1)
    # Ten more than is asked for: the invoice is paid, ten is credit.
    record_payment(customer, invoice.total + 10, person=owner, papers=[(invoice, invoice.total)])
    assert kept(customer) == (0, 10, 1)
    refund(customer, Decimal(4), person=owner)
    assert kept(customer) == (0, 6, 1)
    call_command("check_book", verbosity=0)


def test_an_order_called_off_was_never_taken(owner):
    customer = make_customer()
    cancel_order(make_order(customer=customer), person=owner)
    assert kept(customer) == (0, 0, 0) and customer.last_on is None
    call_command("check_book", verbosity=0)


def test_writing_down_a_telephone_number_leaves_the_sums_as_they_are(owner):
    stale = make_customer()
    issue_invoice(make_order(customer=stale), person=owner)
    stale.phone = "0470 00007"  # read before the invoice was issued, saved after
    stale.save()
    assert kept(stale)[0] > 0 and stale.phone == "0470 00007"
    call_command("check_book", verbosity=0)


def test_a_collectors_account_follows_sacks_paid_owed_and_taken_back(owner):
    collector, green = make_collector(), make_colour(price_per_kg=Decimal("0.40"))

    def sums() -> tuple:
        collector.refresh_from_db()
        return collector.brought, collector.owed, collector.paid, collector.last_on

    def weigh(on: date, grams: int, **more):
        given = {"gross_g": grams, "dirt_share": Decimal(0), "received_on": on, **more}
        return weigh_in_sack(collector, colour=green, person=owner, **given)

    first, second = date(2026, 3, 2), date(2026, 3, 9)
    weigh(first, 5_000, paid=True)  # 5 kg × 0.40 = 2.00
    weigh(second, 10_000)  # 10 kg × 0.40 = 4.00
    assert sums() == (2, 4, 2, second)
    pay_collector(collector, person=owner)
    assert sums() == (2, 0, 6, second)
    twice = weigh(date(2026, 3, 12), 2_500)
    assert sums() == (3, 1, 6, date(2026, 3, 12))
    take_back(twice.posting, person=owner, why="weighed in twice")
    assert sums() == (2, 0, 6, second)
    call_command("check_book", verbosity=0)


@pytest.mark.parametrize("model", [Customer, Collector])
def test_a_sum_that_is_off_is_named(owner, model):
    make_customer(), make_collector()
    model.objects.update(**{"owes" if model is Customer else "owed": 5})
    with pytest.raises(CommandError, match="owe"):
        call_command("check_book", verbosity=0)
