"""Taking an order at the counter with a real keyboard and with a thumb."""

import re
import time
from datetime import date, timedelta
from decimal import Decimal

import pytest
from playwright.sync_api import Page, Route, expect

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

ANY_ANSWER = re.compile(r"/counter/(change|panel)/$")


@pytest.fixture
def counter(transactional_db, signed_in, live_server) -> Page:
    """A counter hand signed in, two designs and two customers on the list."""
    make_business()
    make_kiln()
    make_rate()
    make_design("Harbour bracelet", beads=make_bead())
    make_design("Tide necklace", beads=make_bead("Pea", diameter_mm=Decimal(8)))
    make_customer("Marisa Orlo")
    make_customer("Tomas Reku", credit_limit=Decimal(100))
    page = signed_in(make_person("counter"))
    page.set_viewport_size({"width": 1280, "height": 860})
    page.goto(f"{live_server.url}/counter/")
    return page


class Held:
    """Answers that wait until they are let go, so that what happens meanwhile is certain."""

    def __init__(self, page: Page, address=ANY_ANSWER) -> None:
        self.address = address
        self.holding = True
        self.waiting: list[Route] = []
        page.route(address, self._meet)

    def _meet(self, route: Route) -> None:
        if self.holding:
            self.waiting.append(route)
        else:
            route.continue_()

    def let_go(self) -> None:
        """All that wait, in their order; what is asked for from now on is answered at once."""
        self.holding = False
        for route in self.waiting:
            route.continue_()
        self.waiting.clear()


def number_box(page: Page, design: str):
    return page.get_by_label(f"{design}: strands")


def note_box(page: Page):
    return page.get_by_role("textbox", name="Note")


def lay(page: Page, design: str) -> None:
    """Put a design on the order and wait for its line."""
    page.locator("#designs").get_by_role("button", name=design).click()
    expect(number_box(page, design)).to_be_focused()


def pick(page: Page, name: str) -> None:
    page.locator("#people").get_by_role("button", name=name).click()
    expect(page.locator(".counter-who strong")).to_have_text(name)


def so_many_come_good(page: Page, beads: int):
    return expect(page.locator("#figures")).to_contain_text(f"so that {beads} come good")


# --- by keyboard ------------------------------------------------------------------------------


def test_an_order_is_taken_by_keyboard_alone_in_under_a_minute(counter):
    page, began = counter, time.monotonic()
    expect(page.locator("#id_who")).to_be_focused()
    page.keyboard.type("orlo")  # the cursor stands in “Who is it for?” already
    page.keyboard.press("Enter")
    expect(page.locator(".counter-who strong")).to_have_text("Marisa Orlo")
    expect(page.locator("#id_find")).to_be_focused()
    page.keyboard.type("harbour")
    page.keyboard.press("Enter")
    expect(number_box(page, "Harbour bracelet")).to_be_focused()
    page.keyboard.type("30")
    page.keyboard.press("Enter")  # to the next box, not off with the form
    expect(page.locator("#id_find")).to_be_focused()
    so_many_come_good(page, 540)  # 30 strands of 18
    note_box(page).focus()
    page.keyboard.type("for the fair")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Take the order")).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/orders/\d+/"))
    assert time.monotonic() - began < 60
    order = Order.objects.get()
    assert (order.customer.name, order.lines.get().strands) == ("Marisa Orlo", 30)
    assert order.note == "for the fair"


def test_enter_takes_the_one_looked_for_however_late_the_list_is(counter):
    """Before anything is found, the list holds the latest buyers: none of them is meant."""
    page = counter
    late = Held(page, re.compile(r"/counter/people/"))
    with page.expect_request(late.address):
        page.keyboard.type("reku")
        page.keyboard.press("Enter")
    late.let_go()
    expect(page.locator(".counter-who strong")).to_have_text("Tomas Reku")


def test_escape_loses_nothing(counter):
    page = counter
    lay(page, "Harbour bracelet")
    number_box(page, "Harbour bracelet").fill("12")
    note_box(page).fill("for the fair")
    for box in (number_box(page, "Harbour bracelet"), note_box(page)):
        box.press("Escape")
    expect(number_box(page, "Harbour bracelet")).to_have_value("12")
    expect(note_box(page)).to_have_value("for the fair")


# --- while answers are on their way ------------------------------------------------------------


def test_what_is_typed_while_an_answer_is_on_its_way_is_kept(counter):
    page = counter
    lay(page, "Harbour bracelet")
    late = Held(page)
    with page.expect_request(ANY_ANSWER):
        page.locator("#designs").get_by_role("button", name="Tide necklace").click()
    number_box(page, "Harbour bracelet").fill("25")
    page.get_by_label("Harbour bracelet: price each").fill("41.50")
    page.get_by_label("Deposit taken").fill("15")
    note_box(page).fill("for the fair")
    late.let_go()
    expect(number_box(page, "Tide necklace")).to_be_visible()
    expect(number_box(page, "Harbour bracelet")).to_have_value("25")
    expect(page.get_by_label("Deposit taken")).to_have_value("15")
    expect(note_box(page)).to_have_value("for the fair")
    expect(page.locator("#order-lines li").first.locator(".line-sum")).to_have_text("€1,037.50")


def test_no_keystroke_is_lost_while_figures_come_in(counter):
    """Slower than a pause that asks for figures, so answers fall between the keystrokes."""
    page = counter
    lay(page, "Harbour bracelet")
    note = note_box(page)
    number_box(page, "Harbour bracelet").fill("7")
    note.press_sequentially("thirty bracelets for the fair, and no hurry", delay=25)
    expect(note).to_have_value("thirty bracelets for the fair, and no hurry")
    number_box(page, "Harbour bracelet").fill("")
    number_box(page, "Harbour bracelet").press_sequentially("12 345", delay=280)
    expect(number_box(page, "Harbour bracelet")).to_have_value("12 345")
    so_many_come_good(page, "222,210")  # 12,345 strands of 18


def test_presses_wait_in_line_and_none_is_lost(counter):
    page = counter
    late = Held(page)
    for design in ("Harbour bracelet", "Tide necklace"):
        page.locator("#designs").get_by_role("button", name=design).click()
    page.locator("#people").get_by_role("button", name="Marisa Orlo").click()
    expect(page.locator("#order-lines li")).to_have_count(0)
    late.let_go()
    expect(page.locator("#order-lines li")).to_have_count(2)
    expect(page.locator(".counter-who strong")).to_have_text("Marisa Orlo")
    expect(page.locator("#designs")).to_contain_text("Every design in use is on the order")


def test_a_line_taken_off_while_figures_are_on_their_way_stays_off(counter):
    page = counter
    lay(page, "Harbour bracelet")
    lay(page, "Tide necklace")
    late = Held(page)
    with page.expect_request(ANY_ANSWER):
        number_box(page, "Tide necklace").fill("9")
    page.get_by_role("button", name="Take off Tide necklace").click()
    late.let_go()
    expect(page.locator("#order-lines li")).to_have_count(1)
    so_many_come_good(page, 18)
    expect(page.locator("#designs")).to_contain_text("Tide necklace")


def test_nothing_moves_under_a_finger(counter):
    """An answer that comes between pressing and letting go waits, so the press counts."""
    page = counter
    pick(page, "Marisa Orlo")
    lay(page, "Harbour bracelet")
    so_many_come_good(page, 18)
    late = Held(page)
    with page.expect_request(ANY_ANSWER):
        number_box(page, "Harbour bracelet").fill("60")
    page.locator("#designs").get_by_role("button", name="Tide necklace").hover()
    page.mouse.down()
    with page.expect_response(ANY_ANSWER) as answer:
        late.let_go()
    answer.value.finished()
    page.wait_for_timeout(50)
    expect(page.locator("#figures")).to_contain_text("so that 18 come good")
    page.mouse.up()
    expect(page.locator("#order-lines li")).to_have_count(2)
    # 60 strands of 18, and the beads of one necklace.
    expect(page.locator("#figures")).to_contain_text(re.compile("so that 1,1.. come good"))


def test_an_order_is_not_taken_on_figures_nobody_has_seen(counter):
    page = counter
    pick(page, "Marisa Orlo")
    lay(page, "Harbour bracelet")
    so_many_come_good(page, 18)
    late = Held(page)
    number_box(page, "Harbour bracelet").fill("30")
    take = page.get_by_role("button", name="Take the order")
    take.click()
    late.let_go()
    expect(page.locator("[data-look-again]")).to_be_visible()
    so_many_come_good(page, 540)
    assert not Order.objects.exists()
    take.click()
    page.wait_for_url(re.compile(r"/orders/\d+/"))
    assert Order.objects.get().lines.get().strands == 30


def test_an_opened_figure_stays_open_while_figures_follow(counter):
    page = counter
    lay(page, "Harbour bracelet")
    page.locator("#opener-start").click()
    expect(page.locator("#opens-start .term-name").first).to_be_visible()
    number_box(page, "Harbour bracelet").fill("3")
    so_many_come_good(page, 54)
    expect(page.locator("#opens-start")).to_have_attribute("open", "")
    expect(page.locator("#opens-start .term-name").first).to_be_visible()


def test_while_the_workshops_computer_is_silent_the_form_stays(counter):
    page = counter
    pick(page, "Marisa Orlo")
    lay(page, "Harbour bracelet")
    page.route(ANY_ANSWER, lambda route: route.abort())
    number_box(page, "Harbour bracelet").fill("5")
    expect(page.locator("[data-unreachable]")).to_be_visible()
    expect(number_box(page, "Harbour bracelet")).to_have_value("5")
    page.unroute(ANY_ANSWER)
    number_box(page, "Harbour bracelet").fill("6")
    so_many_come_good(page, 108)
    expect(page.locator("[data-unreachable]")).to_be_hidden()


# --- figures, days and limits ------------------------------------------------------------------


def test_plus_and_minus_count_at_once_and_the_sheet_follows(counter):
    page = counter
    lay(page, "Harbour bracelet")
    for _again in range(3):
        page.locator("[data-step='1']").click()
    expect(number_box(page, "Harbour bracelet")).to_have_value("4")
    page.locator("[data-step='-1']").click()
    expect(number_box(page, "Harbour bracelet")).to_have_value("3")
    so_many_come_good(page, 54)  # 3 strands of 18


def test_a_closed_day_is_told_and_all_else_is_kept(counter):
    page = counter
    pick(page, "Tomas Reku")
    lay(page, "Harbour bracelet")
    number_box(page, "Harbour bracelet").fill("7")
    so_many_come_good(page, 126)  # 7 strands of 18
    page.get_by_label("Wanted for").fill((date.today() - timedelta(days=3)).isoformat())
    page.get_by_role("button", name="Take the order").click()
    expect(page.locator(".error-summary")).to_contain_text("has passed")
    expect(number_box(page, "Harbour bracelet")).to_have_value("7")
    expect(page.locator(".counter-who")).to_contain_text("Tomas Reku")
    assert not Order.objects.exists()


def test_what_the_buyer_may_owe_is_watched_as_the_order_grows(counter):
    page = counter
    pick(page, "Tomas Reku")
    lay(page, "Harbour bracelet")
    page.get_by_label("Harbour bracelet: price each").fill("60")
    expect(page.locator("#sum-" + page.locator("[name='line']").input_value())).to_have_text(
        "€60.00"
    )
    expect(page.locator("#figures")).not_to_contain_text("may owe up to")
    number_box(page, "Harbour bracelet").fill("2")
    warning = "may owe up to €100.00; with this order it would be €120.00"
    expect(page.locator("#figures")).to_contain_text(warning)
    page.get_by_label("Deposit taken").fill("20")
    page.get_by_label("Deposit taken").blur()
    expect(page.locator("#figures")).not_to_contain_text("may owe up to")


def test_on_a_phone_date_price_and_button_stay_in_reach(counter):
    page = counter
    page.set_viewport_size({"width": 360, "height": 740})
    lay(page, "Harbour bracelet")
    dock = page.locator(".dock")
    expect(dock).to_contain_text("Collect from")
    expect(dock).to_contain_text("Price")
    for scroll in (0, 600, 5000):
        page.evaluate(f"window.scrollTo(0, {scroll})")
        box = page.locator(".dock button.main").bounding_box()
        assert box["y"] > 0 and box["y"] + box["height"] <= 740
        assert box["height"] >= 44
    sideways = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(sideways) <= 0
