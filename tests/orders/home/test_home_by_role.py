"""Home opens with a person's own next acts, each with its button in place."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from orders.home.queries.today import orders_below_a_floor
from orders.models import Order, Stage
from stock.models import GlassForm, KilnLoad
from tests.builders import make_colour, make_customer, make_order, make_person, put_glass
from tests.orders.firing.conftest import (
    burning_load,
    make_load,
    make_workshop,
    moulded_job,
    put_in,
)
from workshop.models import TaxRate

pytestmark = pytest.mark.django_db


@pytest.fixture
def kilns(db):
    """A workshop with a keeper, a kiln and powder on the shelf."""
    return make_workshop()


def home(client, role: str) -> str:
    client.force_login(make_person(role))
    return client.get(reverse("orders:home")).content.decode()


def acts(page: str) -> list[str]:
    """Titles of the acts, in the order of the page."""
    part = page.split('class="next-acts"')[1].split("</ol>")[0] if "next-acts" in page else ""
    titles = re.findall(r"<strong>(.*?)</strong>", part, re.DOTALL)
    return [" ".join(re.sub(r"<[^>]*>", " ", title).split()) for title in titles]


def in_days(days: int):
    return timezone.localdate() + timedelta(days=days)


def test_the_keeper_opens_what_may_be_opened_before_lighting_the_next(client, kilns):
    long_ago = timezone.now() - timedelta(days=1)
    job = moulded_job(kilns)
    load = burning_load(kilns, job)
    KilnLoad.objects.filter(pk=load.pk).update(started_at=long_ago)
    page = home(client, "kiln")
    assert acts(page) == ["Clay kiln"]
    assert "Open and log load" in page and "one act now" in page


def test_the_keeper_lights_in_one_tap_from_home(client, kilns):
    job = moulded_job(kilns)
    load = make_load(kilns, starts_at=timezone.now() + timedelta(minutes=30))
    put_in(load, job)
    page = home(client, "kiln")
    assert f"Light load {load.number}" in page
    assert reverse("orders:load_start", args=[load.number]) in page
    assert "Carbon monoxide" in page  # the caution's first line stands beside the act


def test_the_yard_prepares_what_orders_wait_for_and_always_logs_a_sack(client, workshop):
    put_glass(make_colour(), GlassForm.RAW, 20)
    make_order(10, design=workshop["design"])
    page = home(client, "yard")
    assert acts(page)[0].endswith("raw green")
    assert reverse("stock:sack_log") in page and "Prepare it" in page


def test_the_bench_is_told_what_lies_ready_in_order_of_due_day(client, workshop):
    put_glass(make_colour(), GlassForm.POWDER, 20)
    later = make_order(10, design=workshop["design"], due_on=in_days(9))
    sooner = make_order(10, design=workshop["design"], due_on=in_days(4))
    page = home(client, "bench")
    told = re.findall(r"for order (\d+)", page)
    assert told == [str(sooner.number), str(later.number)]
    job = sooner.jobs.get()
    assert f"#mould-{job.pk}" in page
    assert f'id="mould-{job.pk}"' in client.get(reverse("orders:bench")).content.decode()


def test_the_counter_hands_over_what_lies_ready_and_calls_who_waits_too_long(client, workshop):
    ready = make_order(2, design=workshop["design"], due_on=in_days(1))
    Order.objects.filter(pk=ready.pk).update(stage=Stage.STRUNG)
    late = make_order(2, design=workshop["design"], due_on=in_days(5))
    Order.objects.filter(pk=late.pk).update(taken_on=in_days(-9), due_on=in_days(-2))
    page = home(client, "counter")
    assert page.index(reverse("orders:order_tell", args=[late.number])) < page.index(
        reverse("orders:order_collect", args=[ready.number])
    )
    assert reverse("orders:counter") in page


def test_the_owner_sees_what_is_late_and_who_has_not_answered(client, workshop):
    quoted = make_order(2, design=workshop["design"])
    Order.objects.filter(pk=quoted.pk).update(state=Order.State.QUOTED)
    page = home(client, "owner")
    assert f"Look at {quoted.number}" in page


def test_nothing_to_do_is_said(client, workshop):
    assert "nothing waits for you" in home(client, "kiln")


def test_the_owner_is_told_which_orders_sell_below_a_floor_and_by_how_much(client, workshop):
    taken = [
        make_order(3, design=workshop["design"], customer=make_customer(name)) for name in "AB"
    ]
    fine = make_order(2, design=workshop["design"], customer=make_customer("C"))
    for order, total, pocket in ((taken[0], 90, 60), (taken[1], 40, 60), (fine, 100, 60)):
        Order.objects.filter(pk=order.pk).update(cost=100, total=total, pocket=pocket)
    assert [(row.order.pk, row.short, row.loses) for row in orders_below_a_floor()] == [
        (taken[1].pk, 60, True),  # 40 comes in, and 60 leaves the drawer
        (taken[0].pk, 10, False),
    ]
    page = home(client, "owner")
    assert "Price below a floor" in page
    assert "loses €60.00" in page and "€10.00 below full cost" in page
    assert "Price below a floor" not in home(client, "counter")


def test_a_price_with_vat_is_held_against_the_floor_without_it(workshop):
    TaxRate.objects.create(
        name="standard", rate=Decimal("0.23"), valid_from=date(2020, 1, 1), standard=True
    )
    order = make_order(10, design=workshop["design"])
    order.lines.update(price=Decimal("12.30"))
    Order.objects.filter(pk=order.pk).update(cost=105, total=123, prices_with_tax=True)
    [row] = orders_below_a_floor()
    assert (row.price, row.short) == (100, 5)  # 123 ÷ 1.23
    Order.objects.filter(pk=order.pk).update(cost=100)
    assert orders_below_a_floor() == []


@pytest.mark.parametrize("role", ["kiln", "bench", "yard", "counter", "owner"])
def test_home_takes_the_same_queries_whatever_waits(
    client, workshop, role, django_assert_max_num_queries
):
    put_glass(make_colour(), GlassForm.POWDER, 50)
    client.force_login(make_person(role))
    client.get(reverse("orders:home"))
    counts = []
    for many in (2, 3):
        for _n in range(many):
            make_order(3, design=workshop["design"], due_on=in_days(3))
        Order.objects.update(cost=1000, prices_with_tax=True)  # each below its floor
        with django_assert_max_num_queries(75) as asked:
            client.get(reverse("orders:home"))
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(("role", "words"), [("kiln", "Prepare green"), ("counter", r"Load \d+")])
def test_an_orders_line_on_the_board_leads_to_what_moves_it_on(client, workshop, role, words):
    """Whoever may prepare glass is led there; the others to what they may open."""
    put_glass(make_colour(), GlassForm.RAW, 20)
    make_order(10, design=workshop["design"])
    client.force_login(make_person(role))
    page = client.get(reverse("orders:firing")).content.decode()
    act = re.search(r'class="wait-act"[^>]*>\s*([^<]+?)\s*<', page)
    assert act and re.fullmatch(words, act[1])


def test_an_orders_page_names_its_next_step(client, workshop):
    put_glass(make_colour(), GlassForm.POWDER, 20)
    order = make_order(10, design=workshop["design"])
    client.force_login(make_person("owner"))
    page = client.get(reverse("orders:order_detail", args=[order.number])).content.decode()
    assert f"Mould {order.jobs.get().to_start}" in page
