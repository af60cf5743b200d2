"""In a year with more work than usual, goods never stand at more than they cost.

Sandbar's workshop costs 90.00 a month, 1,080.00 in 2026 (tests/stock/sandbar.py); April's acts took
88.922433 of it. Another 1,000.00 is borne in May, so 8.922433 is borne beyond what it cost.
Source: IAS 2.13.
"""

from datetime import date
from decimal import Decimal as D

import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse

from orders.money.queries.month_account import account_of, excess_of
from stock.models import Balance, ChargeName, ItemKind, Posting, PostingKind
from stock.services.book import post
from stock.services.excess import take_off_excess
from stock.services.moves import Cost
from stock.services.valuing import is_to_be_valued
from tests.stock.sandbar import live_through_april, sandbar, worth

pytestmark = pytest.mark.django_db

YEAR = (date(2026, 1, 1), date(2026, 12, 31))


@pytest.fixture
def place():
    with time_machine.travel("2027-01-04T08:00Z", tick=False):
        place = sandbar()
        live_through_april(place)
        beads = Balance.objects.inside().filter(item__kind=ItemKind.BEADS, value__gt=0).first()
        post(
            PostingKind.ANEW, [], on=date(2026, 5, 4), person=place.person, why="a busy May",
            charges=[
                Cost(ChargeName.WORKSHOP, D(1000), "Moulding", minutes=D(10000), item=beads.item,
                     place=beads.place)
            ],
        )  # fmt: skip
        yield place


def test_the_excess_of_a_year_is_what_was_borne_beyond_what_it_cost(place):
    assert excess_of(account_of(*YEAR)) == D("8.922433")
    assert excess_of(account_of(date(2026, 4, 1), date(2026, 12, 31))) == 0  # no year


def test_a_year_that_is_not_over_has_none_yet(place):
    assert excess_of(account_of(date(2026, 4, 1), date(2027, 4, 1))) == 0


def test_it_is_taken_off_all_goods_by_their_value(place):
    before = {row.pk: row.value for row in Balance.objects.inside().filter(value__gt=0)}
    whole = sum(before.values())
    posting = take_off_excess(D("8.922433"), on=YEAR[1], person=place.person)
    assert sum(charge.amount for charge in posting.charges.all()) == D("-8.922433")
    for row in Balance.objects.filter(pk__in=before):
        share = before[row.pk] * D("8.922433") / whole
        assert abs(before[row.pk] - row.value - share) < D("0.000002")
    assert worth() == whole - D("8.922433")
    assert excess_of(account_of(*YEAR)) == 0
    named = {each.key for line in account_of(*YEAR).account.lines for each in line.named}
    assert "unborne" not in named
    call_command("check_book")
    assert not is_to_be_valued()


def test_the_owner_takes_it_off_from_the_page(place, client):
    client.force_login(place.person)
    days = {"first_day": "2026-01-01", "last_day": "2026-12-31"}
    page = client.get(reverse("orders:month_account"), days).content.decode()
    assert "Take it off the goods" in page and "€8.92" in page
    page = client.post(reverse("orders:year_excess"), days, follow=True).content.decode()
    assert "€8.92 is taken off the goods" in page and "Take it off the goods" not in page
    client.post(reverse("orders:year_excess"), days)
    assert Posting.objects.filter(why__startswith="workshop costs").count() == 1


def test_nothing_is_taken_where_nothing_stands(place):
    Balance.objects.update(value=0)
    assert take_off_excess(D(5), on=YEAR[1], person=place.person) is None
