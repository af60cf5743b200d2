"""Who owes what: ages by the day to pay, statements that add up."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.models import Customer, Document
from orders.money.queries.accounts import ageing, balance_of, bucket_of, total_of
from orders.money.queries.statements import statement_of, statements
from orders.money.services.opening import open_balance
from orders.money.services.papers import issue_credit_note, issue_invoice
from orders.money.services.payments import record_payment
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, trader

AS_AT = date(2026, 3, 31)
# Aged debtors as at 2026-03-31 by days past due: published layout not due, 1-30, 31-60, 61-90,
# 91 and more; dates computed.
AGES = [
    ("2026-04-10", "not_due"),  # -10 days
    ("2026-03-31", "not_due"),  # 0 days
    ("2026-03-30", "late_1"),  # 1 day
    ("2026-03-01", "late_1"),  # 30 days
    ("2026-02-28", "late_2"),  # 31 days
    ("2026-01-30", "late_2"),  # 60 days
    ("2026-01-29", "late_3"),  # 61 days
    ("2025-12-31", "late_3"),  # 90 days
    ("2025-12-30", "late_over"),  # 91 days
]


@pytest.mark.parametrize(("due", "bucket"), AGES)
def test_the_day_to_pay_decides_the_bucket(due, bucket):
    assert bucket_of(date.fromisoformat(due), AS_AT, (30, 60, 90)) == bucket


@pytest.mark.django_db
def test_the_database_puts_every_day_into_the_same_bucket():
    make_business()
    with time_machine.travel("2026-03-31 12:00", tick=False):
        for place, (due, _bucket) in enumerate(AGES):
            open_balance(
                trader(f"Trader {place}"),
                Decimal(10),
                person=None,
                issued_on=date(2025, 12, 1),
                due_on=date.fromisoformat(due),
            )
        found = {row.name: row for row in ageing()}
    for place, (_due, bucket) in enumerate(AGES):
        assert getattr(found[f"Trader {place}"], bucket) == 10


@pytest.mark.django_db
def test_debts_grow_old_by_the_owners_own_steps():
    """15 days late are in the second step of 14, 30, 60, and would be in the first of 30."""
    make_business(debt_steps="14, 30 60")
    with time_machine.travel("2026-03-31 12:00", tick=False):
        open_balance(
            trader("Trader"), Decimal(10), person=None, issued_on=date(2025, 12, 1),
            due_on=date(2026, 3, 16),
        )  # fmt: skip
        (row,) = ageing()
    assert (row.late_1, row.late_2) == (0, 10)
    assert [age.words for age in row.ages][1:3] == ["1 to 14 days late", "15 to 30 days late"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    "told", ["30, 60", "30 60 60", "90, 60, 30", "a, b, c", "0 1 2", "1 2 3 4"]
)
def test_steps_that_do_not_rise_are_refused_with_an_example(told):
    business = make_business()
    business.debt_steps = told
    with pytest.raises(ValidationError, match="each larger than the one before"):
        business.full_clean()


@pytest.mark.django_db
def test_buckets_and_credit_add_up_to_the_balance():
    make_business()
    order = order_of((10, "6.50"))
    paper = issue_invoice(order, person=None)
    record_payment(order.customer, Decimal(100), person=None)
    issue_credit_note(paper, person=None, reason="Came back", quantities={paper.lines.get().pk: 1})
    foot = total_of(ageing())
    assert foot.balance == balance_of(order.customer).balance == Decimal("-41.50")


@pytest.mark.django_db
def test_a_statement_closes_at_opening_plus_charges_less_credits_and_payments():
    make_business()
    customer = trader()
    with time_machine.travel("2026-01-10 12:00", tick=False):
        issue_invoice(order_of((10, "6.50"), customer=customer), person=None)
    with time_machine.travel("2026-02-10 12:00"):
        paper = issue_invoice(order_of((2, "18.00"), customer=customer), person=None)
        record_payment(customer, Decimal(40), person=None)
        issue_credit_note(
            paper, person=None, reason="Came back", quantities={paper.lines.get().pk: 1}
        )
        account = statement_of(customer, date(2026, 2, 1), date(2026, 2, 28))
    assert account.opening == Decimal(65)
    # 65 + 36 − 18 − 40 = 43
    assert account.closing == account.entries[-1].balance == Decimal(43)
    assert sum(item.open for item in account.open_items) == Decimal(43)
    assert [entry.kind for entry in account.entries] == ["invoice", "payment", "credit"]


@pytest.mark.django_db
def test_statements_of_many_ask_no_more_than_of_one(django_assert_max_num_queries):
    make_business()
    for name in "abcdef":
        order = order_of((1, "6.50"), customer=trader(name))
        record_payment(order.customer, Decimal(2), person=None, order=order)
        issue_invoice(order, person=None)
    people = list(Document.objects.values_list("customer", flat=True).distinct())
    customers = list(Customer.objects.filter(pk__in=people))
    with django_assert_max_num_queries(20) as one:
        statements(customers[:1], date(2026, 1, 1))
    with django_assert_max_num_queries(20) as many:
        statements(customers, date(2026, 1, 1))
    assert len(one) == len(many) == 13  # the business among them, outside of a request


@pytest.mark.django_db
@pytest.mark.papers
def test_all_statements_are_printed_in_one_run(client):
    make_business()
    for name in ("Marisa", "Tomas"):
        issue_invoice(order_of((1, "6.50"), customer=trader(name)), person=None)
    client.force_login(make_person("counter"))
    answer = client.get(reverse("orders:statements_pdf"))
    assert answer["Content-Type"] == "application/pdf"


@pytest.mark.django_db
def test_the_first_day_after_the_last_is_said_and_the_page_still_shows(client):
    make_business()
    customer = trader()
    client.force_login(make_person("counter"))
    page = client.get(
        reverse("orders:statement", args=[customer.pk]),
        {"first_day": "2026-12-01", "last_day": "2026-01-01"},
    )
    assert page.status_code == 200
    assert "write them the other way round" in page.content.decode()


@pytest.mark.django_db
def test_what_happens_on_the_first_day_stands_among_the_lines_and_not_in_the_opening():
    make_business()
    owner = make_person()
    customer = trader()
    with time_machine.travel("2026-03-01 12:00", tick=False):
        open_balance(customer, Decimal(90), person=None, issued_on=date(2026, 2, 1))
    with time_machine.travel("2026-03-10 12:00", tick=False):
        open_balance(customer, Decimal(30), person=None, issued_on=date(2026, 3, 10))
        record_payment(customer, Decimal(40), person=owner)
        told = statement_of(customer, date(2026, 3, 10))
    assert told.opening == 90
    assert [entry.amount for entry in told.entries] == [30, -40]
    assert told.closing == 80
