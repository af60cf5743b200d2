"""A browser without scripts: an order is taken and a sack is weighed in all the same."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from playwright.sync_api import expect

from orders.models import Order
from stock.models import Sack
from tests.builders import (
    make_bead,
    make_business,
    make_collector,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_person,
    make_rate,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def plain_page(transactional_db, browser, live_server, settings):
    """A phone without scripts, on which the counter hand is signed in."""
    make_business()
    client = Client()
    client.force_login(make_person("owner"))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context = browser.new_context(
        java_script_enabled=False,
        viewport={"width": 360, "height": 740},
        base_url=live_server.url,
    )
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    yield context.new_page()
    context.close()


def test_an_order_is_taken(plain_page):
    page = plain_page
    make_kiln()
    make_rate()
    make_design("Harbour bracelet", beads=make_bead())
    make_design("Tide necklace", beads=make_bead("Pea", diameter_mm=Decimal(8)))
    make_customer("Marisa Orlo")
    make_customer("Tomas Reku")
    page.goto("/counter/")
    page.get_by_label("Who is it for?").fill("orlo")
    page.get_by_role("button", name="Find").first.click()
    page.get_by_role("button", name=re.compile("^Marisa Orlo")).click()
    page.get_by_role("button", name=re.compile("^Harbour bracelet")).click()
    strands = page.get_by_label("Harbour bracelet: strands")
    strands.fill("29")
    page.get_by_role("button", name="One Harbour bracelet more").click()
    expect(strands).to_have_value("30")
    expect(page.locator("#figures")).to_contain_text("so that 540 come good")  # 30 × 18
    page.get_by_role("button", name="Take the order").click()
    expect(page.locator("h1")).to_have_text(re.compile(r"Order \d+"))
    assert Order.objects.get().lines.get().strands == 30


def test_a_sack_is_weighed_in(plain_page):
    page = plain_page
    make_colour("cobalt")
    make_collector("Ilse Brandt")
    page.goto("/stock/sacks/log/")
    page.get_by_role("radio", name="Ilse Brandt").check()
    page.get_by_role("radio", name=re.compile("cobalt")).check()
    page.get_by_label("On the scale").fill("12 m")
    page.get_by_role("button", name="Weigh it in").click()
    # A length is no mass: it is said at the box, and stays to be mended.
    expect(page.locator(".error-summary")).to_be_visible()
    expect(page.get_by_label("On the scale")).to_have_value("12 m")
    assert not Sack.objects.exists()
    page.get_by_label("On the scale").fill("9,5")
    page.get_by_role("button", name="Weigh it in").click()
    expect(page.get_by_text(re.compile("sack 1")).first).to_be_visible()
    assert Sack.objects.get().gross_g == 9500
