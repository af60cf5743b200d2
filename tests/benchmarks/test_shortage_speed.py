"""What is short, over 5,000 open order lines: at most 12 queries and under 300 ms."""

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import GlassNeed, Order, OrderLine
from stock.models import GlassForm
from tests.builders import make_colour, make_customer, make_design, make_person, put_glass

pytestmark = pytest.mark.django_db
ORDERS, LINES = 1250, 4


@pytest.fixture
def five_thousand_lines():
    colours = [make_colour(f"colour {n}", swatch="#336655") for n in range(10)]
    for colour in colours:
        put_glass(colour, GlassForm.RAW, 20)
        put_glass(colour, GlassForm.POWDER, 3)
    designs = [make_design(f"Design {n}", code=f"design-{n}") for n in range(LINES)]
    today = timezone.localdate()
    Order.objects.bulk_create(
        Order(
            number=n + 1, customer=make_customer(), state="confirmed", taken_on=today, due_on=today
        )
        for n in range(ORDERS)
    )
    orders = list(Order.objects.all())
    OrderLine.objects.bulk_create(
        OrderLine(order=order, design=design, strands=5, price=3)
        for order in orders
        for design in designs
    )
    GlassNeed.objects.bulk_create(
        GlassNeed(order=order, colour=colours[(n + k) % 10], form=form, needed_mg=150_000)
        for n, order in enumerate(orders)
        for k, form in ((0, "powder"), (3, "powder"), (5, "chunks"))
    )
    assert OrderLine.objects.count() == 5000


def test_the_shortage_page(benchmark, client, five_thousand_lines, django_assert_max_num_queries):
    client.force_login(make_person("yard"))
    page = reverse("orders:glass_short")
    with django_assert_max_num_queries(12):
        assert client.get(page).status_code == 200
    benchmark(client.get, page)
