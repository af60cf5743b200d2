"""Prices in talk: what if she takes more, a sum she offers, a discount told as a price."""

import re
from decimal import Decimal as D

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import DesignPrice, Order
from tests.builders import make_design
from workshop.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def counter(client, workshop):
    """4.00 each, 3.50 from 50 strands on."""
    client.force_login(Person.objects.get(role="counter"))
    for least, price in ((1, "40.00"), (50, "35.00")):
        DesignPrice.objects.create(
            design=workshop["design"],
            from_strands=least,
            price=D(price),
            valid_from=timezone.localdate(),
        )
    return client


def asked(counter, design, act="talk", **boxes) -> str:
    data = {"line": [str(design.pk)], f"n_{design.pk}": "10", "do": act}
    data |= {f"talk-{name}": value for name, value in boxes.items()}
    return counter.post(reverse("orders:counter_change"), data).content.decode()


def answer(told: str) -> str:
    return re.sub(r"\s+", " ", told[told.index('id="talk-answer"') :])


def test_fifty_are_told_at_the_price_of_fifty(counter, workshop):
    told = answer(asked(counter, workshop["design"], strands="50"))
    assert "€40.00" in told and "€35.00" in told and "€1,750.00" in told
    assert "Lowest, each" in told and "Full cost" in told
    assert not Order.objects.exists()


@pytest.mark.parametrize(
    ("boxes", "each"),
    [
        ({"off": "10"}, "36"),  # 40 less a tenth
        ({"total": "350"}, "35"),  # 350 ÷ 10
        ({"total": "100.04"}, "10"),  # 10.004, to the cent
        ({"strands": "50", "off": "10"}, "31.5"),  # 35 less a tenth
    ],
)
def test_a_discount_is_told_as_a_price_and_written_over_at_a_tap(counter, workshop, boxes, each):
    design = workshop["design"]
    assert f"€{D(each):.2f}" in answer(asked(counter, design, **boxes))
    over = asked(counter, design, act="talk-over", **boxes)
    assert re.search(rf'name="p_{design.pk}" value="([^"]*)"', over)[1] == f"{D(each):.2f}"
    assert f'name="n_{design.pk}" value="{boxes.get("strands", "10")}"' in over


def test_a_sum_is_spread_over_the_lines_by_what_they_would_cost(counter, workshop):
    design, other = workshop["design"], make_design("Choker", beads=workshop["bead"])
    DesignPrice.objects.create(
        design=other, from_strands=1, price=D(60), valid_from=timezone.localdate()
    )
    data = {
        "line": [str(design.pk), str(other.pk)],
        f"n_{design.pk}": "1",
        f"n_{other.pk}": "1",
        "talk-total": "50",
        "do": "talk-over",
    }
    told = counter.post(reverse("orders:counter_change"), data).content.decode()
    prices = dict(re.findall(r'name="p_(\d+)" value="([^"]*)"', told))
    assert prices == {str(design.pk): "20.00", str(other.pk): "30.00"}  # 40 : 60


@pytest.mark.parametrize(
    ("boxes", "sentence"),
    [
        ({}, "Write how many, a sum, or a discount."),
        ({"total": "10", "off": "5"}, "not both"),
        ({"strands": "many"}, "many"),
        ({"off": "120"}, "100"),
    ],
)
def test_what_cannot_be_read_is_said(counter, workshop, boxes, sentence):
    told = answer(asked(counter, workshop["design"], **boxes))
    assert sentence in told and "Price then" not in told


def test_what_is_ours_stands_in_parts_that_one_tap_hides(counter, workshop):
    """Floors, margin and their words; she sees the day and the price."""
    told = asked(counter, workshop["design"], strands="50")
    seen = re.sub(r'<(\w+)[^>]*class="[^"]*\bours\b[^"]*".*?</\1>', "", told, flags=re.S)
    assert "Price then" in seen and "Full cost" not in seen.split('id="talk-answer"')[1]
    page = counter.get(reverse("orders:counter")).content.decode()
    assert 'id="turned"' in page
