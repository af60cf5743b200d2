"""Invoices: charged once, numbered without a gap, tax by the rules."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from orders.models import Document
from orders.money.forms.money import InvoiceForm
from orders.money.services.papers import issue_credit_note, issue_invoice
from orders.money.services.payments import record_payment
from tests.builders import make_business, make_person
from tests.orders.money.setting import order_of, registered
from workshop.models import TaxRate

pytestmark = pytest.mark.django_db


def test_a_trader_is_charged_the_lines_and_the_tax():
    registered()
    # 30 × 6.50 + 12 × 18.00 = 195 + 216 = 411.00; 23 % = 94.53
    paper = issue_invoice(order_of((30, "6.50"), (12, "18.00")), person=make_person())
    assert (paper.net, paper.tax, paper.total) == (
        Decimal("411.00"),
        Decimal("94.53"),
        Decimal("505.53"),
    )
    assert paper.number.endswith("-0001")
    assert paper.content["sums"]["due"] == "505.53"


def test_a_business_that_is_not_registered_charges_no_tax():
    make_business()
    paper = issue_invoice(order_of((30, "6.50")), person=make_person())
    assert (paper.net, paper.tax, paper.total) == (Decimal(195), Decimal(0), Decimal(195))


def test_the_same_strands_are_charged_once():
    make_business()
    order = order_of((30, "6.50"))
    first = issue_invoice(order, person=None)
    with pytest.raises(ValidationError, match=f"charged already on invoice {first.number}"):
        issue_invoice(order, person=None)
    assert Document.objects.count() == 1


def test_a_credited_order_can_be_charged_anew_and_the_number_of_the_refused_one_is_not_lost():
    make_business()
    order = order_of((30, "6.50"))
    first = issue_invoice(order, person=None)
    with pytest.raises(ValidationError):
        issue_invoice(order, person=None)
    issue_credit_note(first, person=None, reason="Wrong price")
    assert issue_invoice(order, person=None).sequence == 2


def test_a_deposit_is_taken_off_what_is_asked():
    make_business()
    order = order_of((30, "6.50"))
    record_payment(order.customer, Decimal(50), person=None, order=order)
    paper = issue_invoice(order, person=None)
    assert paper.open_amount == Decimal(145)
    assert (paper.content["sums"]["prepaid"], paper.content["sums"]["due"]) == ("50", "145")


def test_an_issued_invoice_cannot_be_edited_or_deleted_even_by_hand():
    make_business()
    paper = issue_invoice(order_of((1, "6.50")), person=None)
    for change in (
        lambda: Document.objects.filter(pk=paper.pk).update(total=1),
        lambda: Document.objects.filter(pk=paper.pk).delete(),
        lambda: paper.lines.update(net=0),
    ):
        with pytest.raises(Exception), transaction.atomic():
            change()
    assert Document.objects.get(pk=paper.pk).total == Decimal("6.50")


def test_goods_supplied_before_a_change_of_rate_are_charged_the_rate_of_their_day():
    """Directive 2006/112/EC, articles 63 and 93: the rate of the day of supply holds."""
    registered()
    rate_from("2026-11-01", 25)
    order = order_of((10, "10.00"), state="collected", collected_on=date(2026, 10, 30))
    paper = issue_invoice(order, person=None)
    assert paper.tax == Decimal("23.00")
    assert paper.content["supplied_on"] == "2026-10-30"


def test_the_invoice_page_offers_the_rates_of_the_day_of_supply():
    business = registered()
    rate_from("2026-11-01", 25)
    TaxRate.objects.create(name="Books", valid_from=date(2020, 1, 1), rate=6, category="S")
    order = order_of((10, "10.00"), state="collected", collected_on=date(2026, 10, 30))
    offered = dict(InvoiceForm(order=order, business=business).fields["rate"].choices)
    assert offered == {"VAT": "VAT 23 %", "Books": "Books 6 %"}
    said = {"supplied_on": "2026-11-02", "rate": "VAT"}
    form = InvoiceForm(said, order=order, business=business)
    assert form.is_valid(), form.errors
    assert form.told()["rate"].rate == 25


def test_a_paper_never_carries_a_day_still_ahead():
    make_business()
    order = order_of((30, "6.50"))
    tomorrow = timezone.localdate() + timedelta(days=1)
    with pytest.raises(ValidationError, match="still ahead"):
        issue_invoice(order, person=None, on=tomorrow)
    assert issue_invoice(order, person=None).sequence == 1


def rate_from(day: str, rate: int) -> TaxRate:
    return TaxRate.objects.create(
        name="VAT", valid_from=date.fromisoformat(day), rate=rate, category="S", standard=True
    )
