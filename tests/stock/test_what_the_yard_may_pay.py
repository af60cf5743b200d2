"""What leaves the yard as money: by the price list, and as far as the owner lets it go."""

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from stock.models import Balance, LocationKind, Sack
from stock.services.payouts import pay_collector
from stock.services.sacks import weigh_in_sack
from tests.builders import (
    make_bead,
    make_business,
    make_collector,
    make_colour,
    make_person,
)
from tests.hard.test_asvs_forms import boxes_of

pytestmark = pytest.mark.django_db
LOG = reverse("stock:sack_log")


@pytest.fixture
def yard(client):
    client.force_login(make_person("yard"))
    return client


def sack(**given):
    usual = {
        "collector": make_collector().pk,
        "colour": make_colour(price_per_kg=Decimal("0.40")).pk,
        "paid": "yes",
        "gross_g": "50",
        "dirt_share": "0",
        "origin": "bottles",
        "received_on": "2026-01-10",
        "key": str(uuid.uuid4()),
    }
    return usual | given


def test_the_yard_pays_the_price_list_and_nobody_dreams_up_another(yard):
    """50 kg at 9,999 the kilogram, in cash, was paid out without a word."""
    make_business()
    answer = yard.post(LOG, sack(price_per_kg="9999"))
    assert answer.status_code == 422
    assert "You may pay up to €0.40 a kilogram" in answer.content.decode()
    assert not Sack.objects.exists()
    yard.post(LOG, sack(price_per_kg="0.35"))
    assert Sack.objects.get().amount == Decimal("17.50")  # 50 kg at 0.35: less is no harm


def test_the_owner_sets_how_far_the_yard_may_go(yard):
    make_business(yard_price_most=Decimal("0.60"), yard_cash_most=Decimal("25"))
    assert yard.post(LOG, sack(price_per_kg="0.61")).status_code == 422
    dear = yard.post(LOG, sack(price_per_kg="0.60"))  # 50 kg at 0.60: 30.00
    assert "You may pay out up to €25.00 at a time" in dear.content.decode()
    assert yard.post(LOG, sack(price_per_kg="0.60", paid="no")).status_code == 302
    with pytest.raises(ValidationError, match="Leave it owed"):
        pay_collector(make_collector(), person=make_person("yard"))
    assert pay_collector(make_collector(), person=make_person("owner")).total == Decimal(30)


def test_the_owner_pays_what_she_likes():
    make_business()
    weighed = weigh_in_sack(
        make_collector(), colour=make_colour(), gross_g=1000, dirt_share=Decimal(0),
        price_per_kg=Decimal(9), paid=True, person=make_person("owner"),
    )  # fmt: skip
    assert weighed.amount == 9


COSTS = {
    "price_per_kg": "0.01",
    "washing_yield": "100",
    "powder_yield": "100",
    "chunk_yield": "100",
    "density_g_cm3": "9",
    "expansion_e7": "1",
}


def test_what_every_cost_is_worked_out_from_is_the_owners_alone(yard):
    colour = make_colour(price_per_kg=Decimal("0.40"))
    page = reverse("stock:colour_change", args=[colour.pk])
    boxes = boxes_of(yard.get(page).content.decode())
    assert not set(COSTS) & set(boxes)
    before = {name: getattr(colour, name) for name in COSTS}
    assert yard.post(page, {**boxes, **COSTS, "name": "sea green"}).status_code == 302
    colour.refresh_from_db()
    assert colour.name == "sea green"
    assert {name: getattr(colour, name) for name in COSTS} == before


def test_pigment_and_paint_are_priced_by_the_owner(client):
    bead = make_bead(pigment_price_per_kg=Decimal(30), paint_price_each=Decimal("0.02"))
    client.force_login(make_person("kiln"))
    page = reverse("stock:bead_change", args=[bead.pk])
    boxes = boxes_of(client.get(page).content.decode())
    cheap = {"pigment_price_per_kg": "0", "paint_price_each": "0", "spill_share": "3"}
    assert client.post(page, {**boxes, **cheap}).status_code == 302
    bead.refresh_from_db()
    assert (bead.pigment_price_per_kg, bead.paint_price_each) == (30, Decimal("0.02"))
    assert bead.spill_share == Decimal("0.03")


def test_what_opening_stock_is_worth_is_the_owners_word(yard):
    page = reverse("stock:glass_opening")
    sent = {
        "colour": make_colour().pk, "form": "raw", "mass_g": "12.5", "value": "5000",
        "on": "2026-01-02", "key": str(uuid.uuid4()),
    }  # fmt: skip
    assert yard.post(page, sent).status_code == 302
    # Not the 5,000 that was sent: 12.5 kg at the 0.20 a kilogram of the price list.
    assert Balance.objects.get(place__kind=LocationKind.YARD).value == Decimal("2.50")


@pytest.mark.parametrize("day", ["0001-01-01", "1999-12-31", "9999-12-31"])
def test_a_day_that_cannot_be_meant_is_refused_at_its_box(yard, day):
    answer = yard.post(LOG, sack(received_on=day, price_per_kg=""))
    assert answer.status_code == 422
    assert "received_on" in answer.context["form"].errors
    assert not Sack.objects.exists()
