"""The pictures of one order's way, made anew from the demo's facts:

    python -m pytest tests/browser/tour.py -q

They lie in workshop/tour/, beside the page that tells of them. No test: nothing is judged here, and
a usual run does not collect this file.
"""

import io
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page

from orders.models import Order
from tests.browser.test_first_order import (  # noqa: F401  the fixture
    COUNTER,
    PHONE,
    add_design,
    sign_in,
    sign_out,
    strands,
    workshop,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FOLDER = Path(__file__).parents[2] / "workshop" / "tour"
WIDTH_PX = {"counter": 860, "phone": 300}
QUALITY = 62  # of 100; a picture then weighs some 20 kB


def test_take_pictures(patient, live_server, workshop):  # noqa: F811
    page, base = patient.new_page(), live_server.url
    page.emulate_media(color_scheme="light")
    as_at(page, base, "dario", workshop, COUNTER)
    page.goto(f"{base}/counter/")
    page.get_by_placeholder("Name or telephone").fill("Marisa")
    page.locator("#people").get_by_role("button", name="Marisa Orlo").first.click()
    page.get_by_role("button", name="Somebody else").wait_for()
    for line, (design, many) in enumerate(
        (("Harbour bracelet", "30"), ("Tide necklace with centrepiece", "1 dozen")), start=1
    ):
        add_design(page, design, line=line)
        strands(page, line).fill(many)
        strands(page, line).blur()
    page.get_by_text("€582.00").first.wait_for()
    page.wait_for_timeout(1000)
    keep(page, "1-counter", "counter")
    page.get_by_label("Deposit taken").fill("120")
    page.get_by_role("button", name="Take the order").last.click()
    page.wait_for_url("**/orders/*/")
    keep(page, "2-order", "counter")

    as_at(page, base, "bruna", workshop, PHONE)
    page.goto(f"{base}/stock/sacks/log/")
    page.get_by_role("radio", name="Celia Worth").check()
    page.get_by_role("radio", name="cobalt").check()
    page.get_by_label("On the scale").fill("9.5")
    keep(page, "3-sack", "phone")
    page.get_by_role("button", name="Weigh it in").click()
    page.get_by_text("Just weighed in").wait_for()

    as_at(page, base, "olek", workshop, PHONE)
    page.goto(f"{base}/firing/")
    keep(page, "4-firing", "phone")

    as_at(page, base, "mirela", workshop, PHONE)
    page.goto(f"{base}/bench/")
    keep(page, "5-bench", "phone")

    as_at(page, base, "dario", workshop, COUNTER)
    order = Order.objects.get()
    page.goto(f"{base}/orders/{order.number}/invoice/")
    page.get_by_role("button", name="Issue").last.click()
    page.wait_for_url("**/money/papers/*/")
    keep(page, "6-invoice", "counter")


def as_at(page: Page, base: str, name: str, passwords: dict[str, str], size: dict) -> None:
    sign_out(page)
    page.set_viewport_size(size)
    sign_in(page, base, name, passwords[name])


def keep(page: Page, name: str, where: str) -> None:
    """What stands on the screen, made smaller."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    picture.thumbnail((WIDTH_PX[where], 2000))
    picture.save(FOLDER / f"{name}.webp", quality=QUALITY, method=6)
