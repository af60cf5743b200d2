"""Deposits by the owner's rule: what is asked for, what goes back, what is kept."""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.counter.papers import order_slip_html
from orders.counter.services.ordering import cancel_order
from orders.making.services.progress import string_for
from orders.models import Document, Order, Payment
from orders.money.queries.accounts import usual_deposit
from orders.money.queries.to_pay import to_pay
from orders.money.services.payments import PaymentDetails, record_payment
from orders.money.services.settling import settle_deposit
from tests.builders import make_business, make_customer, make_order, put_beads
from workshop.models import Business, Person, TaxRate

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(workshop) -> Person:
    """A business with VAT of 23 % that keeps half of a deposit once beads are begun."""
    TaxRate.objects.create(
        name="VAT", rate=D(23), standard=True, category="S", valid_from="2020-01-01"
    )
    make_business(
        tax_registered=True,
        tax_number="PT501964843",
        deposit_share=D("0.30"),
        deposit_kept=D("0.5"),
    )
    return Person.objects.get(role="owner")


@pytest.mark.parametrize(
    ("total", "since", "own", "asked"),
    [
        ("100", None, None, "30.00"),
        ("100", "150", None, "0"),  # below the owner's sum
        ("150", "150", None, "45.00"),
        ("100", None, "0.5", "50.00"),  # her own share
        ("100", None, "0", "0"),
        ("100", "150", "0.5", "0"),
    ],
)
def test_a_deposit_is_asked_for_by_the_rule(workshop, total, since, own, asked):
    business = make_business(
        deposit_share=D("0.30"), deposit_from=D(since) if since else None, smallest_coin=D("0.05")
    )
    customer = make_customer(deposit_share=D(own) if own else None)
    assert usual_deposit(D(total), business, customer) == D(asked)


def with_deposit(owner: Person, workshop, *, begun: bool) -> Order:
    """Two strands at 50.00 without VAT: 123.00 with it, of which 36.90 is left as a deposit."""
    put_beads(workshop["bead"], 36)
    order = make_order(2, design=workshop["design"], price=D(50))
    assert order.deposit_asked == D("36.90")
    record_payment(order.customer, D("36.90"), person=owner, order=order)
    if begun:
        string_for(order.lines.get(), 1, person=owner)
        order.refresh_from_db()
    return order


def test_all_of_it_goes_back_before_anything_is_begun(workshop, owner):
    order = with_deposit(owner, workshop, begun=False)
    cancel_order(order, person=owner)
    settled = settle_deposit(order, person=owner, way=PaymentDetails())
    assert (settled.back, settled.kept) == (D("36.90"), 0)
    assert to_pay(Order.objects.get(pk=order.pk)).held == 0
    assert sum(Payment.objects.values_list("amount", flat=True)) == 0


def test_half_is_kept_with_its_vat_once_it_is_begun(workshop, owner):
    order = with_deposit(owner, workshop, begun=True)
    cancel_order(order, person=owner)
    settled = settle_deposit(order, person=owner, way=PaymentDetails())
    # 36.90 ÷ 2 = 18.45; of what goes back 18.45 ÷ 1.23 = 15.00 is the base and 3.45 the VAT
    assert (settled.back, settled.kept) == (D("18.45"), D("18.45"))
    note = Document.objects.get(kind=Document.Kind.CREDIT)
    assert (note.net, note.tax, note.total) == (D("15.00"), D("3.45"), D("18.45"))
    taxed = Document.objects.get(kind=Document.Kind.INVOICE)
    assert taxed.tax - note.tax == D("3.45")  # of what is kept, VAT stays owed
    assert sum(Payment.objects.values_list("amount", flat=True)) == D("18.45")


def test_the_rule_is_that_of_the_day_the_order_was_promised(workshop, owner):
    order = with_deposit(owner, workshop, begun=True)
    assert "50% of it is kept" in order_slip_html(order, Business.current())
    Business.objects.update(deposit_kept=D(1), deposit_share=D("0.9"))
    assert "50% of it is kept" in order_slip_html(order, Business.current())
    cancel_order(order, person=owner)
    assert settle_deposit(order, person=owner, way=PaymentDetails()).kept == D("18.45")


def test_a_deposit_is_settled_once(workshop, owner):
    order = with_deposit(owner, workshop, begun=False)
    with pytest.raises(ValidationError, match="is not cancelled"):
        settle_deposit(order, person=owner, way=PaymentDetails())
    cancel_order(order, person=owner)
    settle_deposit(order, person=owner, way=PaymentDetails())
    with pytest.raises(ValidationError, match="settled already"):
        settle_deposit(order, person=owner, way=PaymentDetails())
    assert Payment.objects.filter(amount__lt=0).count() == 1


def test_the_page_says_what_goes_back_and_two_people_look_at_much(client, workshop, owner):
    order = with_deposit(owner, workshop, begun=True)
    cancel_order(order, person=owner)
    client.force_login(Person.objects.get(role="counter"))
    page = reverse("orders:deposit_settle", args=[order.number])
    assert "€18.45 stays, €18.45 goes back" in client.get(page).content.decode()
    Business.objects.update(two_for_refunds=D(10))
    client.post(page, {"method": "cash"})
    order.refresh_from_db()
    assert order.deposit_kept is None and not Payment.objects.filter(amount__lt=0).exists()
    Business.objects.update(two_for_refunds=None)
    assert client.post(page, {"method": "cash"}).status_code == 302
    order.refresh_from_db()
    assert order.deposit_kept == D("18.45")


def test_the_counter_is_told_what_to_ask_for(client, workshop, owner):
    client.force_login(Person.objects.get(role="counter"))
    design = workshop["design"]
    data = {"line": [str(design.pk)], f"n_{design.pk}": "2", f"p_{design.pk}": "50"}
    told = client.post(reverse("orders:counter_panel"), data).content.decode()
    assert "Ask for €36.90" in told
    Business.objects.update(deposit_from=D(200))
    told = client.post(reverse("orders:counter_panel"), data).content.decode()
    assert "None asked below €200" in told
