"""Credit notes: they name their invoice and never give back more than was charged."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.models import Document
from orders.money.services.papers import issue_credit_note, issue_invoice
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, registered

pytestmark = pytest.mark.django_db


def credit(invoice, quantity: int):
    line = invoice.lines.filter(role="goods").first()
    return issue_credit_note(
        invoice, person=None, reason="Came back", quantities={line.pk: quantity}
    )


def test_five_of_thirty_seven_with_their_share_of_the_discount():
    # Worked by the rules of EN 16931: 5 × 4.35 − 8.05 × 5 ÷ 37 = 21.75 − 1.09 = 20.66;
    # at 20 % 4.132 -> 4.13; 24.79 to credit.
    from workshop.models import TaxRate

    registered()
    TaxRate.objects.update(rate=20)
    invoice = issue_invoice(order_of((37, "4.35")), person=None, discount=Decimal("8.05"))
    note = credit(invoice, 5)
    assert (note.net, note.tax, note.total) == (
        Decimal("20.66"),
        Decimal("4.13"),
        Decimal("24.79"),
    )
    assert note.names == invoice


def test_no_more_strands_are_credited_than_were_charged():
    make_business()
    invoice = issue_invoice(order_of((5, "6.50")), person=None)
    credit(invoice, 3)
    with pytest.raises(ValidationError, match="at most 2 can still be credited, and 3"):
        credit(invoice, 3)
    credit(invoice, 2)
    with pytest.raises(ValidationError, match="Nothing is left to credit"):
        issue_credit_note(invoice, person=None, reason="Again")


@pytest.mark.parametrize("rate", [5, 19, 23])
@pytest.mark.parametrize("price", ["0.50", "0.33", "1.17"])
def test_strands_credited_one_by_one_add_up_to_the_invoice_to_the_cent(rate, price):
    # 3 × 0.50 at 5 %: the invoice states 0.08 of tax, three notes by themselves would state 0.09.
    from workshop.models import TaxRate

    registered()
    TaxRate.objects.update(rate=rate)
    invoice = issue_invoice(order_of((3, price)), person=None, discount=Decimal("0.10"))
    notes = [credit(invoice, 1) for _ in range(3)]
    assert sum(note.total for note in notes) == invoice.total
    assert sum(note.tax for note in notes) == invoice.tax


def test_a_credit_note_without_a_reason_is_refused():
    make_business()
    invoice = issue_invoice(order_of((5, "6.50")), person=None)
    with pytest.raises(ValidationError, match="Write why it is credited"):
        issue_credit_note(invoice, person=None, reason="  ")


def test_a_credit_note_itself_cannot_be_credited():
    make_business()
    note = credit(issue_invoice(order_of((5, "6.50")), person=None), 1)
    with pytest.raises(ValidationError, match="Only an invoice can be credited"):
        issue_credit_note(note, person=None, reason="Twice")


def test_it_is_issued_from_the_invoices_page(client):
    make_business()
    invoice = issue_invoice(order_of((5, "6.50")), person=None)
    line = invoice.lines.get()
    client.force_login(make_person("counter"))
    url = reverse("orders:credit_issue", args=[invoice.pk])
    refused = client.post(url, {"reason": "Came back", f"n_{line.pk}": "6"})
    assert refused.status_code == 422
    assert 'value="6"' in refused.content.decode()
    client.post(url, {"reason": "Came back", f"n_{line.pk}": "2"})
    assert Document.objects.get(kind="credit").total == Decimal(13)


def test_carriage_is_given_back_only_when_it_is_said():
    make_business()
    invoice = issue_invoice(order_of((2, "5")), person=None, carriage=Decimal(4))
    line = invoice.lines.get(role="goods")
    goods = issue_credit_note(invoice, person=None, reason="Broken", quantities={line.pk: 2})
    assert goods.total == Decimal(10)
    rest = issue_credit_note(invoice, person=None, reason="Late too")
    assert rest.total == Decimal(4)
