"""Quotes: prices that stand for some days, with their working kept."""

from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.models import Document, Order
from orders.money.services.quotes import issue_quote, quote_stands, quote_working
from tests.builders import make_business, make_kiln, make_person
from tests.orders.money.setting import order_of, registered

pytestmark = pytest.mark.django_db


def test_a_quote_takes_no_invoice_number_and_owes_nothing():
    registered()
    order = order_of((30, "6.50"), state="draft")
    quote = issue_quote(order, person=None)
    assert quote.number.startswith("Q-")
    assert quote.total == Decimal("239.85")  # 195.00 and 23 % of it
    assert not Document.objects.owing().exists()
    order.refresh_from_db()
    assert order.state == Order.State.QUOTED


def test_its_prices_stand_to_the_last_day_and_no_longer():
    make_business(quote_days=30)
    with time_machine.travel("2026-01-31 12:00", tick=False):
        quote = issue_quote(order_of((1, "6.50"), state="draft"), person=None)
    assert quote.due_on.isoformat() == "2026-03-02"  # 31 January and 30 days
    assert quote_stands(quote, quote.due_on)
    assert not quote_stands(quote, timezone.localdate().replace(year=2027))


def test_the_working_is_kept_as_it_was_that_day():
    make_business()
    make_kiln()
    quote = issue_quote(order_of((30, "6.50"), state="draft"), person=None)
    kept = quote_working(quote)
    assert kept is not None
    make_business(margin=Decimal("0.9"), overhead=Decimal("0.9"))
    assert quote_working(Document.objects.get(pk=quote.pk)) == kept


def test_a_confirmed_order_is_not_quoted_any_more():
    make_business()
    with pytest.raises(ValidationError, match="only an order not yet confirmed can be quoted"):
        issue_quote(order_of((1, "6.50")), person=None)


def test_an_order_without_lines_has_nothing_to_quote():
    make_business()
    with pytest.raises(ValidationError, match="has no lines"):
        issue_quote(order_of(state="draft"), person=None)


@pytest.mark.papers
def test_the_page_offers_the_paper_and_its_working(client):
    make_business()
    make_kiln()
    order = order_of((30, "6.50"), state="draft")
    client.force_login(make_person("counter"))
    answer = client.post(reverse("orders:quote_issue", args=[order.number]))
    quote = Document.objects.get()
    assert answer.url == reverse("orders:paper", args=[quote.pk])
    working = reverse("orders:paper_working", args=[quote.pk])
    assert working in client.get(answer.url).content.decode()
    assert client.get(working)["Content-Type"] == "application/pdf"
