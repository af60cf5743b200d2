"""The month's account out of the book: April at Sandbar, worked by hand beside the program."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from orders.models import PaySlip
from orders.money.queries.month_account import account_of
from stock.models import KilnLoad, WorkTicket
from tests.costing.checks import agrees
from tests.stock.sandbar import april, live_through_april, sandbar

pytestmark = pytest.mark.django_db

TICKETS = (("Pounding", 590), ("Moulding", 150), ("Tending", 123), ("Polishing", 30))
TICKETS += (("Stringing", 52), ("Packing", 12))


@pytest.fixture
def place():
    place = sandbar()
    live_through_april(place)
    for step, minutes in TICKETS:
        WorkTicket.objects.create(
            on=april(10), hand=place.person, step_id=step, pieces=1, minutes=minutes
        )
    PaySlip.objects.create(
        sequence=1, number="PAY-1", hand=place.person, first_day=april(1), last_day=april(30),
        paid_on=april(30), currency="EUR", earned=0, top_up=5, total=5, content={},
    )  # fmt: skip
    for number, burnt in ((1, 31), (2, 28)):
        KilnLoad.objects.filter(number=number).update(fuel_used=burnt)
    return place


def named(account) -> dict[str, D]:
    return {each.key: each.amount for line in account.lines for each in line.named}


def test_april_adds_up_out_of_the_book(place):
    account = account_of(april(1), april(30)).account
    spent = {line.key: line.spent for line in account.lines}
    agrees("ST-HANDS", spent["hands"])
    agrees("ST-TOTAL", account.spent)
    agrees("ST-PUT", account.put)
    agrees("ST-NAMED", account.named)
    by_name = named(account)
    agrees("ST-EMPTY", by_name["empty_hands"])
    agrees("ST-EMPTY-FUEL", by_name["empty_fuel"])
    agrees("ST-EMPTY-WEAR", by_name["empty_wear"])
    agrees("ST-MORE", by_name["more_minutes"])
    agrees("ST-BURNED", by_name["burned"])
    agrees("ST-IDLE", by_name["unborne"])
    goods = {each.key: each.amount for each in account.goods}
    agrees("ST-GOODS", goods["after"])
    assert goods["before"] == 0


def test_the_days_before_and_after_join_on(place):
    march = account_of(date(2026, 3, 1), date(2026, 3, 31)).account
    may = account_of(date(2026, 5, 1), date(2026, 5, 31)).account
    assert march.goods[-1].amount == 0
    assert may.goods[0].amount == may.goods[-1].amount == D("198.565451")


def test_a_spoiled_load_stands_by_its_name(place):
    KilnLoad.objects.filter(number=2).update(state="spoiled")
    by_name = named(account_of(april(1), april(30)).account)
    assert by_name["spoiled_hands"] == D("9.075")
    assert by_name["spoiled_fuel"] == D("4.20")


def test_the_number_of_queries_does_not_grow(place, django_assert_max_num_queries):
    with django_assert_max_num_queries(36):
        account_of(april(1), april(30))


def test_the_owner_reads_it_on_a_page_on_paper_and_as_a_table(place, client):
    client.force_login(place.person)
    days = {"first_day": "2026-04-01", "last_day": "2026-04-30"}
    page = client.get(reverse("orders:month_account"), days).content.decode()
    for amount in ("€283.44", "€242.93", "€40.51", "€198.57", "no work has borne it"):
        assert amount in page
    assert "not over" not in page
    table = b"".join(client.get(reverse("orders:month_account_csv"), days)).decode()
    assert "283.440000" in table and "198.565451" in table
    assert client.get(reverse("orders:month_account_pdf"), days).content[:5] == b"%PDF-"
    assert "Pounding" in client.get(reverse("orders:month_tickets"), days).content.decode()
    assert "load 2" in client.get(reverse("orders:month_loads"), days).content.decode()


def test_a_month_that_is_not_over_is_marked_so(place, client):
    client.force_login(place.person)
    today = date.today()
    days = {"first_day": f"{today - timedelta(days=3)}", "last_day": f"{today}"}
    page = client.get(reverse("orders:month_account"), days).content.decode()
    assert "These days are not over" in page


def test_nobody_but_the_owner_reads_it(place, client):
    from tests.builders import make_person

    client.force_login(make_person("counter"))
    assert client.get(reverse("orders:month_account")).status_code == 404
