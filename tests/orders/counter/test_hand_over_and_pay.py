"""Handing over what is not paid: asked once, with the sum that the invoice will ask for.

8.00 without VAT at 23 % is 9.84; two strands are 19.68.
"""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.counter.services.collecting import NotPaid, hand_over_order
from orders.counter.services.ordering import change_draft
from orders.models import Document, Order, WantedLine
from orders.money.queries.accounts import ageing, balance_of, not_charged_yet
from orders.money.queries.to_pay import to_pay
from orders.money.services.papers import issue_invoice
from orders.money.services.payments import record_payment, refund
from tests.builders import (
    make_business,
    make_customer,
    make_draft,
    make_order,
    make_person,
    put_beads,
)
from tests.orders.money.setting import order_of, registered, trader
from workshop.models import AuditEntry, Business, TaxRate

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(workshop):
    """Two strands at 8.00 without VAT, ready to be strung and handed over."""
    Business.objects.update(tax_registered=True, tax_number="PT501964843")
    TaxRate.objects.create(name="VAT", rate=23, standard=True, valid_from="2020-01-01")
    put_beads(workshop["bead"], 40)
    customer = make_customer("Tomas Reed", group="trader")
    return make_order(2, design=workshop["design"], customer=customer, price=D(8))


def hand_over(client, order, role: str = "counter", **sent):
    client.force_login(make_person(role))
    return client.post(reverse("orders:order_collect", args=[order.number]), sent)


def state_of(order) -> str:
    order.refresh_from_db()
    return order.state


def test_what_is_not_paid_is_asked_about_with_the_sum(client, order):
    answer = hand_over(client, order)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Not paid yet" in page and "€19.68" in page and "VAT included" in page
    assert "rest=1" in page and "The owner may hand it over on account" in page
    assert state_of(order) == Order.State.CONFIRMED


def test_the_whole_sum_is_filled_in_and_after_it_the_order_goes(client, order):
    hand_over(client, order)
    url = reverse("orders:payment_take") + f"?order={order.number}&rest=1"
    page = client.get(url).content.decode()
    assert 'value="19.68"' in page
    sent = {"amount": "19.68", "method": "cash", "lay_on": "order", "on": timezone.localdate()}
    back = client.post(url, sent)
    assert back.url == reverse("orders:order_detail", args=[order.number])
    assert hand_over(client, order).status_code == 302
    assert state_of(order) == Order.State.COLLECTED
    final = issue_invoice(order, person=None)
    assert (final.total, to_pay(order).left) == (0, 0)


def test_only_the_owner_hands_over_on_account(client, order):
    assert hand_over(client, order, on_account="yes").status_code == 422
    assert state_of(order) == Order.State.CONFIRMED
    assert hand_over(client, order, "owner", on_account="yes").status_code == 302
    assert state_of(order) == Order.State.COLLECTED
    entry = AuditEntry.objects.get(act="hand over on account")
    assert entry.after == {"to pay": "19.68"}


@pytest.mark.parametrize(("limit", "goes"), [("19.67", False), ("19.68", True), (None, True)])
def test_on_account_goes_as_far_as_the_limit(order, limit, goes):
    type(order.customer).objects.update(credit_limit=limit and D(limit))
    order.customer.refresh_from_db()
    owner = make_person("owner")
    if goes:
        hand_over_order(order, person=owner, on_account=True)
    else:
        with pytest.raises(NotPaid, match=r"may owe up to €19\.67; .* €19\.68"):
            hand_over_order(order, person=owner, on_account=True)
    assert (state_of(order) == Order.State.COLLECTED) is goes


def test_afterwards_the_act_is_a_payment_and_the_sum_stands_on_the_order(client, order):
    hand_over(client, order, "owner", on_account="yes")
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert "Take a payment" in page and "Take a deposit" not in page
    assert "Still to pay" in page and "€19.68" in page
    (waiting,) = not_charged_yet()
    assert (waiting.order, waiting.asks.left) == (order, D("19.68"))
    room = client.get(reverse("orders:money")).content.decode()
    assert "Handed over, not invoiced yet" in room and "€19.68" in room


def test_what_is_not_ready_is_told_before_any_money(client, workshop):
    put_beads(workshop["bead"], 4)
    order = make_order(2, design=workshop["design"], price=D(8))
    client.force_login(make_person("counter"))
    page = client.post(reverse("orders:order_collect", args=[order.number]), follow=True)
    assert "more beads" in page.content.decode()


@pytest.mark.parametrize("state", Order.State.values)
def test_still_to_pay_stands_on_every_order(client, state):
    registered()
    order = order_of((3, "10.00"), state=state)
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert ("€36.90" in page) is (state != "cancelled")


def test_deposits_of_open_orders_are_not_credit_to_spend(client):
    make_business()  # not registered: the deposit has no paper of its own and waits as money
    order = order_of((1, "50"), customer=trader("Ilse"))
    record_payment(order.customer, D(20), person=None, order=order)
    account = balance_of(order.customer)
    assert (account.held, account.free, account.balance) == (20, 0, -20)
    with pytest.raises(ValidationError, match="Only €0.00"):
        refund(order.customer, D(20), person=None)
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:statement", args=[order.customer_id])).content.decode()
    assert "Give money back" not in page
    Order.objects.update(state=Order.State.CANCELLED)
    assert balance_of(order.customer).free == 20
    refund(order.customer, D(20), person=None)


def test_who_owes_lists_those_who_owe(client):
    make_business()
    issue_invoice(order_of((1, "50"), customer=trader("Owing Olga")), person=None)
    record_payment(trader("Paying Pia"), D(5), person=None)
    held = order_of((1, "50"), customer=trader("Waiting Wim"))
    record_payment(held.customer, D(7), person=None, order=held)
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:money")).content.decode()
    owing = page[page.index("Who owes") : page.index("Who has credit")]
    assert "Owing Olga" in owing and "Pia" not in owing and "Wim" not in owing
    credit = page[page.index("Who has credit") : page.index("Issued lately")]
    assert "Paying Pia" in credit and "Wim" not in credit
    assert sum(row.balance for row in ageing()) == 50 - 5 - 7


def test_a_sum_is_red_only_when_it_is_late(client):
    registered()
    paper = issue_invoice(order_of((1, "50")), person=None)
    client.force_login(make_person("counter"))
    url = reverse("orders:order_detail", args=[paper.order.number])
    assert "answer short" not in client.get(url).content.decode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Document, "is_late", property(lambda paper: True))
        assert "answer short" in client.get(url).content.decode()


def test_an_order_with_a_payment_on_account_can_still_be_changed(order):
    from orders.counter.services.reopening import can_reopen

    record_payment(order.customer, D(5), person=None, order=order)
    assert can_reopen(order)
    issue_invoice(order, person=None)
    assert not can_reopen(order)


def test_an_order_that_money_came_in_for_stays_its_customers(workshop):
    order = make_draft(1, design=workshop["design"])
    record_payment(order.customer, D(5), person=None, order=order)
    line, other = WantedLine(workshop["design"].pk, 2), trader("Ilse Brandt")
    with pytest.raises(ValidationError, match="stays theirs"):
        change_draft(order, [line], person=make_person("counter"), customer=other)
    change_draft(order, [line], person=make_person("counter"))
    assert order.lines.get().strands == 2
