"""Strands that bring less than they stand at are shown as written down; the book stays at cost.

Sandbar's April (tests/stock/sandbar.py): two bracelets at 7.242018 each at the end of it. Office
and selling 8 %. Source: IAS 2.9 and 28 to 33: the lower of cost and net realisable value.
"""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from orders.models import DesignPrice
from orders.money.queries.lower_value import LowerValue
from orders.money.queries.month_account import account_of
from tests.orders.counter.test_two_floors import shop as shop
from tests.stock.sandbar import april
from workshop.models import Business

pytestmark = pytest.mark.django_db

EACH = D("14.484035") / 2


def price(shop, each: str, on: date, **given) -> None:
    DesignPrice.objects.create(
        design=shop.design, price=D(each), valid_from=on, **({"group": "shop"} | given)
    )


def written(day: date) -> D:
    return sum((row.amount for row in LowerValue(Business.current()).on(day)), D(0))


def goods(first: date, last: date) -> dict[str, D]:
    return {each.key: each.amount for each in account_of(first, last).account.goods}


def test_the_lowest_price_in_force_less_the_office_share_is_what_one_brings(shop):
    price(shop, "9.00", april(1))
    price(shop, "7.00", april(1), group="trader")
    (row,) = LowerValue(Business.current()).on(april(20))
    assert (row.strands, row.brings) == (2, D("7.00") * D("0.92"))
    assert abs(row.amount - 2 * (EACH - D("6.44"))) < D("0.000002")


def test_a_price_that_carries_it_writes_nothing_down(shop):
    price(shop, "9.00", april(1))  # brings 8.28
    assert written(april(20)) == 0


def test_without_a_list_price_nothing_is_known_and_nothing_written_down(shop):
    assert written(april(20)) == 0


def test_it_stands_by_its_name_and_comes_back_when_the_price_does(shop):
    price(shop, "5.00", april(10))
    down = 2 * (EACH - D("4.60"))
    found = goods(april(1), april(15))
    assert abs(found["written"] + down) < D("0.000002")
    assert found["after"] == sum(amount for key, amount in found.items() if key != "after")
    price(shop, "12.00", april(18))
    later = goods(april(16), april(20))
    assert abs(later["written"] - down) < D("0.000002")
    assert later["before"] == found["after"]
    assert later["after"] == found["after"] - found["written"]


def test_what_left_is_written_down_no_more_and_what_was_there_then_still_is(shop):
    """On the 7th eight bracelets lay there, on the 8th six of them were sold."""
    price(shop, "5.00", april(1))
    assert abs(written(april(7)) - 8 * (EACH - D("4.60"))) < D("0.00001")
    assert abs(written(april(8)) - 2 * (EACH - D("4.60"))) < D("0.00001")
    assert written(april(6)) == 0
    assert written(april(1) - timedelta(days=30)) == 0


def test_the_owner_sees_which_design_it_is(shop, client):
    price(shop, "5.00", april(1))
    client.force_login(shop.person)
    days = {"first_day": "2026-04-01", "last_day": "2026-04-20"}
    page = client.get(reverse("orders:month_account"), days).content.decode()
    for words in ("written down to what they bring", "Harbour bracelet", "€7.24", "€4.60", "€5.28"):
        assert words in page
    table = b"".join(client.get(reverse("orders:month_account_csv"), days)).decode()
    assert "written down,Harbour bracelet" in table
