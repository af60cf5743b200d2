"""Findings bought: in the book with their price and VAT, on the shelf, and taken back."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.models import Finding, Purchase
from orders.supplies.services import (
    call_off,
    cease_keeping,
    count_finding,
    give_back,
    note_purchase,
    take_in,
)
from stock.models import Balance, Charge, LocationKind, Movement
from stock.services.check import CHECKS, MORE_CHECKS
from tests.builders import make_person
from workshop.models import Business, TaxRate

SUPPLIES = LocationKind.SUPPLIES


def differences() -> list[str]:
    """Whatever check_book would say."""
    return [said for check in (*CHECKS, *MORE_CHECKS) for said in check.differences()]


def lies(finding: Finding) -> tuple[int, int, Decimal]:
    """There, held for orders, and worth."""
    row = Balance.objects.filter(item=finding.item_id, place__kind=SUPPLIES).first()
    return (row.quantity, row.reserved, row.value) if row else (0, 0, Decimal(0))


def buy(finding: Finding, quantity: int, price: str, **given) -> Purchase:
    given = {"arrived_on": timezone.localdate(), "person": make_person("counter")} | given
    purchase = note_purchase(finding, quantity, Decimal(price), **given)
    finding.refresh_from_db()
    return purchase


def test_what_is_bought_lies_on_its_shelf_at_the_weighted_average(clasp):
    buy(clasp, 100, "28.00")
    buy(clasp, 50, "20.00")
    # IAS 2.25, weighted average: (28.00 + 20.00) ÷ 150 = 0.32 each.
    quantity, held, value = lies(clasp)
    assert (quantity, held, value) == (150, 0, Decimal("48.00"))
    assert value / quantity == Decimal("0.32")
    assert clasp.kept
    assert differences() == []


def test_cord_is_kept_in_millimetres_and_paint_in_milligrams(cord):
    buy(cord, 250_000, "15.00")
    paint = Finding.objects.create(name="Glass paint", kind="paint", price=Decimal(80))
    buy(paint, 500_000, "40.00")
    assert (cord.unit, paint.unit) == ("m", "kg")
    assert str(Purchase.objects.get(finding=cord)) == "Braided nylon: 250 m"
    assert "0.500" in str(Purchase.objects.get(finding=paint))
    assert differences() == []


def test_vat_that_is_got_back_is_not_worth_anything_and_other_vat_is(clasp):
    Business.objects.update(tax_registered=True, tax_number="PT123456789")
    # Worked by hand: 24.60 with 23 % in it is 24.60 × 100 ÷ 123 = 20.00 without.
    assert buy(clasp, 100, "24.60", tax_rate=Decimal(23)).net == Decimal("20.00")
    Business.objects.update(tax_registered=False)
    assert buy(clasp, 100, "24.60", tax_rate=Decimal(23)).net == Decimal("24.60")
    assert lies(clasp)[2] == Decimal("44.60")


def test_what_is_ordered_is_not_there_until_it_comes(clasp):
    Finding.objects.update(delivery_days=5)
    clasp.refresh_from_db()
    purchase = buy(clasp, 20, "6.00", arrived_on=None)
    today = timezone.localdate()
    assert purchase.expected_on == today + timedelta(days=5)
    assert not clasp.kept
    assert not Movement.objects.filter(item__finding=clasp).exists()
    take_in(purchase, person=make_person("counter"))
    clasp.refresh_from_db()
    assert clasp.kept
    assert lies(clasp) == (20, 0, Decimal("6.00"))
    with pytest.raises(ValidationError, match="in the book already"):
        take_in(purchase, person=make_person("counter"))


def test_a_purchase_taken_back_leaves_nothing_and_blocks_nobody(clasp):
    purchase = buy(clasp, 20, "6.00")
    give_back(purchase, person=make_person("counter"), why="somebody else's")
    clasp.refresh_from_db()
    purchase.refresh_from_db()
    assert lies(clasp) == (0, 0, Decimal(0))
    assert (clasp.kept, purchase.called_off) == (False, True)
    assert sum(Charge.objects.filter(name="bought").values_list("amount", flat=True)) == 0
    assert differences() == []
    with pytest.raises(ValidationError, match="called off"):
        call_off(purchase, person=make_person("counter"))


def test_what_lay_there_before_is_counted_once_and_then_against_the_book(clasp):
    counter = make_person("counter")
    count_finding(clasp, 40, person=counter)
    clasp.refresh_from_db()
    assert lies(clasp) == (40, 0, Decimal("11.20"))  # 40 × 0.28, the price written down
    with pytest.raises(ValidationError, match="Say why"):
        count_finding(clasp, 38, person=counter)
    count_finding(clasp, 38, person=counter, why="two broken")
    assert lies(clasp) == (38, 0, Decimal("10.64"))
    with pytest.raises(ValidationError, match="Count it down to nothing first"):
        cease_keeping(clasp, person=make_person("owner"))
    count_finding(clasp, 0, person=counter, why="given away")
    assert not cease_keeping(clasp, person=make_person("owner")).kept
    assert differences() == []


def test_the_counter_buys_on_a_page_and_the_bench_only_looks(client, clasp):
    TaxRate.objects.create(name="usual", rate=23, valid_from="2026-01-01", standard=True)
    Business.objects.update(tax_registered=True, tax_number="PT123456789")
    page = reverse("orders:supply_buy", args=[clasp.pk])
    client.force_login(make_person("counter"))
    assert "VAT in it" in client.get(page).content.decode()
    sent = {
        "quantity": "1 gross", "price": "36,90", "tax": str(TaxRate.objects.get().pk),
        "supplier": "Quay Metals", "state": "here", "on": "2027-03-01",
    }  # fmt: skip
    assert client.post(page, sent).status_code == 302
    clasp.refresh_from_db()
    assert lies(clasp) == (144, 0, Decimal("30.00"))  # 36.90 × 100 ÷ 123
    shown = client.get(reverse("orders:supply", args=[clasp.pk])).content.decode()
    assert "Quay Metals" in shown and "36.90" in shown
    client.force_login(make_person("bench"))
    looked = client.get(reverse("orders:supply", args=[clasp.pk]))
    assert looked.status_code == 200 and "Quay Metals" not in looked.content.decode()
    assert client.get(page).status_code == 404
    assert client.post(page, sent).status_code == 404


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"quantity": "0"}, "write at least 1"),
        ({"quantity": "three metres"}, "cannot be read"),
        ({"price": "-1"}, "0 or more"),
        ({"on": "2027-03-09"}, "lies in the future"),
        ({"state": "comes", "expected_on": "2027-02-01"}, "before it is ordered"),
        ({"expected_on": "2027-04-01"}, "It is here already"),
        ({"state": ""}, "needed"),
    ],
)
def test_a_purchase_that_cannot_be_says_why_and_loses_nothing(client, clasp, wrong, sentence):
    client.force_login(make_person("counter"))
    sent = {"quantity": "12", "price": "4", "state": "here", "on": "2027-03-01"}
    sent |= {"supplier": "Quay Metals"} | wrong
    page = client.post(reverse("orders:supply_buy", args=[clasp.pk]), sent)
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert "Quay Metals" in page.content.decode()
    assert not Purchase.objects.exists()
