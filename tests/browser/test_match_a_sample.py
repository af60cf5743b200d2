"""A sample is measured on its photograph with a thumb and at the keyboard."""

import pytest
from playwright.sync_api import expect

from stock.models import SampleMatch
from tests.browser.looking import COUNTER, PHONE, faults_of
from tests.builders import make_bead, make_colour, make_customer, make_person
from tests.orders.test_match_a_sample import POINTS, SEA, on_paper
from workshop.services.photos import add_photo

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_coin_bead_and_colour_are_tapped_and_a_point_is_moved_by_arrows(signed_in, live_server):
    sea, counter = make_colour("Sea green", swatch=SEA), make_person("counter")
    make_colour("Amber", swatch="#b5651d")
    make_bead("Sea round", colours={sea: 1}, diameter_mm=12)
    customer = make_customer()
    photo = add_photo("customer", customer, customer.pk, on_paper(), person=counter, note="")
    page = signed_in(counter)
    page.set_viewport_size(PHONE)
    page.goto(f"{live_server.url}/stock/samples/{photo.pk}/")
    picture = page.locator("[data-picture]")
    box = picture.bounding_box()
    for x, y in POINTS.values():
        at = {"x": x / 1600 * box["width"], "y": y / 800 * box["height"]}
        picture.click(position=at)
    # A thumb is as fine as a point of the screen: 1600 points of the picture on some 330 of it.
    shown = int(page.get_by_label("Coin or rule, other end, x").input_value())
    assert abs(shown - POINTS["known_b"][0]) <= 1600 / box["width"]
    # The same is done by keys alone, to the point.
    page.set_viewport_size(COUNTER)
    for name, (x, y) in POINTS.items():
        page.locator(f"[name={name}_x]").fill(str(x - 12))
        page.locator(f"[name={name}_y]").fill(str(y))
        page.locator(f"[data-tap][value={name}]").check()
        picture.focus()
        page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowRight")
        expect(page.locator(f"[name={name}_x]")).to_have_value(str(x))
    page.get_by_label("Size of the coin or rule").fill("25")
    page.get_by_role("button", name="Measure and compare").click()
    expect(page.locator("#found .answer-value")).to_have_text("12.0 mm")
    expect(page.get_by_role("radio", name="Sea green")).to_be_checked()
    assert faults_of(page) == []
    page.get_by_role("button", name="Keep with the sample").click()
    expect(page.get_by_role("link", name="Beads like it")).to_be_visible()
    assert str(SampleMatch.objects.get()) == "12 mm, like Sea green"
    page.get_by_role("link", name="Beads like it").click()
    expect(page.get_by_role("link", name="Sea round", exact=True)).to_be_visible()
    assert faults_of(page) == []
