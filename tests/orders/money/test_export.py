"""Spreadsheets out: rows that add up, cells that cannot run."""

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from orders.money.queries.accounts import balance_of
from orders.money.services.papers import issue_credit_note, issue_invoice
from orders.money.services.payments import record_payment, refund
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, registered, trader

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_business()
    client.force_login(make_person("owner"))
    return client


def rows_of(client, sheet: str) -> list[dict[str, str]]:
    answer = client.get(reverse("orders:money_export"), {"sheet": sheet})
    text = b"".join(answer.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(text)))


def test_the_rows_add_up_to_what_is_owed(owner):
    registered()
    order = order_of((30, "6.50"), (12, "18.00"))
    invoice = issue_invoice(order, person=None, discount=Decimal(5), carriage=Decimal(3))
    record_payment(order.customer, Decimal(600), person=None)
    issue_credit_note(invoice, person=None, reason="Came back")
    refund(order.customer, Decimal(100), person=None)
    papers, payments = rows_of(owner, "papers"), rows_of(owner, "payments")
    charged = sum(Decimal(row["total"]) for row in papers)
    paid = sum(Decimal(row["amount"]) for row in payments)
    assert charged - paid == balance_of(order.customer).balance
    lines = sum(Decimal(row["net"]) for row in rows_of(owner, "lines"))
    assert lines == sum(Decimal(row["net"]) for row in papers)
    taxes = rows_of(owner, "taxes")
    assert sum(Decimal(row["tax"]) for row in taxes) == sum(Decimal(row["tax"]) for row in papers)


def test_a_name_that_looks_like_a_formula_is_disarmed_in_csv_and_workbook(owner):
    customer = trader("=HYPERLINK(1)")
    issue_invoice(order_of((1, "2"), customer=customer), person=None)
    assert rows_of(owner, "papers")[0]["customer"] == "'=HYPERLINK(1)"
    answer = owner.get(reverse("orders:money_export"), {"as": "xlsx"})
    cells = [cell for row in load_workbook(io.BytesIO(answer.content))["papers"] for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    assert Decimal(str(cells[13 + 11].value)) == 2  # an amount stays a number
