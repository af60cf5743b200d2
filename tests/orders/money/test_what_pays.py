"""What pays: margins on full cost out of the book, sellers, and what lies too long.

Sandbar's April (tests/stock/sandbar.py): two bracelets lie strung at 14.484035 together. Packing is
12 × 1.10 min at 0.15; office and selling 8 %.
"""

from datetime import date
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders.counter.services.collecting import collect_order
from orders.counter.services.ordering import confirm_order, draft_order
from orders.models import WantedLine
from orders.money.queries.what_pays import what_pays
from tests.builders import make_customer, make_person
from tests.orders.counter.test_two_floors import shop as shop

pytestmark = pytest.mark.django_db

TODAY = date(2026, 4, 20)
APRIL = (date(2026, 4, 1), date(2026, 4, 30))
# (14.484035 + 13.2 × 0.15) × 1.08
FULL = D("17.781158")


def sold(shop, strands: int, price: str, customer=None):
    order = draft_order(
        customer or make_customer(), [WantedLine(shop.design.pk, strands, D(price))],
        person=shop.counter,
    )  # fmt: skip
    confirm_order(order, person=shop.person, owner_word="to see them go")
    order.refresh_from_db()
    return collect_order(order, person=shop.counter)


def asked(**given):
    first, last = given.pop("days", APRIL)
    return what_pays(first, last, longer=given.pop("longer", 90), today=TODAY)


def test_an_order_that_left_is_held_against_what_it_stood_at_in_the_book(shop):
    sold(shop, 2, "12.00")
    found = asked()
    for rows in (found.by_design, found.by_customer, found.by_month, [found.whole]):
        (row,) = rows
        assert (row.strands, row.brought) == (2, D("24.00"))
        assert abs(row.cost - FULL) < D("0.000002")
        assert abs(row.margin - (1 - FULL / 24)) < D("0.000002")
    assert found.by_design[0].name == "Harbour bracelet"
    assert found.by_customer[0].name == "Marisa Orlo"
    assert found.by_month[0].key == date(2026, 4, 1)


def test_what_brings_less_than_its_full_cost_stands_last(shop):
    sold(shop, 1, "5.00", make_customer("Quay stall"))
    sold(shop, 1, "20.00", make_customer("Marisa Orlo"))
    found = asked()
    assert [row.name for row in found.by_customer] == ["Marisa Orlo", "Quay stall"]
    assert found.by_customer[1].left < 0
    assert found.whole.strands == 2
    assert found.whole.left == sum(row.left for row in found.by_customer)


def test_only_the_days_asked_for_count(shop):
    sold(shop, 2, "12.00")
    march = asked(days=(date(2026, 3, 1), date(2026, 3, 31)))
    assert march.by_design == [] and march.whole.strands == 0
    assert march.whole.margin is None


def test_designs_are_told_by_how_many_left_and_how_many_lie_ready(shop):
    before = asked().sellers
    assert [(each.strands, each.ready) for each in before] == [(0, 2)]
    sold(shop, 1, "12.00")
    assert [(each.strands, each.ready) for each in asked().sellers] == [(1, 1)]


def test_goods_lie_too_long_by_the_day_they_came(shop):
    """Beads were sorted on the 6th and strung on the 7th; the powder is of the 2nd."""
    names = {each.name for each in asked(longer=1).lying}
    assert any("bracelet" in name for name in names)
    assert asked(longer=30).lying == []
    # longer than 13 days: since the 7th; the bracelets of the 7th have not lain that long
    since_the_7th = {each.name: each for each in asked(longer=13).lying}
    assert not any("bracelet" in name for name in since_the_7th)
    powder = next(each for name, each in since_the_7th.items() if "powder" in name)
    assert (powder.quantity, powder.value) == (16_940_000, D("144.072468"))


def test_the_owner_reads_it_as_bars_lists_and_a_table(shop, client):
    sold(shop, 2, "12.00")
    client.force_login(shop.person)
    days = {"first_day": "2026-04-01", "last_day": "2026-04-30", "longer": "5"}
    page = client.get(reverse("orders:what_pays"), days).content.decode()
    for words in ("€24.00", "€17.78", "25.9", "Harbour bracelet", "Marisa Orlo", "sd-bar", "April"):
        assert words in page
    table = b"".join(client.get(reverse("orders:what_pays_csv"), days)).decode()
    assert "design,Harbour bracelet,2,24" in table and "lies longer" in table


def test_days_the_wrong_way_round_are_said_and_nothing_is_lost(shop, client):
    client.force_login(shop.person)
    days = {"first_day": "2026-04-30", "last_day": "2026-04-01", "longer": "0"}
    page = client.get(reverse("orders:what_pays"), days).content.decode()
    assert "The first day lies after the last" in page or "greater than or equal to 1" in page
    assert 'value="2026-04-30"' in page


def test_nobody_but_the_owner_reads_it(shop, client):
    client.force_login(make_person("counter"))
    assert client.get(reverse("orders:what_pays")).status_code == 404
    assert client.get(reverse("orders:what_pays_csv")).status_code == 404


def test_the_book_is_asked_as_often_however_much_was_sold(shop, client):
    client.force_login(shop.person)
    address = reverse("orders:what_pays")
    sold(shop, 1, "12.00", make_customer("One"))
    client.get(address)
    with CaptureQueriesContext(connection) as one:
        client.get(address)
    sold(shop, 1, "12.00", make_customer("Two"))
    with CaptureQueriesContext(connection) as two:
        client.get(address)
    assert len(one) == len(two)
