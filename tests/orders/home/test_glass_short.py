"""What is short across the orders, and the sheet that asks collectors for it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.making.queries.shortage import glass_short_by_colour
from orders.models import GlassNeed, Order
from stock.models import GlassForm
from tests.builders import make_colour, make_customer, make_person, put_glass

pytestmark = pytest.mark.django_db


def order_wanting(colour, form, kg, *, used=0, state="confirmed", due=None):
    today = timezone.localdate()
    number = (Order.objects.order_by("-number").values_list("number", flat=True).first() or 0) + 1
    order = Order.objects.create(
        number=number, customer=make_customer(), state=state, taken_on=today, due_on=due
    )
    GlassNeed.objects.create(
        order=order,
        colour=colour,
        form=form,
        needed_mg=int(Decimal(kg) * 1_000_000),
        used_mg=int(Decimal(used) * 1_000_000),
    )
    return order


def shortage_of(colour):
    rows = glass_short_by_colour(timezone.localdate())
    return next(row for row in rows if row.colour == colour)


def test_ready_glass_is_taken_first_then_raw_then_it_is_short():
    # 8 kg of powder wanted, 2 kg ready: 6 kg lacking; ÷ (0.97 × 0.90) = 6.8729 kg raw;
    # 5 kg in the yard: 1.8729 kg short; bottles of 350 g: 5.35, so 6.
    green = make_colour(washing_yield=Decimal("0.97"), powder_yield=Decimal("0.90"), bottle_g=350)
    put_glass(green, GlassForm.POWDER, 2)
    put_glass(green, GlassForm.RAW, 5)
    order_wanting(green, "powder", 5)
    order_wanting(green, "powder", 3)
    row = shortage_of(green)
    assert row.orders == 2
    assert row.raw_needed_mg == pytest.approx(6_872_853, abs=1)
    assert row.short_mg == pytest.approx(1_872_853, abs=1)
    assert row.bottles == 6


def test_powder_and_chunks_of_a_colour_share_its_raw_glass():
    green = make_colour(
        washing_yield=Decimal(1), powder_yield=Decimal("0.5"), chunk_yield=Decimal("0.8")
    )
    put_glass(green, GlassForm.RAW, 4)
    order_wanting(green, "powder", 1)  # 2 kg raw
    order_wanting(green, "chunks", 4)  # 5 kg raw
    row = shortage_of(green)
    assert {form.form: form.raw_for_it_mg for form in row.forms} == {
        "chunks": 5_000_000,
        "powder": 2_000_000,
    }
    assert row.short_mg == 3_000_000


def test_what_was_used_and_what_is_not_confirmed_is_not_wanted():
    green = make_colour()
    order_wanting(green, "powder", 5, used=5)
    order_wanting(green, "powder", 5, state="draft")
    order_wanting(green, "powder", 5, state="collected")
    assert shortage_of(green).forms == ()


def test_the_sheet_asks_for_what_is_short_and_for_the_mark(client):
    green = make_colour(washing_yield=Decimal(1), powder_yield=Decimal(1), reorder_g=10_000)
    put_glass(green, GlassForm.RAW, 4)
    order_wanting(green, "powder", 6, due=timezone.localdate() + timedelta(days=9))
    row = shortage_of(green)
    # 2 kg short for orders, and 10 kg to be back at the mark; at 0.20 a kg: 2.40
    assert (row.short_mg, row.to_mark_mg, row.collect_mg) == (2_000_000, 10_000_000, 12_000_000)
    assert row.price_offered == Decimal("2.40")
    client.force_login(make_person("yard"))
    sheet = client.get(reverse("orders:glass_collect")).content.decode()
    assert "12.000" in sheet and "€0.20" in sheet
    page = client.get(reverse("orders:glass_short")).content.decode()
    assert "2.000" in page and "about 6 bottles" in page  # 2000 / 350 = 5.7


def test_the_page_names_no_customer_and_the_counter_may_look(client):
    order_wanting(make_colour(), "powder", 6)
    client.force_login(make_person("counter"))
    page = client.get(reverse("orders:glass_short")).content.decode()
    assert "Marisa" not in page
    assert client.get(reverse("orders:glass_collect")).status_code == 404
    client.force_login(make_person("bench"))
    assert client.get(reverse("orders:glass_short")).status_code == 404


def test_with_nothing_short_the_page_says_so(client):
    client.force_login(make_person("yard"))
    assert "Nothing is short" in client.get(reverse("orders:glass_short")).content.decode()
