"""A new workshop answers little; what it is not asked is filled in as is usual."""

from datetime import time
from decimal import Decimal

import pytest
from django.urls import reverse

from stock.models import Balance, Bead, GlassColour
from stock.services.standard_beads import cost_of_bead
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
    make_rate,
)
from tests.plain_pages import PlainPages
from workshop.models import Business, Kiln, LabourRate, Mould, Programme, TaxRate, WorkingHours
from workshop.physics.practice import FIRING_WINDOWS
from workshop.usual import programme_limits

pytestmark = pytest.mark.django_db


@pytest.fixture
def pages(client) -> PlainPages:
    client.force_login(make_person("owner"))
    return PlainPages(client)


def test_what_the_owner_says_stands_above_what_the_country_brings(pages):
    pages.open(reverse("workshop:business")).fill("Name", "Saltmarsh Glass")
    pages.fill("Country", "Ghana").fill("Currency", "EUR").fill("Time zone", "Europe/Lisbon")
    pages.press("Save")
    business = Business.objects.get()
    assert (business.currency, business.time_zone) == ("EUR", "Europe/Lisbon")
    assert (business.country, business.paper_size, business.tax_name) == ("GH", "A4", "VAT")
    assert not TaxRate.objects.exists()


def test_whoever_charges_vat_says_the_number_and_the_rate_at_once(pages):
    pages.open(reverse("workshop:business")).fill("Name", "Saltmarsh Glass")
    pages.fill("Registered for VAT").press("Save")
    assert "rate that most of your goods have" in pages.complaints
    assert "VAT number" in pages.complaints
    pages.fill("VAT number", "PT999999990").fill("Usual rate", "23").press("Save")
    assert (TaxRate.objects.get().rate, TaxRate.objects.get().standard) == (23, True)


def test_the_clocks_of_a_business_that_stands_are_chosen_from_a_list(pages):
    make_business(time_zone="Europe/Lisbon")
    pages.open(reverse("workshop:business")).fill("Time zone", "Africa/Accra").press("Save")
    assert Business.current().time_zone == "Africa/Accra"


@pytest.mark.parametrize(
    ("fuel", "efficiency"),
    [("wood", "0.12"), ("charcoal", "0.15"), ("bottled gas", "0.22"), ("electricity", "0.50")],
)
def test_a_kiln_takes_the_usual_efficiency_of_its_fuel(pages, fuel, efficiency):
    # Common practice, no source.
    pages.open(reverse("workshop:kiln_add")).fill(fuel).fill("Fuel price", "0.2")
    pages.fill("Mould places", "12").press("Save")
    assert Kiln.objects.get().efficiency == Decimal(efficiency)


@pytest.mark.parametrize("kind", FIRING_WINDOWS)
@pytest.mark.parametrize("place", [0, 0.5, 1])
def test_limits_proposed_for_a_usual_programme_stay_within_common_practice(kind, place):
    window = FIRING_WINDOWS[kind]
    hold_c = int(window.from_c + place * (window.to_c - window.from_c))
    hold_min = int(window.from_min + place * (window.to_min - window.from_min))
    limits = programme_limits(kind, hold_c, hold_min)
    assert window.from_c <= limits.from_c <= hold_c <= limits.to_c <= window.to_c
    assert window.from_min <= limits.from_min <= hold_min <= limits.to_min <= window.to_min


def test_an_unusual_programme_asks_once_and_keeps_what_was_typed(pages):
    pages.open(reverse("workshop:programme_add")).fill("Temperature", "850").fill("Minutes", "30")
    pages.press("Save")
    assert "commonly fired at 600 to 800 °C" in pages.complaints
    pages.fill("Unusual on purpose").press("Save")
    programme = Programme.objects.get()
    assert (programme.hold_c, programme.from_c, programme.to_c) == (850, 830, 870)


def test_a_mould_weighs_what_its_cavities_ask_for_until_it_is_weighed(pages):
    pages.open(reverse("workshop:mould_add")).fill("Bead size across", "12 mm")
    pages.fill("Cavities", "16").fill("How many owned", "4").press("Save")
    mould = Mould.objects.get()
    # 16 × (2.5 × 12 mm)² × (12 + 20) mm = 460.8 cm³, × 1.9 g/cm³ = 875.5 g, to the next 50 g
    assert (mould.name, mould.clay_g) == ("Round 12", 900)


def test_a_week_is_changed_on_one_page(pages):
    pages.open(reverse("workshop:hours_week")).fill("Friday", False).press("Save")
    assert set(WorkingHours.objects.values_list("weekday", flat=True)) == {0, 1, 2, 3}
    assert WorkingHours.objects.filter(weekday=0).count() == 2
    pages.open(reverse("workshop:hours_week"))
    assert "ticked twice" not in pages.words


def test_a_day_ticked_twice_is_asked_about(pages):
    pages.open(reverse("workshop:hours_week"))
    boxes = pages.page.xpath("//input[@name='form-1-days' and @value='0']")
    boxes[0].checked = True
    pages.page.xpath("//input[@name='form-1-opens']")[0].value = "09:00"
    pages.page.xpath("//input[@name='form-1-closes']")[0].value = "11:00"
    pages.press("Save")
    assert "Monday is ticked twice" in pages.words
    assert not WorkingHours.objects.exists()


def test_a_day_broken_off_twice_is_left_as_it_is(pages):
    for opens, closes in ((6, 8), (10, 12), (14, 16)):
        WorkingHours.objects.create(weekday=2, opens=time(opens), closes=time(closes))
    pages.open(reverse("workshop:hours_week"))
    assert "Wednesday: work is broken off more than once" in pages.words
    pages.fill("Monday").fill("From", "08:00").fill("To", "12:00").press("Save")
    assert WorkingHours.objects.filter(weekday=2).count() == 3
    assert WorkingHours.objects.filter(weekday=0).count() == 1


def test_pay_is_told_once_and_otherwise_by_skill(pages):
    pages.open(reverse("workshop:rate_usual")).fill("Pay by the hour", "9")
    pages.fill("Pay for firing", "11.50").fill("Painting", False).press("Save")
    pay = {rate.step_id: rate.hourly for rate in LabourRate.objects.all()}
    assert pay["Tending the kiln"] == Decimal("11.50")
    assert pay["Stringing"] == 9
    assert "Painting" not in pay
    pages.open(reverse("workshop:rate_usual"))
    assert pages.words.count("there") >= 8  # what stands there already is not asked again


def test_glass_that_lies_here_is_worth_what_its_bottles_cost(pages):
    make_business()
    pages.open(reverse("stock:colour_usual")).fill("Paid for a kilogram", "0.20")
    pages.fill("cobalt").fill("cobalt: Bottles here", "10 kg").fill("cobalt: Own price", "0.60")
    pages.fill("green").fill("green: Chunks here", "2 kg").press("Save")
    assert {c.name: c.price_per_kg for c in GlassColour.objects.all()} == {
        "cobalt": Decimal("0.60"),
        "green": Decimal("0.20"),
    }
    worth = {row.item.name: row.value for row in Balance.objects.filter(inside=True)}
    # 10 kg × 0.60 = 6.00; 2 kg × 0.20 ÷ (0.97 × 0.95) = 0.434074, and no work has a price yet
    assert sorted(worth.values()) == [Decimal("0.434074"), 6]


def test_beads_that_lie_here_are_not_taken_for_nothing(pages):
    make_kiln()
    make_mould()
    make_programme()
    make_colour("green")
    pages.open(reverse("stock:bead_add")).fill("Name", "Green round")
    pages.fill("How many lie here", "144").press("Save")
    assert "Write what one cost to make" in pages.complaints
    assert not Bead.objects.exists()
    pages.fill("What one of them cost", "0.25").press("Save")
    balance = Balance.objects.get(inside=True, quantity__gt=0)
    assert (balance.quantity, balance.value) == (144, 36)


def test_the_first_steps_go_on_where_they_were_left_on_another_device(pages):
    pages.open("/").follow("Go on: Your business").fill("Name", "Saltmarsh Glass").press("Save")
    elsewhere = PlainPages(type(pages.client)())
    elsewhere.client.force_login(make_person("owner", username="also-owner"))
    elsewhere.open("/").follow("Go on: Working hours")
    assert elsewhere.heading == "Hours of the week"
    elsewhere.follow("Not now")
    assert elsewhere.heading == "New kiln"


def test_beads_that_lie_here_take_the_cost_of_making_them(pages):
    make_business()
    make_kiln(fuel_price=Decimal("0.14"))
    mould = make_mould()
    programme = make_programme()
    make_colour("green")
    make_rate("Filling moulds", skill="moulding", basis="mould")
    bead = make_bead("Another", mould=mould, programme=programme)
    pages.open(reverse("stock:bead_add")).fill("Name", "Green round").fill("Mould", str(mould))
    pages.fill("Firing", str(programme)).fill("Kind", "powder").fill("Diameter", "10 mm")
    pages.fill("Colour", "green").fill("How many lie here", "100").press("Save")
    assert pages.complaints == ""
    new = Bead.objects.exclude(pk=bead.pk).get()
    assert Balance.objects.get(inside=True, quantity=100).value == 100 * cost_of_bead(new)
    assert cost_of_bead(new) > 0
