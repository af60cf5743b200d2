"""Pages of findings in stock: changed, sheet brought in, home's next acts, the list on paper."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from orders.models import Finding
from orders.moving_in.sheets import BY_KEY
from orders.supplies.services import note_purchase
from tests.builders import make_order, make_person
from tests.orders.supplies.test_buy import buy, lies
from tests.pages import marks_of


def test_the_owner_writes_the_mark_in_its_own_unit(client, clasp, cord):
    client.force_login(make_person("owner"))
    page = reverse("orders:design_finding_change", args=[cord.pk])
    sent = {"name": cord.name, "kind": "cord", "price": "0.06", "swatch": "#3b3a36"}
    sent |= {"reorder_at": "50", "delivery_days": "3", "supplier": "Chandler"} | marks_of(
        client, page
    )
    assert client.post(page, sent).status_code == 302
    cord.refresh_from_db()
    assert (cord.reorder_at, cord.delivery_days, cord.supplier) == (50_000, 3, "Chandler")
    wrong = client.post(page, sent | {"reorder_at": "3 kg"} | marks_of(client, page))
    assert wrong.status_code == 422 and "a length" in wrong.content.decode()
    # What is counted in stock stays what it is, and the book calls it by its new name.
    buy(cord, 10_000, "0.60")
    sent |= {"kind": "clasp", "name": "Nylon, braided", "reorder_at": ""}
    assert client.post(page, sent | marks_of(client, page)).status_code == 302
    cord.refresh_from_db()
    assert (cord.kind, cord.item.name, cord.reorder_at) == ("cord", "Nylon, braided", 0)


def test_a_sheet_brings_in_what_lies_there(clasp, cord):
    sheet = BY_KEY["supplies"]
    for finding, typed, worth in ((clasp, "120", "0.25"), (cord, "250", "")):
        form = sheet.filled({"finding": finding.pk, "quantity": typed, "worth_each": worth}, {})
        assert form.is_valid(), form.errors
        sheet.save(form, None, person=make_person("owner"))
    clasp.refresh_from_db()
    cord.refresh_from_db()
    assert lies(clasp) == (120, 0, Decimal("30.00"))
    assert lies(cord) == (250_000, 0, Decimal("15.00"))  # 250 × 0.06, the price written down
    told = [sheet.form_of(row).initial for row in sheet.rows()]
    assert {(t["finding"], t["quantity"]) for t in told} == {(clasp.pk, "120"), (cord.pk, "250 m")}
    again = sheet.filled({"finding": clasp.pk, "quantity": "5"}, {})
    assert not again.is_valid() and "in stock already" in str(again.errors)
    wrong = sheet.filled({"finding": cord.pk, "quantity": "five"}, {})
    assert not wrong.is_valid() and "quantity" in wrong.errors


def test_home_says_what_to_buy_and_what_should_be_here(client, bracelet, clasp, beads):
    Finding.objects.filter(pk=clasp.pk).update(delivery_days=4)
    buy(clasp, 2, "0.60")
    make_order(5, design=bracelet, due_on=date(2027, 3, 19))
    for role in ("owner", "counter"):
        client.force_login(make_person(role))
        page = client.get(reverse("orders:home")).content.decode()
        assert "Buy 3" in page and "3 missing for orders" in page
    late = note_purchase(
        clasp, 3, Decimal(1), person=make_person("counter"), ordered_on=date(2027, 2, 20),
        supplier="Quay Metals",
    )  # fmt: skip
    assert late.expected_on == date(2027, 2, 24)
    page = client.get(reverse("orders:home")).content.decode()
    assert "Has it come?" in page and "Quay Metals" in page
    assert "Buy 3" not in page
    sent = client.post(reverse("orders:purchase_in", args=[late.pk]))
    assert sent.status_code == 302 and lies(clasp)[:2] == (5, 5)
    client.post(reverse("orders:purchase_off", args=[late.pk]), {"why": ""})
    assert lies(clasp)[:2] == (5, 5)  # nothing is taken back without a reason
    client.post(reverse("orders:purchase_off", args=[late.pk]), {"why": "not ours"})
    assert lies(clasp)[:2] == (2, 2)


@pytest.mark.papers
def test_the_list_goes_on_paper(client, bracelet, clasp, beads):
    buy(clasp, 2, "0.60")
    make_order(5, design=bracelet)
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:supply_to_buy"), {"as": "pdf"})
    assert page.content.startswith(b"%PDF")
