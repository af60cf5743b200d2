"""How many taps and keys the acts of every day cost, counted as a hand makes them.

The most of each is the goal the workshop set itself. A tap is a click or a choice, a key is a
letter, a digit, Tab or Enter.
"""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from orders.models import Order
from stock.models import KilnLoad, Sack
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
from tests.orders.firing.conftest import make_load, make_workshop, moulded_job, put_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Hand:
    """One hand that begins at home, and counts what it does."""

    def __init__(self, page: Page, home: str, *, width: int, height: int) -> None:
        self.page, self.taps, self.keys = page, 0, 0
        page.set_viewport_size({"width": width, "height": height})
        page.goto(home)

    def tap(self, what: Locator) -> None:
        self.taps += 1
        what.click()

    def act(self, words: str) -> Locator:
        """A button or a link that leads to an act."""
        said = re.compile(words)
        button = self.page.get_by_role("button", name=said)
        return button.or_(self.page.get_by_role("link", name=said)).first

    def type(self, letters: str) -> None:
        self.keys += len(letters)
        self.page.keyboard.type(letters)

    def press(self, key: str) -> None:
        self.keys += 1
        self.page.keyboard.press(key)


def test_a_returning_trader_three_designs_and_a_deposit(transactional_db, signed_in, live_server):
    """At most 7 taps and 30 keys; from the last design to the button no Tab, but Enter twice."""
    make_business()
    make_kiln()
    make_rate()
    make_design("Harbour bracelet", beads=make_bead())
    make_design("Tide necklace", beads=make_bead("Pea", diameter_mm=Decimal(8)))
    make_design("Night market", beads=make_bead("Night", diameter_mm=Decimal(12)))
    make_customer("Marisa Orlo")
    counter = Hand(signed_in(make_person("counter")), live_server.url, width=1280, height=800)
    page = counter.page
    counter.tap(counter.act("^Take an order"))
    expect(page.locator("#id_who")).to_be_focused()
    counter.type("orlo")
    counter.press("Enter")
    expect(page.locator(".counter-who strong")).to_have_text("Marisa Orlo")
    for design in ("Harbour bracelet", "Tide necklace", "Night market"):
        counter.tap(page.locator("#designs").get_by_role("button", name=design))
        expect(page.get_by_label(f"{design}: strands")).to_be_focused()
        counter.type("3")
    take = page.get_by_role("button", name=re.compile("^Take the order"))
    expect(page.locator("#dock-figures .answer-value").last).to_contain_text(re.compile(r"\d"))
    counter.press("Enter")  # to the next design
    counter.press("Enter")  # none: to the button
    expect(take).to_be_focused()
    counter.tap(page.locator("#id_deposit"))
    counter.type("5")
    counter.press("Enter")
    expect(take).to_be_focused()
    counter.press("Enter")
    asked = page.get_by_text("then press again")  # the figures followed only just now
    there = page.get_by_role("heading", level=1, name=re.compile("^Order"))
    expect(asked.or_(there)).to_be_visible()
    if asked.is_visible():
        counter.press("Enter")
    expect(there).to_be_visible()
    [order] = Order.objects.all()
    assert [line.strands for line in order.lines.all()] == [3, 3, 3]
    assert counter.taps <= 7 and counter.keys <= 30, (counter.taps, counter.keys)


def test_a_kiln_is_lit_and_opened_and_logged_in_two_taps_each_from_home(
    transactional_db, signed_in, live_server
):
    """What came out good is counted by the keeper; “all good” is one tap more for each tray."""
    workshop = make_workshop()
    job = moulded_job(workshop)
    load = make_load(workshop, starts_at=timezone.now() + timedelta(minutes=30))
    put_in(load, job)
    page = signed_in(workshop["keeper"])
    keeper = Hand(page, live_server.url, width=360, height=740)
    keeper.tap(keeper.act("^Light load"))
    keeper.tap(keeper.act("^The kiln is lit"))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Load {load.number}")
    assert keeper.taps == 2 and KilnLoad.objects.get().state == KilnLoad.State.FIRING
    KilnLoad.objects.update(started_at=timezone.now() - timedelta(days=1))
    keeper = Hand(page, live_server.url, width=360, height=740)
    keeper.tap(keeper.act("^Open and log load"))
    page.locator("[name^=good_]").focus()
    keeper.type(str(load.trays.get().beads))
    keeper.tap(page.locator("main .button.main"))
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Load {load.number}")
    assert keeper.taps == 2 and KilnLoad.objects.get().state == KilnLoad.State.COOLED


def test_a_sack_is_logged_in_five_taps(transactional_db, signed_in, live_server):
    make_business()
    make_collector()
    make_colour()
    page = signed_in(make_person("yard"))
    yard = Hand(page, live_server.url, width=360, height=740)
    yard.tap(yard.act("^Log a sack"))
    yard.tap(page.locator("label.tile:has([name=collector])").first)
    yard.tap(page.locator("label.tile:has([name=colour])").first)
    yard.tap(page.locator("[name=gross_g]"))
    yard.type("9.5")
    yard.tap(page.locator("main .button.main").last)
    expect(page.get_by_text(re.compile("sack 1")).first).to_be_visible()
    [sack] = Sack.objects.all()
    assert sack.gross_g == 9500 and yard.taps == 5
