"""One figure has one value on every page that tells it: glass to prepare, and the day."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.firing.queries.waiting import waiting_on_firing
from orders.home.queries.to_prepare import glass_to_prepare_for_orders
from orders.making.queries.shortage import glass_short_by_colour
from orders.models import Order
from stock.models import GlassColour, GlassForm
from tests.builders import make_colour, make_order, make_person, put_glass
from workshop import formats

pytestmark = pytest.mark.django_db

RAW = re.compile(r"green, ([\d.]+)\s+kg raw to prepare")


@pytest.fixture
def two_orders(workshop) -> list[Order]:
    """Powder for the first order alone lies ready; for the second there is raw glass."""
    orders = [
        make_order(10, design=workshop["design"], due_on=date(2027, 3, 5)),
        make_order(10, design=workshop["design"], due_on=date(2027, 3, 12)),
    ]
    kg = Decimal(orders[0].glass_needs.get().needed_mg) / 1_000_000
    put_glass(make_colour(), GlassForm.POWDER, kg)
    put_glass(make_colour(), GlassForm.RAW, 20)
    return orders


def page(client, name: str, *args) -> str:
    return client.get(reverse(name, args=args)).content.decode()


def raw_told(words: str) -> list[str]:
    return RAW.findall(words)


def test_glass_to_prepare_is_told_alike_wherever_it_is_told(client, two_orders):
    client.force_login(make_person("owner"))
    first, second = (order.number for order in two_orders)
    assert raw_told(page(client, "orders:order_detail", first)) == []  # its powder lies ready
    (told,) = raw_told(page(client, "orders:order_detail", second))
    assert raw_told(page(client, "orders:home")) == [told]
    assert raw_told(page(client, "orders:firing")) == [told]
    (row,) = glass_to_prepare_for_orders(timezone.localdate())
    assert formats.mass(Decimal(row.raw_mg) / 1000).split()[0] == told
    shortage = page(client, "orders:glass_short")
    assert re.search(rf"Raw needed</dt>\s*<dd>\s*{re.escape(told)}\s", shortage)


def test_the_orders_parts_are_the_whole_of_the_work_list(workshop, two_orders):
    """Each order's part is rounded up to the milligram, the whole once."""
    make_order(7, design=workshop["design"], due_on=date(2027, 3, 19))
    parts = sum(
        lack.to_prepare_mg
        for each in waiting_on_firing()
        for job in each.jobs
        for lack in job.missing
    )
    (row,) = glass_to_prepare_for_orders(timezone.localdate())
    (short,) = [row for row in glass_short_by_colour(timezone.localdate()) if row.forms]
    assert row.raw_mg == short.raw_needed_mg == pytest.approx(parts, abs=2)


def test_what_is_partly_in_the_yard_is_partly_short_and_partly_to_be_prepared(workshop):
    put_glass(make_colour(), GlassForm.RAW, Decimal("0.010"))
    make_order(10, design=workshop["design"])
    (waiting,) = waiting_on_firing()
    assert waiting.reasons[0].sentence.endswith("raw short and 0.010\u00a0kg raw to prepare")
    assert waiting.is_short


def test_the_explanation_of_a_day_ends_on_the_day_of_the_card(client, workshop):
    order = make_order(10, design=workshop["design"])
    later = order.p90_on + timedelta(days=9)
    Order.objects.filter(pk=order.pk).update(p90_on=later, likely_on=later - timedelta(days=1))
    client.force_login(make_person("owner"))
    words = page(client, "orders:order_detail", order.number)
    steps = words.split('class="promise-steps"')[1].split("</ol>")[0]
    assert "As the kilns are planned now" in steps
    assert steps.count(formats.date_short(later)) == 1
    last_day = re.findall(r'class="num"\s*>([^<]+)<', steps)[-1]
    assert last_day == formats.date_short(later)


def test_a_day_that_nothing_moved_is_told_once(client, workshop):
    order = make_order(10, design=workshop["design"])
    client.force_login(make_person("owner"))
    assert "As the kilns are planned now" not in page(client, "orders:order_detail", order.number)


def test_window_glass_is_not_counted_among_what_is_ready_to_mould(client, db):
    window = GlassColour.objects.create(name="window", swatch="#c8d8d4", kind="sheet")
    put_glass(make_colour(), GlassForm.POWDER, 3)
    put_glass(window, GlassForm.POWDER, 5)
    client.force_login(make_person("yard"))
    words = " ".join(page(client, "stock:glass").split())
    assert "3.000 kg ready to mould" in words
    assert "5.000 kg of other glass, not counted here" in words
