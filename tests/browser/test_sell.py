"""Selling one ready strand with a thumb and at the keyboard."""

import pytest
from playwright.sync_api import Page, expect

from orders.models import Sale
from tests.browser.looking import faults_of
from tests.builders import make_bead, make_business, make_kiln, make_person
from tests.orders.counter.selling import ready_strands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def shelf(transactional_db, signed_in, live_server) -> Page:
    """A counter hand at home, on a phone, with five bracelets on the shelf."""
    make_business()
    make_kiln()
    ready_strands("Harbour bracelet", 5, beads=make_bead())
    page = signed_in(make_person("counter"))
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(live_server.url)
    return page


def test_from_home_to_the_paper_in_three_taps(shelf):
    shelf.get_by_role("link", name="Sell from the shelf").click()
    shelf.get_by_role("button", name="One Harbour bracelet more").click()
    expect(shelf.locator("#sell-due .answer-value")).not_to_have_text("–")
    shelf.get_by_role("button", name="Paid in cash").click()
    expect(shelf.get_by_role("heading", level=1)).to_have_text("Sale 1")
    expect(shelf.get_by_role("link", name="Print on the roll")).to_be_visible()
    assert faults_of(shelf) == []
    [line] = Sale.objects.get().order.lines.all()
    assert line.strands == 1


def test_a_strand_is_sold_at_the_keyboard(shelf):
    shelf.set_viewport_size({"width": 1280, "height": 860})
    shelf.get_by_role("link", name="Sell from the shelf").click()
    shelf.get_by_label("Harbour bracelet: how many").press_sequentially("2")
    expect(shelf.locator("#sell-figures")).to_contain_text("2 × Harbour bracelet")
    shelf.keyboard.press("Enter")
    expect(shelf.get_by_role("button", name="Paid in cash")).to_be_focused()
    shelf.keyboard.press("Enter")
    expect(shelf.get_by_role("heading", level=1)).to_have_text("Sale 1")
    [line] = Sale.objects.get().order.lines.all()
    assert line.strands == 2
