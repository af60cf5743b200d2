"""Glass that orders wait for and that lies raw: a work list with its sacks, day and minutes."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.home.queries.to_prepare import glass_to_prepare_for_orders
from stock.models import GlassForm, Preparation, Sack
from stock.services.sacks import weigh_in_sack
from tests.builders import (
    make_business,
    make_collector,
    make_colour,
    make_person,
    make_rate,
    put_glass,
)
from tests.orders.home.test_glass_short import order_wanting

pytestmark = pytest.mark.django_db


def waiting():
    return glass_to_prepare_for_orders(timezone.localdate())


def sack_of(colour, kg: int) -> Sack:
    return weigh_in_sack(
        collector=make_collector(),
        colour=colour,
        gross_g=kg * 1000,
        dirt_share=Decimal(0),
        person=make_person("yard"),
    )


@pytest.fixture
def green(db):
    """Washing loses 3 in 100 and grinding 10 in 100."""
    make_business()
    return make_colour(washing_yield=Decimal("0.97"), powder_yield=Decimal("0.90"))


def test_what_is_lacking_and_lies_raw_is_to_be_prepared(green):
    """4 kg of powder lack: 4 ÷ (0.97 × 0.90) = 4.5819 kg of raw glass."""
    put_glass(green, GlassForm.POWDER, 1)
    put_glass(green, GlassForm.RAW, 30)
    due = timezone.localdate() + timedelta(days=6)
    order_wanting(green, "powder", 5, due=due)
    (row,) = waiting()
    assert row.raw_mg == pytest.approx(4_581_902, abs=1)
    assert row.ready_mg == pytest.approx(4_000_000, abs=1)
    assert (row.colour, row.form, row.first_due) == (green, "powder", due)


def test_no_more_than_there_is_is_asked_of_the_hands(green):
    put_glass(green, GlassForm.RAW, 2)
    order_wanting(green, "powder", 5)
    (row,) = waiting()
    assert row.raw_mg == 2_000_000


def test_glass_that_has_still_to_be_collected_is_no_work_yet(green):
    order_wanting(green, "powder", 5)
    assert waiting() == []


def test_minutes_are_those_of_the_kilograms_that_come_out_and_one_set_up(green):
    """20 minutes a kilogram and 10 to set up: 4 kg take 90 minutes."""
    make_rate("Grinding", skill="preparing", basis="kg", minutes_each=20, setup_min=10)
    put_glass(green, GlassForm.RAW, 30)
    order_wanting(green, "powder", 4)
    (row,) = waiting()
    assert row.minutes == 90


def test_the_oldest_sacks_that_hold_enough_are_named(green):
    first, second, third = (sack_of(green, kg) for kg in (2, 6, 9))
    order_wanting(green, "powder", 4)  # 4.6 kg of raw glass
    (row,) = waiting()
    assert row.sacks == (first, second)
    assert third not in row.sacks


def test_one_tap_opens_the_preparation_filled_in(client, green):
    put_glass(green, GlassForm.RAW, 30)
    order_wanting(green, "chunks", 2)
    client.force_login(make_person("bench"))
    home = client.get(reverse("orders:home")).content.decode()
    (row,) = waiting()
    address = f"{reverse('stock:preparation_log')}?colour={green.pk}&form=chunks&grams={row.raw_g}"
    assert address.replace("&", "&amp;") in home
    form = client.get(address).context["form"]
    ((_heap, box),) = form.raw_boxes()
    assert (box.value(), row.raw_g) == ("2.171 kg", 2171)
    assert form["form"].value() == "chunks"


@pytest.mark.parametrize("asked", ["colour=x&grams=-1", "colour=²&form=gold&grams=9" + "9" * 40])
def test_nonsense_in_the_address_fills_in_nothing(client, green, asked):
    put_glass(green, GlassForm.RAW, 30)
    client.force_login(make_person("yard"))
    page = client.get(f"{reverse('stock:preparation_log')}?{asked}")
    assert page.status_code == 200
    assert not any(box.value() for _heap, box in page.context["form"].raw_boxes())


def test_the_bench_logs_what_it_ground(client, green):
    put_glass(green, GlassForm.RAW, 5)
    bench = make_person("bench")
    client.force_login(bench)
    address = reverse("stock:preparation_log")
    form = client.get(address).context["form"]
    ((_heap, box),) = form.raw_boxes()
    sent = {"form": "powder", box.html_name: "2 kg", f"out_{green.pk}": "1.7 kg", "minutes": "30"}
    sent |= {"hand": bench.pk, "on": timezone.localdate().isoformat()}
    client.post(address, sent)
    assert Preparation.objects.get().minutes == 30


@pytest.mark.parametrize("colours", [1, 4])
def test_the_list_takes_the_same_queries_whatever_waits(
    green, colours, django_assert_max_num_queries
):
    for n in range(colours):
        colour = make_colour(f"Colour {n}")
        for _sack in range(3):
            sack_of(colour, 1)
        order_wanting(colour, "powder", 2)
    with django_assert_max_num_queries(13):
        assert len(waiting()) == colours


@pytest.mark.papers
def test_the_ticket_names_sacks_and_leaves_room_to_write(client, green):
    sack = sack_of(green, 4)
    order_wanting(green, "powder", 2)
    client.force_login(make_person("yard"))
    page = client.get(reverse("orders:glass_to_prepare")).content.decode()
    assert str(sack) in page
    assert client.get(reverse("orders:prepare_ticket")).headers["Content-Type"] == "application/pdf"
