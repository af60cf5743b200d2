"""Any act of money sent twice with one key happens once (ASVS 2.3.4), whichever screen it is on."""

from decimal import Decimal
from unittest import mock

import pytest
from django.urls import reverse

from orders.models import Document, Payment
from orders.money.services.papers import issue_invoice
from orders.money.services.payments import record_payment
from stock.models import Payout
from stock.services.sacks import weigh_in_sack
from tests.builders import make_business, make_collector, make_colour, make_person
from tests.orders.money.setting import order_of
from workshop.views import idempotent as once

pytestmark = pytest.mark.django_db
KEY = "7f0c5a3e-0000-4000-8000-000000000001"


def an_invoice():
    order = order_of((3, "6.50"))
    return reverse("orders:invoice_issue", args=[order.number]), {"supplied_on": "2026-01-01"}


def a_payment():
    customer = order_of((3, "6.50")).customer
    url = reverse("orders:payment_take") + f"?customer={customer.pk}"
    return url, {"amount": "12", "method": "cash", "on": "2026-01-01", "lay_on": "oldest"}


def a_refund():
    order = order_of((3, "6.50"))
    record_payment(order.customer, Decimal(30), person=None)
    return reverse("orders:refund_give", args=[order.customer_id]), {
        "amount": "5",
        "method": "cash",
    }


def a_credit_note():
    invoice = issue_invoice(order_of((3, "6.50")), person=None)
    line = invoice.lines.get()
    said = {"reason": "Came back", f"n_{line.pk}": "1"}
    return reverse("orders:credit_issue", args=[invoice.pk]), said


def a_payout():
    sack = weigh_in_sack(
        make_collector(),
        colour=make_colour(),
        gross_g=9000,
        price_per_kg=Decimal(1),
        person=make_person("owner"),  # dearer than the list
    )
    return reverse("stock:collector_pay", args=[sack.collector_id]), {"sacks": [sack.pk]}


ACTS = [an_invoice, a_payment, a_refund, a_credit_note, a_payout]


def written() -> tuple[int, ...]:
    return tuple(kind.objects.count() for kind in (Document, Payment, Payout))


def send_twice(client, act) -> tuple[tuple[int, ...], ...]:
    make_business()
    client.force_login(make_person("owner"))
    url, said = act()
    counts = [written()]
    for _ in range(2):
        answer = client.post(url, said | {"key": KEY})
        assert answer.status_code == 302
        counts.append(written())
    return tuple(counts)


@pytest.mark.parametrize("act", ACTS, ids=lambda act: act.__name__)
def test_an_act_sent_twice_with_one_key_happens_once(client, act):
    before, once_sent, twice_sent = send_twice(client, act)
    assert before != once_sent == twice_sent


def test_the_test_notices_a_key_that_is_not_written_down(client):
    with mock.patch.object(once, "_form_key", return_value=None):
        _before, once_sent, twice_sent = send_twice(client, a_payment)
    assert once_sent != twice_sent
