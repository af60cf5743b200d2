"""Paint, wash and liquid fuel: bought, counted and burnt in litres where a litre was weighed."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from orders.firing.forms.loads import FuelField, litre_of
from orders.models import Finding
from orders.supplies.forms import how_much
from tests.builders import make_person
from tests.orders.supplies.test_buy import differences, lies
from tests.pages import marks_of

# Liquefied petroleum gas weighs some 0.54 kg a litre at 15 °C: common practice, no source. What a
# litre of one's own paint weighs is found on a scale.
PAINT, GAS = Decimal("1.25"), Decimal("0.54")


@pytest.fixture
def paint(monday):
    return Finding.objects.create(
        name="Glass paint", kind="paint", price=Decimal(80), kg_per_litre=PAINT
    )


def test_paint_is_bought_and_counted_in_litres(client, paint):
    client.force_login(make_person("counter"))
    sent = {"quantity": "2 l", "price": "200", "state": "here", "on": "2027-03-01"}
    assert client.post(reverse("orders:supply_buy", args=[paint.pk]), sent).status_code == 302
    paint.refresh_from_db()
    assert lies(paint) == (2_500_000, 0, Decimal(200))  # 2 l × 1.25 kg/l = 2.5 kg
    page = reverse("orders:supply", args=[paint.pk])
    shown = client.get(page).content.decode()
    assert "2.500\xa0kg (2 l)" in shown and "1.250 kg" in shown
    counted = {"quantity": "1600 ml", "why": "spilt", "was": "2500000"}
    assert client.post(reverse("orders:supply_count", args=[paint.pk]), counted).status_code == 302
    assert lies(paint) == (2_000_000, 0, Decimal(160))  # 1.6 l × 1.25 = 2 kg, at 80.00 a kilogram
    assert differences() == []


def test_litres_of_what_nobody_weighed_are_asked_about(client, paint):
    Finding.objects.update(kg_per_litre=None)
    client.force_login(make_person("counter"))
    sent = {"quantity": "2 l", "price": "200", "state": "here", "on": "2027-03-01"}
    answer = client.post(reverse("orders:supply_buy", args=[paint.pk]), sent)
    assert answer.status_code == 422
    assert "first what a litre weighs" in answer.content.decode()
    assert not Finding.objects.filter(kept=True).exists()


def test_the_owner_writes_what_a_litre_weighs_and_only_of_what_is_weighed(client, paint):
    client.force_login(make_person("owner"))
    page = reverse("orders:design_finding_change", args=[paint.pk])
    sent = {"name": "Glass paint", "kind": "paint", "price": "80", "swatch": "#b08d57"}
    sent |= marks_of(client, page) | {"kg_per_litre": "1,4", "reorder_at": "0,5 l"}
    assert client.post(page, sent).status_code == 302
    paint.refresh_from_db()
    assert (paint.kg_per_litre, paint.reorder_at) == (Decimal("1.4"), 700_000)
    sent |= marks_of(client, page)
    wrong = client.post(page, sent | {"kind": "clasp", "reorder_at": ""})
    assert wrong.status_code == 422
    assert "measured in litres" in wrong.content.decode()
    assert client.post(page, sent | {"kg_per_litre": "0"}).status_code == 422


def test_a_load_burns_litres_where_its_fuel_was_weighed(monday):
    Finding.objects.create(name="Bottled gas", kind="fuel", fuel="lpg", kg_per_litre=GAS)
    box = FuelField(kg_per_litre=litre_of("lpg"))
    assert box.clean("20 l") == Decimal("10.8")  # 20 × 0.54
    assert box.clean("12,5 kg") == Decimal("12.5")
    assert litre_of("wood") is None
    with pytest.raises(ValidationError, match="in figures"):
        FuelField().clean("20 l")


def test_a_gallon_has_no_one_size(paint):
    with pytest.raises(ValidationError, match="no one size"):
        how_much(paint, "").clean("1 gallon")
    with pytest.raises(ValidationError, match="another kind|a length"):
        how_much(paint, "").clean("3 m")
