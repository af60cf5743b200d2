"""From quote to refund in a currency without decimals, with two, and with three: it all adds up.

Decimals by ISO 4217; the sums are worked by hand beside each case.
"""

import csv
import io
from dataclasses import dataclass
from decimal import Decimal

import pypdf
import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import Document, Order
from orders.money.papers.files import paper_pdf
from orders.money.papers.statements import statement_html
from orders.money.queries.accounts import ageing, balance_of
from orders.money.queries.statements import statement_of, usual_first_day
from orders.money.services.drawers import through_drawer
from orders.money.services.papers import issue_credit_note, issue_invoice, issue_quote
from orders.money.services.payments import record_payment, refund
from orders.papers.press import to_pdf
from tests.builders import make_person
from tests.orders.money.setting import order_of, registered
from workshop.formats import money

pytestmark = [pytest.mark.django_db, pytest.mark.papers]
D = Decimal


@dataclass(frozen=True)
class Case:
    """7 strands at the first price and 3 at the second, VAT 23 %; 2 of the first come back."""

    currency: str
    coin: D
    prices: tuple[str, str]
    deposit: D
    total: D
    left: D
    left_in_coins: D
    back: D
    back_in_coins: D


CASES = [
    # 7 × 650 = 4550; 3 × 1812.5 = 5437.5, half-up 5438; 9988 × 23 % = 2297.24; 12285 in all.
    # 12285 − 4000 = 8285, in coins of 10 a tie: 8290. 2 × 650 = 1300, VAT 299: 1599, in coins 1600.
    Case("JPY", D(10), ("650", "1812.5"), D(4000), D(12285), D(8285), D(8290), D(1599), D(1600)),
    # 7 × 6.50 = 45.50; 3 × 18.125 = 54.375, half-up 54.38; 99.88 × 23 % = 22.9724; 122.85.
    # 122.85 − 40 = 82.85, in coins of 0.10 a tie: 82.90. 13.00 + 2.99 = 15.99, in coins 16.00.
    Case("EUR", D("0.10"), ("6.50", "18.125"), D(40), D("122.85"), D("82.85"), D("82.90"),
         D("15.99"), D(16)),
    # 7 × 6.505 = 45.535; 3 × 18.1255 = 54.3765, half-up 54.377; 99.912 × 23 % = 22.97976: 22.980.
    # 122.892 − 40 = 82.892, in coins of 0.005 82.890. 13.010 + 2.9923 = 16.002, in coins 16.000.
    Case("KWD", D("0.005"), ("6.505", "18.1255"), D(40), D("122.892"), D("82.892"), D("82.890"),
         D("16.002"), D(16)),
]  # fmt: skip


def words_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def rows_of(client, sheet: str) -> list[dict[str, str]]:
    answer = client.get(reverse("orders:money_export"), {"sheet": sheet})
    text = b"".join(answer.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.currency)
def test_quote_deposit_invoice_payment_credit_and_refund_add_up(client, case):
    business = registered(currency=case.currency, smallest_coin=case.coin)
    first, second = case.prices
    order = order_of((7, first), (3, second), state="draft")
    customer = order.customer
    quote = issue_quote(order, person=None)
    Order.objects.filter(pk=order.pk).update(state=Order.State.CONFIRMED)
    deposit = record_payment(customer, case.deposit, person=None, order=order)
    invoice = issue_invoice(order, person=None)
    on_account = Document.objects.get(on_account=True)
    assert on_account.total == case.deposit
    assert quote.total == on_account.total + invoice.total == case.total
    assert invoice.open_amount == case.left

    paid = record_payment(customer, case.left_in_coins, person=None, order=order)
    assert (paid.amount, paid.handed_over) == (case.left, case.left_in_coins)
    line = invoice.lines.get(position=1)
    note = issue_credit_note(invoice, person=None, reason="Came back", quantities={line.pk: 2})
    assert note.total == case.back
    given = refund(customer, case.back, person=None)
    assert -given.handed_over == case.back_in_coins

    account = statement_of(customer, usual_first_day())
    assert account.closing == balance_of(customer).balance == sum(r.balance for r in ageing()) == 0
    came_in, paid_out = through_drawer("", timezone.localdate())
    assert (came_in, paid_out) == (case.deposit + case.left_in_coins, case.back_in_coins)

    client.force_login(make_person("owner"))
    papers, payments = rows_of(client, "papers"), rows_of(client, "payments")
    charged = sum(D(row["total"]) for row in papers)
    assert charged == sum(D(row["amount"]) for row in payments) == case.total - case.back
    rounding = sum(D(row["cash rounding"]) for row in payments)
    assert sum(D(row["amount"]) for row in payments) + rounding == came_in - paid_out
    nets = sum(D(row["net"]) for row in rows_of(client, "lines"))
    taxes = sum(D(row["tax"]) for row in rows_of(client, "taxes"))
    assert nets + taxes == charged

    said = {
        paper_pdf(quote): case.total,
        paper_pdf(invoice): case.left,
        paper_pdf(deposit.paper): case.deposit,
        paper_pdf(paid.paper): case.left_in_coins,
        paper_pdf(note): case.back,
        paper_pdf(given.paper): case.back,
        paper_pdf(on_account): case.deposit,
        to_pdf(statement_html(account, business)): case.left,
    }
    for pdf, amount in said.items():
        assert money(amount, case.currency) in words_of(pdf)
