"""Trays carried from one load to another: by mouse, by finger and by keyboard."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from playwright.sync_api import expect

from tests.orders.firing.conftest import day_after_tomorrow, make_load, moulded_job, put_in
from tests.orders.firing.conftest import workshop as _workshop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
workshop = _workshop


@pytest.fixture
def board(db, workshop, page, context, live_server, settings):
    """The firing board of a keeper, with two loads two and three days from now."""
    first = make_load(workshop)
    second = make_load(workshop, starts_at=day_after_tomorrow() + timedelta(days=1))
    put_in(first, moulded_job(workshop))
    put_in(second, moulded_job(workshop, customer="Tomas Reku"))
    client = Client()
    client.force_login(workshop["keeper"])
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    page.set_viewport_size({"width": 1280, "height": 900})
    page.noise = []
    page.on("console", lambda said: page.noise.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: page.noise.append(str(error)))
    page.goto(f"{live_server.url}/firing/?loads=all")
    return page, first, second


def middle(locator) -> tuple[float, float]:
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def tray_of(page, load):
    return page.locator(f".load-cards [data-load='{load.pk}'] [data-tray]").first


def card_of(page, load):
    return page.locator(f".load-cards [data-load='{load.pk}']")


def carry(page, load, onto, tray=None) -> None:
    tray = tray or tray_of(page, load)
    tray.scroll_into_view_if_needed()
    page.mouse.move(*middle(tray))
    page.mouse.down()
    page.mouse.move(*middle(onto), steps=8)
    page.mouse.up()


def test_a_tray_dragged_is_left_where_it_was_or_shows_what_it_does_and_then_moves(board):
    page, first, second = board
    dialog = page.locator("[data-tray-dialog]")
    carry(page, first, card_of(page, second))
    page.get_by_role("button", name="Leave it").click()
    expect(dialog).to_be_hidden()
    assert (first.trays.count(), second.trays.count()) == (1, 1)
    carry(page, first, card_of(page, second))
    expect(dialog).to_contain_text("Hours late, all together")
    expect(dialog).to_contain_text("is ready")
    assert first.trays.count() == 1  # nothing is moved by looking
    dialog.get_by_role("button", name="Move it").click()
    page.wait_for_url(re.compile("/firing/$"))
    expect(page.locator("body")).to_contain_text(f"now stands in load {second.number}")
    assert second.trays.count() == 2
    assert page.noise == []


def test_a_tray_dropped_on_the_calendar_goes_into_the_load_drawn_there(board):
    page, first, second = board
    bar = page.locator(f".calendar-week a[href$='/load/{second.number}/']")
    tray_of(page, first).scroll_into_view_if_needed()
    carry(page, first, bar)
    expect(page.locator("[data-tray-dialog]")).to_contain_text("Hours late, all together")


def dots_of(page, load):
    return page.locator(f".calendar-week [data-of='{load.pk}']").first


def test_a_trays_own_dots_are_carried_over_the_picture(board):
    """From the picture itself, with the cards folded away."""
    page, first, second = board
    page.goto(page.url.split("?")[0])
    carry(page, first, dots_of(page, second), dots_of(page, first))
    expect(page.locator("[data-tray-dialog]")).to_contain_text("Hours late, all together")
    page.get_by_role("button", name="Move it").click()
    expect(page.locator("body")).to_contain_text(f"now stands in load {second.number}")
    assert second.trays.count() == 2


def test_a_trays_own_dots_are_moved_by_keyboard(board):
    page, first, second = board
    page.goto(page.url.split("?")[0])
    dots_of(page, first).focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    expect(page.locator("[data-tray-said]")).to_contain_text(f"Load {second.number}")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Move it")).to_be_focused()


def test_a_tray_is_put_back_and_moved_by_keyboard_alone(board):
    page, first, second = board
    tray_of(page, first).focus()
    for key in ("Space", "ArrowRight", "Escape"):
        page.keyboard.press(key)
    expect(page.locator("[data-tray-said]")).to_contain_text("is left where it was")
    assert first.trays.count() == 1
    tray_of(page, first).focus()
    page.keyboard.press("Space")
    expect(page.locator("[data-tray-said]")).to_contain_text("is picked up")
    page.keyboard.press("ArrowRight")
    expect(page.locator("[data-tray-said]")).to_contain_text(f"Load {second.number}")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Move it")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("body")).to_contain_text(f"now stands in load {second.number}")
    assert second.trays.count() == 2


def test_on_a_phone_a_finger_carries_it_by_its_dots(board):
    """Chromium's own touch events, as a finger on glass sends them."""
    page, first, second = board
    page.set_viewport_size({"width": 360, "height": 1400})
    page.locator(".tray-board").scroll_into_view_if_needed()
    x, y = middle(tray_of(page, first).locator("[data-grip]"))
    to_x, to_y = middle(card_of(page, second).locator(".load-head"))
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *at: float) -> None:
        points = [{"x": at[0], "y": at[1]}] if at else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", x, y)
    for step in range(1, 6):
        touch("touchMove", x + (to_x - x) * step / 5, y + (to_y - y) * step / 5)
    touch("touchEnd")
    expect(page.locator("[data-tray-dialog]")).to_contain_text("Hours late, all together")
    page.get_by_role("button", name="Move it").click()
    page.wait_for_url(re.compile("/firing/$"))
    assert second.trays.count() == 2
