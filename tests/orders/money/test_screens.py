"""The money screens: every act works, is refused in whole sentences, and keeps what was typed."""

from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import Document, Order, Payment
from orders.money.services.papers import issue_invoice
from orders.money.services.payments import record_payment
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, registered, trader

pytestmark = pytest.mark.django_db


@pytest.fixture
def counter(client):
    make_business()
    client.force_login(make_person("counter"))
    return client


def take(client, what: str, **said):
    said = {"method": "cash", "lay_on": "oldest", "on": "2026-11-20"} | said
    return client.post(f"{reverse('orders:payment_take')}?{what}", said)


def test_an_order_is_invoiced_from_its_page(counter):
    order = order_of((30, "6.50"))
    page = counter.get(reverse("orders:invoice_issue", args=[order.number]))
    assert "€195.00" in page.content.decode()
    answer = counter.post(
        reverse("orders:invoice_issue", args=[order.number]), {"supplied_on": "2026-11-25"}
    )
    paper = Document.objects.get()
    assert answer.url == reverse("orders:paper", args=[paper.pk])
    assert paper.total == Decimal(195)


def test_an_order_invoiced_before_is_not_offered_again(counter):
    order = order_of((30, "6.50"))
    issue_invoice(order, person=None)
    page = counter.get(reverse("orders:invoice_issue", args=[order.number])).content.decode()
    assert "charged already on invoice" in page
    assert "Issue the invoice" not in page


def test_a_discount_above_the_goods_is_refused_and_kept(counter):
    order = order_of((1, "6.50"))
    answer = counter.post(
        reverse("orders:invoice_issue", args=[order.number]),
        {"supplied_on": "2026-11-25", "discount": "7.00"},
    )
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "more than the goods it is taken from" in page
    assert 'value="7.00"' in page
    assert not Document.objects.exists()


def test_a_deposit_is_taken_on_an_order(counter):
    order = order_of((30, "6.50"))
    answer = take(counter, f"order={order.number}", amount="50", lay_on="order")
    paid = Payment.objects.get()
    assert answer.url == reverse("orders:payment", args=[paid.pk])
    assert (paid.order, paid.unused) == (order, Decimal(50))


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"amount": "0"}, "Write an amount above 0."),
        ({"amount": "-5"}, "Write an amount above 0."),
        ({"amount": "1.234"}, "EUR has 2 decimals"),
        ({"amount": "many"}, "Write an amount of money in figures"),
        ({"amount": "5", "method": "mobile"}, "Write the network the money came over."),
        ({"amount": "5", "method": "mobile", "network": "M"}, "Write the reference"),
        (
            {
                "amount": "5",
                "method": "mobile",
                "network": "M",
                "reference": "A",
                "payer_number": "x",
            },
            "is no telephone number",
        ),
        ({"amount": "5", "on": "2040-01-01"}, "a day still ahead"),
    ],
)
def test_a_payment_that_cannot_be_is_refused_in_a_sentence(counter, said, sentence):
    customer = trader()
    answer = take(counter, f"customer={customer.pk}", **said)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Payment.objects.exists()


def test_the_same_form_sent_twice_books_once(counter):
    customer = trader()
    key = "7f0c5a3e-0000-4000-8000-000000000001"
    for _ in range(2):
        take(counter, f"customer={customer.pk}", amount="12", key=key)
    assert Payment.objects.count() == 1


def test_a_mobile_reference_is_booked_once_however_it_is_spaced(counter):
    customer = trader()
    mobile = {"amount": "12", "method": "mobile", "network": "Tide Cash"}
    take(counter, f"customer={customer.pk}", reference="ab 12", **mobile)
    answer = take(counter, f"customer={customer.pk}", reference="AB12", **mobile)
    assert "booked already" in answer.content.decode()
    assert Payment.objects.count() == 1


def test_the_account_page_shows_what_is_owed_and_a_reminder(counter):
    customer = trader(phone="+351 912 345 678", email="marisa@example.org")
    issue_invoice(order_of((30, "6.50"), customer=customer), person=None)
    page = counter.get(reverse("orders:statement", args=[customer.pk])).content.decode()
    assert "€195.00" in page
    assert "sms:+351912345678?body=Good%20day" in page
    assert "mailto:marisa@example.org?subject=" in page


def test_the_order_page_piece_shows_deposit_and_papers(counter):
    order = order_of((30, "6.50"))
    record_payment(order.customer, Decimal(50), person=None, order=order)
    issue_invoice(order, person=None)
    from django.template.loader import render_to_string

    page = render_to_string("orders/money/_order_money.html", {"order": Order.objects.get()})
    assert "€145.00" in page
    assert "INV-" in page


@pytest.mark.parametrize("role", ["yard", "kiln", "bench"])
def test_yard_kiln_and_bench_never_see_money(client, role):
    registered()
    order = order_of((1, "6.50"))
    paper = issue_invoice(order, person=None)
    client.force_login(make_person(role))
    for url in (
        reverse("orders:money"),
        reverse("orders:paper_list"),
        reverse("orders:paper", args=[paper.pk]),
        reverse("orders:paper_pdf", args=[paper.pk]),
        reverse("orders:statement", args=[order.customer_id]),
        reverse("orders:invoice_issue", args=[order.number]),
        reverse("orders:cost_sheet", args=[order.number]),
    ):
        assert client.get(url).status_code == 404


@pytest.mark.parametrize("name", ["orders:paper_list", "orders:payment_list", "orders:money"])
def test_list_pages_ask_the_database_a_fixed_number_of_times(
    counter, name, django_assert_max_num_queries
):
    def queries(count: int) -> int:
        for n in range(count):
            customer = trader(f"Trader {n}")
            paper = issue_invoice(order_of((1, "6.50"), customer=customer), person=None)
            record_payment(customer, Decimal(2), person=None, papers=[(paper, Decimal(2))])
        with django_assert_max_num_queries(40) as seen:
            assert counter.get(reverse(name)).status_code == 200
        return len(seen)

    few = queries(2)
    assert queries(6) == few


def test_the_order_page_warns_before_a_limit_is_passed():
    from django.template.loader import render_to_string

    make_business()
    order = order_of((30, "6.50"), customer=trader(credit_limit=Decimal(100)), total=Decimal(195))
    page = render_to_string("orders/money/_order_money.html", {"order": order})
    assert "may owe up to €100.00; with this order it would be €195.00" in page


def test_a_balance_brought_forward_has_a_page_and_no_pdf(counter):
    from orders.money.services.opening import open_balance

    paper = open_balance(trader(), Decimal(12), person=None)
    page = counter.get(reverse("orders:paper", args=[paper.pk]))
    assert page.status_code == 200
    assert "Open the PDF" not in page.content.decode()
    assert counter.get(reverse("orders:paper_pdf", args=[paper.pk])).status_code == 404


def test_the_currency_stays_once_a_paper_was_issued():
    from django.core.exceptions import ValidationError

    business = make_business()
    business.currency = "GBP"
    business.clean()
    business.currency = "EUR"
    issue_invoice(order_of((1, "6.50")), person=None)
    business.currency = "GBP"
    with pytest.raises(ValidationError, match="Papers were issued in EUR already"):
        business.clean()
