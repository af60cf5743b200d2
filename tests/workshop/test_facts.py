"""The workshop's own facts: kilns, moulds, programmes, hours, rates, taxes."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from tests.builders import make_business, make_kiln, make_person
from tests.pages import marks_of
from workshop.models import AuditEntry, Business, LabourRate, Mould, Programme, TaxRate

pytestmark = pytest.mark.django_db

PROGRAMME = {
    "name": "Gentle",
    "kind": "powder",
    "hold_c": "720",
    "hold_min": "25",
    "from_c": "700",
    "to_c": "760",
    "from_min": "20",
    "to_min": "35",
    "in_use": "on",
}
MOULD = {
    "name": "Round 12",
    "shape": "round",
    "bead_across_mm": "1/2 in",
    "cavities": "16",
    "owned": "20",
    "places": "1",
    "clay_g": "1.2 kg",
    "held_min": "30",
}


@pytest.fixture(autouse=True)
def owner(client):
    person = make_person("owner")
    client.force_login(person)
    return person


def test_a_powder_programme_inside_common_practice_is_saved_without_a_word(client):
    # Common practice, no source: powder beads, 20 to 35 min at 600 to 800 °C.
    assert client.post(reverse("workshop:programme_add"), PROGRAMME).status_code == 302
    assert Programme.objects.get().hold_c == 720


def test_a_powder_programme_at_850_draws_a_warning_that_a_tick_overrides(client):
    hot = {**PROGRAMME, "hold_c": "850", "from_c": "840", "to_c": "860"}
    answer = client.post(reverse("workshop:programme_add"), hot)
    assert "commonly fired at 600 to 800 °C for 20 to 35 min" in answer.content.decode()
    assert not Programme.objects.exists()
    client.post(reverse("workshop:programme_add"), {**hot, "unusual_on_purpose": "on"})
    assert Programme.objects.get().hold_c == 850


def test_a_temperature_outside_its_own_window_is_refused_at_the_form_and_in_the_database(client):
    answer = client.post(reverse("workshop:programme_add"), {**PROGRAMME, "from_c": "730"})
    assert "between the coolest and the hottest" in answer.content.decode()
    with pytest.raises(IntegrityError), transaction.atomic():
        Programme.objects.create(
            name="x", hold_c=720, hold_min=25, from_c=730, to_c=760, from_min=20, to_min=30
        )


def test_a_mould_is_measured_in_inches_and_kilograms_as_the_owner_writes_them(client):
    assert client.post(reverse("workshop:mould_add"), MOULD).status_code == 302
    mould = Mould.objects.get()
    assert mould.bead_across_mm == Decimal("12.700")  # 1/2 × 25.4
    assert mould.clay_g == 1200


def test_a_weight_where_a_length_belongs_is_named_in_a_sentence(client):
    answer = client.post(reverse("workshop:mould_add"), {**MOULD, "bead_across_mm": "12 kg"})
    page = answer.content.decode()
    assert "12 kg" in page
    assert "length" in page
    assert not Mould.objects.exists()


def test_a_mould_that_fits_in_no_kiln_is_refused(client):
    make_kiln(places=24)
    answer = client.post(reverse("workshop:mould_add"), {**MOULD, "places": "30"})
    assert "takes 30 places and the largest kiln has 24" in answer.content.decode()


def test_a_business_registered_for_vat_needs_its_number(client):
    make_business()
    form = {
        "name": "Tidewrack Beads",
        "currency": "EUR",
        "time_zone": "Europe/Lisbon",
        "length_unit": "cm",
        "mass_unit": "kg",
        "smallest_coin": "0.05",
        "price_step": "0.10",
        "payment_days": "14",
        "quote_days": "30",
        "deposit_share": "30",
        "margin": "25",
        "overhead": "12",
        "assurance": "95",
        "tax_registered": "on",
        "account_invoices": Business.OnAccount.EVERYBODY,
        "customs_heading": "7018.10",
        "paper_size": "A4",
        "box_tare_g": "0",
    }
    form |= marks_of(client, reverse("workshop:business"))
    answer = client.post(reverse("workshop:business"), form)
    assert "needs its VAT number" in answer.content.decode()
    assert (
        client.post(reverse("workshop:business"), {**form, "tax_number": "PT1"}).status_code == 302
    ), answer.content.decode()
    assert Business.current().margin == Decimal("0.25")


def test_there_is_only_ever_one_business():
    make_business()
    Business(name="Another").save()
    assert Business.objects.count() == 1


def test_a_standard_rate_of_nothing_is_no_standard_rate():
    with pytest.raises(IntegrityError), transaction.atomic():
        TaxRate.objects.create(name="odd", category="S", rate=0, valid_from="2026-01-01")


def test_every_change_says_who_made_it_and_what_it_was_before(client, owner):
    kiln = make_kiln(name="Clay kiln", places=24, fuel_price=Decimal("0.14"))
    form = {
        "name": "Clay kiln",
        "places": "26",
        "lowest_c": "500",
        "highest_c": "1000",
        "preheat_min": "60",
        "cooling_min": "90",
        "fuel": "wood",
        "fuel_price": "0.14",
        "efficiency": "12",
        "moisture": "20",
        "in_use": "on",
    }
    page = reverse("workshop:kiln_change", args=[kiln.pk])
    client.post(page, form | marks_of(client, page))
    act = AuditEntry.objects.get()
    assert act.person == owner
    assert act.before == {"places": "24"}
    assert act.after == {"places": "26"}


@pytest.mark.parametrize("hourly", ["0", "10000"])
def test_pay_of_nothing_or_of_ten_thousand_an_hour_is_asked_about_once(client, owner, hourly):
    url = reverse("workshop:rate_add")
    rate = {
        "step": "Moulding", "skill": "moulding", "basis": "mould", "minutes_each": "6.5",
        "setup_min": "0", "allowance": "10", "hourly": hourly, "valid_from": "2026-01-01",
    }  # fmt: skip
    asked = client.post(url, rate)
    assert asked.status_code == 422
    assert "an hour is unusual" in str(asked.context["form"].errors["as_meant"])
    assert not LabourRate.objects.exists()
    assert client.post(url, rate | {"as_meant": "on"}).status_code == 302
    assert LabourRate.objects.get().hourly == Decimal(hourly)
