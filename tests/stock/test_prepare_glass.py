"""The form of a preparation, and the list of them."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from stock.models import Balance, GlassForm, LocationKind, Preparation
from stock.services.later_days import lowest_since
from stock.services.places import glass_item, usual_place
from tests.builders import make_colour, make_person, put_glass

pytestmark = pytest.mark.django_db
LOG = reverse("stock:preparation_log")


@pytest.fixture
def yard(client):
    client.force_login(make_person("yard"))
    return client


@pytest.fixture
def heap():
    put_glass(make_colour(), GlassForm.RAW, 20)
    return Balance.objects.get(item=glass_item(make_colour(), GlassForm.RAW), place__kind="yard")


def typed(heap, **given):
    usual = {
        "form": "powder",
        f"in_{heap.pk}": "10",
        f"out_{make_colour().pk}": "8.7",
        "lost_dust": "0.4",
        "hand": make_person("yard").pk,
        "minutes": "90",
        "sieve_mm": "0.25",
        "on": "2026-03-01",
        "key": str(uuid.uuid4()),
    }
    return usual | given


def test_washed_and_ground_glass_is_on_the_shelf_and_the_rest_is_named(yard, heap):
    page = yard.post(LOG, typed(heap), follow=True).content.decode()
    shelf = Balance.objects.get(
        item=glass_item(make_colour(), GlassForm.POWDER), place__kind=LocationKind.GLASS_SHELF
    )
    assert shelf.quantity == 8_700_000
    assert "87%" in page  # measured yield
    assert "lost, not weighed apart" in page.lower() and "0.900" in page  # 10 − 8.7 − 0.4


def test_a_sieve_may_be_written_in_inches(yard, heap):
    yard.post(LOG, typed(heap, sieve_mm="1/8 in"))
    assert Preparation.objects.get().sieve_mm == Decimal("3.175")  # 25.4 / 8


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"out": "10.5"}, "only 10.000 kg went in"),
        ({"in": "25"}, "needs 25.000"),
        ({"in": "-1"}, "-1"),
        ({"in": ""}, "Write how much glass went in"),
        ({"out": ""}, "Write how much glass came out"),
        ({"sieve_mm": "3 kg"}, "kg"),
    ],
)
def test_a_preparation_that_cannot_be_is_refused_whole(yard, heap, wrong, sentence):
    names = {"in": f"in_{heap.pk}", "out": f"out_{make_colour().pk}"}
    sent = typed(heap, **{names.get(name, name): value for name, value in wrong.items()})
    page = yard.post(LOG, sent)
    said = page.content.decode().replace("\xa0", " ")
    assert page.status_code == 422
    assert sentence in said
    assert 'value="90"' in said  # what was typed stays
    assert not Preparation.objects.exists()
    heap.refresh_from_db()
    assert heap.quantity == 20_000_000


def test_the_list_takes_the_same_queries_for_many_as_for_one(
    yard, heap, django_assert_max_num_queries
):
    yard.post(LOG, typed(heap, **{f"in_{heap.pk}": "1", f"out_{make_colour().pk}": "0.5"}))
    with django_assert_max_num_queries(40) as one:
        yard.get(reverse("stock:preparation_list"))
    for _ in range(5):
        sent = typed(heap, **{f"in_{heap.pk}": "1", f"out_{make_colour().pk}": "0.5"})
        yard.post(LOG, sent)
    with django_assert_max_num_queries(40) as many:
        page = yard.get(reverse("stock:preparation_list"))
    assert len(many) == len(one)
    assert page.content.decode().count("row-head") >= 6


def test_the_counter_does_not_log_preparations(client, heap):
    client.force_login(make_person("counter"))
    assert client.post(LOG, typed(heap)).status_code == 404


def test_what_came_in_on_a_day_may_be_taken_out_on_that_same_day():
    """The level counts at the end of the day, so the order of its events does not matter."""
    colour = make_colour()
    yard, glass = usual_place(LocationKind.YARD), glass_item(colour, GlassForm.RAW)
    day = timezone.localdate() - timedelta(days=3)
    put_glass(colour, GlassForm.RAW, 10, on=day)
    assert lowest_since(glass.pk, yard.pk, day) == (10_000_000, timezone.localdate())
    assert lowest_since(glass.pk, yard.pk, day - timedelta(days=1))[0] == 0
