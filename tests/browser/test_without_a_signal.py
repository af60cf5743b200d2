"""A phone in the yard while the desk is out of reach: what it keeps, writes down and sends once."""

import re

import pytest
from django.db import connection  # noqa: F401, asked for by the mark below
from playwright.sync_api import expect

from tests.browser.paired_phones import (
    another_edition,
    fill_up,
    keeps,
    kept_since,
    make_room,
)

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a desk has a book of SQLite"),
]


def log_a_sack(page, yard, kg: str) -> None:
    page.goto(yard.at("/stock/sacks/log/"))
    expect(page.locator(".message.kept")).to_contain_text("out of reach")
    for name in ("collector", "colour"):
        page.locator(f"input[name={name}]").first.evaluate("box => box.click()")
    page.locator("input[name=gross_g]").fill(f"{kg} kg")
    page.get_by_role("button", name="Weigh it in").click()
    expect(page).to_have_url(yard.at("/workshop/phones/waiting/"))


def asks_before_it_forgets(page) -> None:
    """Signing out with acts that wait asks first, and "no" leaves them there."""
    with page.expect_event("dialog") as asked:
        page.locator("form[action$='/sign-out/']").last.evaluate("form => form.requestSubmit()")
    assert "Not sent yet: 2" in asked.value.message
    asked.value.dismiss()
    expect(page.locator("#phone-waiting")).to_contain_text("2 not sent yet")


def says_that_it_is_full_before_the_act(page, yard) -> None:
    page.goto(yard.at("/workshop/phones/waiting/"))
    fill_up(page)
    page.goto(yard.at("/stock/sacks/log/"))
    expect(page.get_by_text("store is full: nothing can be written down here")).to_be_visible()
    page.locator("input[name=gross_g]").fill("5 kg")
    page.get_by_role("button", name="Weigh it in").click()
    expect(page.get_by_text("what you typed is still there")).to_be_visible()
    make_room(page)


def test_a_sack_logged_without_a_signal_is_in_the_book_once(
    yard, playwright, browser_type_launch_args, tmp_path
):
    sacks = yard.asked("SELECT count(*) FROM stock_sack")[0][0]
    with yard.open_desk(), yard.phone(playwright, browser_type_launch_args) as page:
        yard.come_in(page)
        keeps(page, "/stock/sacks/log/", "/workshop/phones/waiting/")
        assert not kept_since(page, "/workshop/me/"), "one's own page is not kept"
    with yard.phone(playwright, browser_type_launch_args) as page:
        log_a_sack(page, yard, "4.2")
        log_a_sack(page, yard, "two or three")
        acts = page.locator("#phone-acts > li")
        expect(acts).to_have_count(2)
        expect(acts.first).to_contain_text("4.2")
        expect(page.locator("#phone-waiting")).to_contain_text("2 not sent yet")
        raw = page.evaluate(
            "async () => (await phoneStore.all('acts')).map("
            "(row) => new TextDecoder('latin1').decode(row.data)).join()"
        )
        assert "4.2" not in raw and "collector" not in raw, "what is kept is enciphered"
        asks_before_it_forgets(page)
    # The browser was closed in between; the desk was away all the while.
    with yard.phone(playwright, browser_type_launch_args) as page:
        says_that_it_is_full_before_the_act(page, yard)
        page.goto(yard.at("/workshop/phones/waiting/"))
        expect(page.locator("#phone-acts > li")).to_have_count(2)
        # The desk comes back as a newer edition, whose pages keep more.
        with yard.open_desk(another_edition(tmp_path / "newer")):
            page.goto(yard.at("/workshop/phones/waiting/"))
            # What the desk cannot do as written comes back as a question, with its reason.
            question = page.locator("#phone-acts > li")
            expect(question).to_have_count(1)
            expect(question).to_contain_text("the desk asks")
            expect(question.locator("[data-why]")).to_contain_text("On the scale")
            question.get_by_role("button", name="Open it, filled in").click()
            weight = page.locator("input[name=gross_g]")
            expect(weight).to_have_value("two or three kg")
            weight.fill("3.1 kg")
            page.get_by_role("button", name="Weigh it in").click()
            expect(page.locator(".message.success")).to_be_visible()
            page.goto(yard.at("/workshop/phones/waiting/"))
            expect(page.get_by_text("Nothing waits")).to_be_visible()
            page.goto(yard.at("/"))
            expect(page.locator("#phone-waiting")).to_be_hidden()
            page.goto(yard.at("/workshop/me/"))
            page.get_by_role("button", name="Sign out", exact=True).last.click()
            expect(page).to_have_url(yard.at("/workshop/sign-in/"))
            assert page.evaluate("async () => (await phoneStore.all('pages')).length") == 0
            assert page.evaluate("async () => (await phoneStore.all('keys')).length") == 0
    assert yard.asked("SELECT count(*) FROM stock_sack")[0][0] == sacks + 2
    happened = yard.asked("SELECT after FROM workshop_act WHERE after LIKE '%happened at%'")
    assert len(happened) == 1, "the other was sent from the page itself"
    yard.check_book()


SOLD = """SELECT coalesce(sum(line.strands), 0) FROM orders_sale sale
    JOIN orders_orderline line ON line.order_id = sale.order_id"""


def sell_offline(page, yard, count: int) -> str:
    """Sell some of the first design that lies ready; gives the sum that the phone told."""
    page.goto(yard.at("/sell/"))
    expect(page.locator(".message.kept")).to_contain_text("out of reach")
    page.locator(".take .stepper input").first.fill(str(count))
    expect(page.locator("#sell-due .answer-value")).not_to_have_text("–")
    told = page.locator("#sell-due .answer-value").text_content()
    page.get_by_role("button", name="Paid in cash").click()
    expect(page).to_have_url(yard.at("/workshop/phones/waiting/"))
    return told


def test_two_phones_sell_the_same_beads_and_one_takes_an_order(
    yard, playwright, browser_type_launch_args
):
    given = (playwright, browser_type_launch_args)
    before = yard.asked(SOLD)[0][0]
    with yard.open_desk():
        for which in ("counter", "stall"):
            with yard.phone(*given, which) as page:
                yard.come_in(page, which)
                keeps(page, "/sell/", "/counter/phone/", "/workshop/phones/waiting/")
                page.goto(yard.at("/sell/"))
                name = page.locator(".take .card-name").first.text_content()
                card = page.locator(".take .card-note").first.text_content()
                ready = int(re.search(r"(\d+) ready", card)[1])
    with yard.phone(*given, "stall") as page:
        sum_told = sell_offline(page, yard, ready)
        act = page.locator("#phone-acts > li")
        expect(act).to_contain_text(sum_told)
        # The bead of the counter leads to the page that needs no answer of the desk.
        page.goto(yard.at("/counter/"))
        expect(page.get_by_role("heading", level=1)).to_have_text("New order, without a signal")
        page.get_by_label("Who is it for?").fill("Rosa Quay")
        page.locator(".take .stepper input").nth(1).fill("20")
        page.get_by_label("Deposit taken").fill("2")
        page.get_by_role("button", name="Take the order").click()
        expect(page.locator("#phone-acts > li")).to_have_count(2)
        expect(page.locator("#phone-waiting")).to_contain_text("2 not sent yet")
    with yard.phone(*given, "counter") as page:
        sell_offline(page, yard, ready)
        with yard.open_desk():
            page.goto(yard.at("/"))
            expect(page.locator("#phone-tick")).to_contain_text("Sold for " + sum_told)
            page.locator("#phone-tick a").click()
            expect(page.locator("#phone-told > li")).to_contain_text("Sold for " + sum_told)
            with yard.phone(*given, "stall") as other:
                other.goto(yard.at("/workshop/phones/waiting/"))
                question = other.locator("#phone-acts > li")
                expect(question).to_have_count(1)
                expect(question.locator("[data-why]")).to_contain_text("none lies on the shelf")
                told = other.locator("#phone-told > li")
                expect(told).to_contain_text("is taken: collect from")
                question.get_by_role("button", name="Take an order for it").click()
                expect(other).to_have_url(re.compile("/counter/phone/"))
                expect(other.get_by_label("Deposit taken")).not_to_have_value("")
                expect(other.get_by_label(f"{name}: strands")).to_have_value(str(ready))
    assert yard.asked(SOLD)[0][0] == before + ready
    assert yard.asked("SELECT count(*) FROM orders_customer WHERE name = 'Rosa Quay'") == [(1,)]
    yard.check_book()
