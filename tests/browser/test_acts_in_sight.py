"""The next act is in sight without scrolling, boards stay short, and keys lead to the search."""

import re

import pytest
from playwright.sync_api import expect

from orders.models import Order
from stock.models import KilnLoad

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE = {"width": 360, "height": 740}
TALL = "document.documentElement.scrollHeight"


def main_act(page):
    return page.locator("main .button.main:visible").first


@pytest.fixture
def places(demo) -> dict[str, tuple[str, str]]:
    """Pages with an act, each with the role that stands before it."""
    load = KilnLoad.objects.filter(state="planned").order_by("starts_at", "number").first()
    waiting = Order.objects.open().filter(stage__lt=3).order_by("due_on", "number").first()
    return {
        "the keeper's home": ("kiln", "/"),
        "the yard's home": ("yard", "/"),
        "the bench's home": ("bench", "/"),
        "the counter's home": ("counter", "/"),
        "the board": ("kiln", "/firing/"),
        "a load": ("kiln", f"/firing/load/{load.number}/"),
        "an order": ("owner", f"/orders/{waiting.number}/"),
    }


def test_one_main_act_is_in_sight_on_a_phone(places, signed_in, live_server):
    """Above the rooms, whole, and large enough for a thumb: 56 px."""
    for where, (role, path) in places.items():
        page = signed_in(role)
        page.set_viewport_size(PHONE)
        page.goto(live_server.url + path)
        act, rooms = main_act(page), page.locator("nav.rooms")
        expect(act, where).to_be_in_viewport(ratio=1)
        box = act.bounding_box()
        assert box["y"] + box["height"] <= rooms.bounding_box()["y"], where
        assert box["height"] >= 55, where
        page.close()


def test_the_board_of_the_demo_stays_short(demo, signed_in, live_server):
    """Goal: under 1,400 px at a width of 1280 and under 2,400 px on a phone."""
    page = signed_in("kiln")
    for width, most in ((1280, 1400), (360, 2400)):
        page.set_viewport_size({"width": width, "height": 740})
        page.goto(f"{live_server.url}/firing/")
        assert page.evaluate(TALL) < most


def test_a_stroke_leads_to_the_search_and_a_question_mark_to_the_keys(demo, signed_in, live_server):
    page = signed_in("owner")
    for size in (PHONE, {"width": 1280, "height": 800}):
        page.set_viewport_size(size)
        page.goto(f"{live_server.url}/orders/")
        page.keyboard.press("/")
        box = page.locator("form.find input:focus")
        expect(box).to_be_visible()
        box.fill("a/b?")  # whoever types a stroke means a stroke
        assert box.input_value() == "a/b?"
    page.goto(f"{live_server.url}/orders/")
    page.locator("h1").click()
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_be_in_viewport()


def test_the_sheet_at_the_counter_shows_day_and_button(demo, signed_in, live_server):
    page = signed_in("counter")
    page.set_viewport_size({"width": 1280, "height": 720})
    page.goto(f"{live_server.url}/counter/")
    for design in range(3):
        page.locator("#designs button.card").nth(design).click()
        expect(page.locator("#order-lines .order-line")).to_have_count(design + 1)
    for size in ({"width": 1280, "height": 720}, {"width": 1366, "height": 768}):
        page.set_viewport_size(size)
        expect(page.get_by_role("button", name=re.compile("^Take the order"))).to_be_in_viewport()
        expect(page.locator("#dock-figures")).to_be_in_viewport(ratio=1)
