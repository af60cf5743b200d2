"""A sum to pay is told with VAT: on the order's page, on its slip, in the usual deposit.

Source: Directive 2006/112/EC art. 65; the rows VAT-NET of true_cost_checks.csv.
"""

from decimal import Decimal as D

import pytest
from django.urls import reverse

from orders.counter.papers import order_slip_html
from orders.money.queries.accounts import order_money
from orders.money.services.payments import record_payment
from tests.builders import make_person
from tests.costing.checks import agrees, expected
from tests.orders.money.setting import order_of, registered

pytestmark = pytest.mark.django_db


@pytest.fixture
def order():
    """12 × 18.00 and 30 × 6.50 without VAT, 23 %, the smallest coin 0.05."""
    registered(smallest_coin=D("0.05"), deposit_share=D("0.30"))
    order = order_of((12, "18.00"), (30, "6.50"))
    type(order).objects.filter(pk=order.pk).update(total=D(411))
    order.refresh_from_db()
    return order


def test_the_usual_deposit_is_a_share_of_what_is_paid_in_coins(order):
    purse = order_money(order)
    agrees("VAT-NET-TOTAL", purse.asks.total)
    agrees("VAT-COIN", purse.usual_deposit)


def test_slip_and_page_tell_what_is_to_pay_with_vat(order, client):
    record_payment(order.customer, expected("VAT-NET-DEP"), person=None, order=order)
    agrees("VAT-NET-TOPAY", order_money(order).asks.left)
    business = registered(smallest_coin=D("0.05"))
    for roll in (False, True):
        slip = order_slip_html(order, business, roll=roll)
        for amount in ("€411.00", "€94.53", "€505.53", "€151.65", "€353.88"):
            assert amount in slip
        assert "is added on the invoice" not in slip
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "€505.53" in page and "€353.88" in page


def test_a_business_that_is_not_registered_says_no_word_of_vat(client):
    from tests.builders import make_business

    business = make_business()
    slip = order_slip_html(order_of((30, "6.50")), business)
    assert "VAT" not in slip
