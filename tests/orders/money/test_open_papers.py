"""What a customer owes is found by an index, and is one figure wherever it is told."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from orders.counter.queries import find_customers, standing_of
from orders.home.queries.today import who_owes
from orders.money.queries.accounts import balance_of
from orders.money.services.opening import open_balance
from tests.builders import make_business, make_customer, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def brought_forward():
    """A trader who owed 65 before the book was begun."""
    make_business()
    trader = make_customer()
    open_balance(
        trader,
        Decimal(65),
        person=make_person("owner"),
        due_on=timezone.localdate() - timedelta(days=40),
    )
    return trader


def test_a_balance_brought_forward_is_owed_at_the_counter_too(brought_forward):
    assert balance_of(brought_forward).owed == Decimal(65)
    assert standing_of(brought_forward).owes == Decimal(65)
    assert find_customers(brought_forward.name)[0].owes == Decimal(65)


def test_a_balance_brought_forward_is_late_on_the_owners_home(brought_forward):
    assert [owed.amount for owed in who_owes()] == [Decimal(65)]
