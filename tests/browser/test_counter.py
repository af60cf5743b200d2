"""Taking an order at the counter with a real keyboard and with a thumb."""

import re
import time
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from playwright.sync_api import expect

from orders.models import Order
from tests.builders import (
    make_bead,
    make_business,
    make_customer,
    make_design,
    make_kiln,
    make_person,
    make_rate,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def counter(db, page, context, live_server, settings):
    """A counter hand signed in, two designs and two customers on the list."""
    make_business()
    make_kiln()
    make_rate()
    make_design("Harbour bracelet", beads=make_bead())
    make_design("Tide necklace", beads=make_bead("Pea", diameter_mm=Decimal(8)))
    make_customer("Marisa Orlo")
    make_customer("Tomas Reku")
    client = Client()
    client.force_login(make_person("counter"))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size({"width": 1280, "height": 860})
    page.goto(f"{live_server.url}/counter/")
    return page


def number_box(page, n: int):
    return page.locator("input[name^='n_']").nth(n)


def test_an_order_is_taken_by_keyboard_alone_in_under_a_minute(counter):
    page, began = counter, time.monotonic()
    expect(page.locator("#id_who")).to_be_focused(timeout=30_000)
    page.keyboard.type("orlo")  # the cursor stands in “Who is it for?” already
    page.locator("#people .person", has_text="Marisa Orlo").wait_for()
    page.keyboard.press("Enter")
    page.locator(".counter-who strong", has_text="Marisa Orlo").wait_for()
    page.locator("#id_find").focus()
    page.keyboard.type("harbour")
    page.locator("#designs .card").nth(1).wait_for(state="detached")
    page.keyboard.press("Enter")
    number_box(page, 0).wait_for()
    expect(number_box(page, 0)).to_be_focused(timeout=30_000)
    page.keyboard.type("30")
    page.locator(".line-sum", has_text=re.compile(r"\d")).wait_for()
    page.keyboard.press("Enter")  # to the next box, not off with the form
    expect(page.locator("#id_find")).to_be_focused(timeout=30_000)
    page.locator("#sheet", has_text="so that 540 come good").wait_for()  # 30 strands of 18
    page.locator("#sheet button.main").press("Enter")
    page.wait_for_url(re.compile(r"/orders/\d+/"))
    assert time.monotonic() - began < 60
    order = Order.objects.get()
    assert (order.customer.name, order.lines.get().strands) == ("Marisa Orlo", 30)


def test_plus_and_minus_count_at_once_and_the_sheet_follows(counter):
    page = counter
    page.get_by_role("button", name="Harbour bracelet").click()
    number_box(page, 0).wait_for()
    for _again in range(3):
        page.locator("[data-step='1']").click()
    assert number_box(page, 0).input_value() == "4"
    page.locator("[data-step='-1']").click()
    assert number_box(page, 0).input_value() == "3"
    page.locator("#sheet", has_text="so that 54 come good").wait_for()  # 3 strands of 18


def test_escape_loses_nothing(counter):
    page = counter
    page.get_by_role("button", name="Harbour bracelet").click()
    number_box(page, 0).fill("12")
    page.fill("[name='note']", "for the fair")
    for box in (number_box(page, 0), page.locator("[name='note']"), page.locator("#id_find")):
        box.press("Escape")
    assert number_box(page, 0).input_value() == "12"
    assert page.input_value("[name='note']") == "for the fair"


def test_what_is_typed_while_the_page_is_on_its_way_is_kept(counter):
    page = counter
    page.get_by_role("button", name="Harbour bracelet").click()
    number_box(page, 0).wait_for()
    page.wait_for_load_state("networkidle")

    def slowly(route):
        time.sleep(0.6)
        route.continue_()

    page.route("**/counter/change/", slowly)
    page.get_by_role("button", name="Tide necklace").click()
    number_box(page, 0).fill("25")  # before the answer is there
    number_box(page, 1).wait_for()
    assert number_box(page, 0).input_value() == "25"
    page.locator("#sheet", has_text=re.compile("so that (?!18 )")).wait_for()


def test_a_figure_opens_its_working(counter):
    page = counter
    page.get_by_role("button", name="Harbour bracelet").click()
    page.locator("#sheet summary", has_text="To start").click()
    page.locator("#sheet .opened .term-name").first.wait_for()


def test_a_closed_day_is_told_and_all_else_is_kept(counter):
    page = counter
    page.locator("#people .person", has_text="Tomas Reku").click()
    page.get_by_role("button", name="Harbour bracelet").click()
    number_box(page, 0).fill("7")
    page.locator("#sheet", has_text="so that 126 come good").wait_for()  # 7 strands of 18
    page.fill("[name='due_on']", (date.today() - timedelta(days=3)).isoformat())
    page.wait_for_load_state("networkidle")
    page.locator("#sheet button.main").click()
    page.locator(".error-summary", has_text="has passed").wait_for()
    assert number_box(page, 0).input_value() == "7"
    assert "Tomas Reku" in page.locator(".counter-who").inner_text()
    assert not Order.objects.exists()


def test_on_a_phone_date_price_and_button_stay_in_reach(counter):
    page = counter
    page.set_viewport_size({"width": 360, "height": 740})
    page.get_by_role("button", name="Harbour bracelet").click()
    number_box(page, 0).wait_for()
    dock = page.locator(".dock")
    dock.wait_for()
    for scroll in (0, 600, 5000):
        page.evaluate(f"window.scrollTo(0, {scroll})")
        box = page.locator(".dock button.main").bounding_box()
        assert box["y"] > 0 and box["y"] + box["height"] <= 740
        assert box["height"] >= 44
    assert "Collect from" in dock.inner_text() and "Price" in dock.inner_text()
    sideways = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(sideways) <= 0
