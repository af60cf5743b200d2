"""Several things on one paper of a supplier: VAT by line, taken in together or in part."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from orders.models import BoughtTogether, Finding, Purchase
from orders.supplies.services import Bought, note_purchases, take_in_of
from tests.builders import make_person
from tests.orders.supplies.test_buy import differences, lies
from workshop.models import Business, TaxRate


@pytest.fixture
def rates(monday):
    Business.objects.update(tax_registered=True, tax_number="PT123456789")
    given = {"valid_from": "2026-01-01"}
    return [
        TaxRate.objects.create(name="usual", rate=23, standard=True, **given),
        TaxRate.objects.create(name="lower", rate=6, **given),
    ]


def typed(clasp, cord, rates, **more) -> dict:
    return {
        "supplier": "Quay Metals", "paper": "QM-12", "state": "comes", "on": "2027-03-01",
        "many": "4",
        "line0-finding": clasp.pk, "line0-quantity": "1 gross", "line0-price": "36.90",
        "line0-tax": rates[0].pk,
        "line1-finding": cord.pk, "line1-quantity": "50 m", "line1-price": "10.60",
        "line1-tax": rates[1].pk,
        "line2-tax": rates[0].pk,
    } | more  # fmt: skip


def test_one_paper_is_written_down_and_comes_in_parts(client, clasp, cord, rates):
    client.force_login(make_person("counter"))
    page = reverse("orders:supply_buy_many")
    assert page in client.get(reverse("orders:supply_list")).content.decode()
    answer = client.post(page, typed(clasp, cord, rates))
    together = BoughtTogether.objects.get()
    there = reverse("orders:bought_together", args=[together.pk])
    assert answer.url == there
    assert not Finding.objects.filter(kept=True).exists(), "nothing has come"
    shown = client.get(there).content.decode()
    # By hand: 36.90 − 36.90 ÷ 1.23 = 6.90; 10.60 − 10.60 ÷ 1.06 = 0.60; 47.50 in all.
    for figure in ("6.90", "0.60", "47.50", "QM-12"):
        assert figure in shown, figure
    keys = {row.finding: row.pk for row in Purchase.objects.select_related("finding")}
    came = {f"came_{keys[clasp]}": "100", f"came_{keys[cord]}": "0"}
    assert client.post(there, came).status_code == 302
    # 100 of 144 clasps: 30.00 × 100 ÷ 144 = 20.8333, to the cent 20.83.
    assert lies(clasp) == (0, 0, 0)  # read before it had an item
    clasp.refresh_from_db()
    assert lies(clasp) == (100, 0, Decimal("20.83"))
    waits = {row.finding: row.quantity for row in Purchase.objects.on_their_way()}
    assert waits == {clasp: 44, cord: 50_000}
    assert sum(Purchase.objects.values_list("price", flat=True)) == Decimal("47.50")
    left = {f"came_{row.pk}": "" for row in Purchase.objects.on_their_way()}
    assert client.post(there, left).status_code == 422, "nothing came"
    full = {
        f"came_{row.pk}": "50 m" if row.finding == cord else "44"
        for row in Purchase.objects.on_their_way()
    }
    assert client.post(there, full).status_code == 302
    cord.refresh_from_db()
    assert (lies(clasp), lies(cord)) == (
        (144, 0, Decimal("30.00")), (50_000, 0, Decimal("10.00")),
    )  # fmt: skip
    assert "Take in what came" not in client.get(there).content.decode()
    assert differences() == []


def test_more_than_was_ordered_is_refused_and_nothing_comes(clasp, cord, monday):
    counter = make_person("counter")
    together = note_purchases(
        [Bought(clasp, 12, Decimal(3)), Bought(cord, 10_000, Decimal(1))],
        person=counter, supplier="Quay Metals", ordered_on=timezone.localdate(),
    )  # fmt: skip
    keys = {row.finding: row.pk for row in together.purchases.select_related("finding")}
    with pytest.raises(ValidationError, match="Only 12 of Hook clasp were ordered"):
        take_in_of(together, {keys[cord]: 10_000, keys[clasp]: 13}, person=counter)
    assert Purchase.objects.on_their_way().count() == 2
    assert differences() == []


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"line1-price": ""}, "Write this in; it is needed."),
        ({"line1-quantity": ""}, "Write this in; it is needed."),
        ({"line1-finding": ""}, "Choose one; it is needed."),
        ({"line1-quantity": "three kilos"}, "cannot be read"),
        ({"on": "2027-03-09"}, "lies in the future"),
        ({"state": "here", "expected_on": "2027-04-01"}, "It is here already"),
        (
            {f"line{n}-{box}": "" for n in (0, 1) for box in ("quantity", "price")},
            "Write at least one thing",
        ),
    ],
)
def test_a_paper_that_cannot_be_says_why_and_loses_nothing(
    client, clasp, cord, rates, wrong, sentence
):
    client.force_login(make_person("counter"))
    page = client.post(reverse("orders:supply_buy_many"), typed(clasp, cord, rates, **wrong))
    assert page.status_code == 422
    assert sentence in page.content.decode() and "QM-12" in page.content.decode()
    assert not Purchase.objects.exists() and not BoughtTogether.objects.exists()


def test_what_is_short_of_one_supplier_stands_there_already_and_more_lines_come(
    client, clasp, cord, rates
):
    for finding in (clasp, cord):
        finding.supplier, finding.reorder_at, finding.kept = "Quay Metals", 20, False
        finding.save()
    counter = make_person("counter")
    note_purchases(
        [Bought(clasp, 5, Decimal(1)), Bought(cord, 5, Decimal(1))], person=counter,
        supplier="Quay Metals", ordered_on=timezone.localdate(), arrived_on=timezone.localdate(),
    )  # fmt: skip
    client.force_login(counter)
    asks = f"{reverse('orders:supply_buy_many')}?from=Quay%20Metals"
    assert asks in client.get(reverse("orders:supply_to_buy")).content.decode()
    page = client.get(asks).content.decode()
    assert 'value="15"' in page and 'value="0.015 m"' in page
    more = client.post(asks, typed(clasp, cord, rates, more="yes")).content.decode()
    assert 'name="line7-finding"' in more and 'value="36.90"' in more
    assert "wrong" not in more.split("<form", 2)[-1]
    client.force_login(make_person("bench"))
    assert client.get(asks).status_code == 404
