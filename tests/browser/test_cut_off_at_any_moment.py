"""Sacks logged and orders noted on a phone while, at random moments, its way to the desk is cut and
desk and browser are killed.

Asked for by CUT_ROUNDS=6 and more, for a round takes some ten seconds; CUT_SEED draws the same
moments again.
"""

import os
import random
import signal
import threading
from contextlib import suppress
from pathlib import Path

import pytest
from django.db import connection  # noqa: F401, asked for by the mark below
from playwright.sync_api import Error

from tests.browser.air import air_to
from tests.browser.paired_phones import keeps
from tests.patience import PATIENCE_S

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a desk has a book of SQLite"),
    pytest.mark.skipif("CUT_ROUNDS" not in os.environ, reason="CUT_ROUNDS asks for it"),
]
ROUNDS = int(os.environ.get("CUT_ROUNDS", "0"))
SEED = int(os.environ.get("CUT_SEED", "20261130"))
ACTS = 2
# What is cut in a round, each at a moment of its own.
CHOICES = [("air",), ("desk",), ("browser",), ("air", "browser"), ("desk", "browser")]
LOG, NOTE = "/stock/sacks/log/", "/counter/phone/"
# Of the phone's own store: what the page says is filled in only later.
NOTHING_WAITS = """async () => {
    const { person } = document.getElementById("phone-words").dataset;
    const acts = await self.phoneStore.actsOf(person);
    return acts.every((each) => each.state !== "waits");
}"""
LIGHTEST_G = 61_000  # no sack of the demo weighs as much, and each of ours is one gram heavier


def kill_desk(process) -> None:
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def kill_browser(profile: Path) -> None:
    """Every process of the browser with this profile, by its own number."""
    for each in Path("/proc").glob("[0-9]*/cmdline"):
        with suppress(OSError):
            if f"--user-data-dir={profile}".encode() in each.read_bytes().split(b"\0"):
                os.kill(int(each.parent.name), signal.SIGKILL)


def log_a_sack(page, yard, number: int) -> None:
    page.goto(yard.at(LOG))
    for name in ("collector", "colour"):
        page.locator(f"input[name={name}]").first.evaluate("box => box.click()")
    page.locator("input[name=gross_g]").fill(f"{(LIGHTEST_G + number) / 1000:.3f} kg")
    page.get_by_role("button", name="Weigh it in").click()
    page.wait_for_function(
        "() => location.pathname === '/workshop/phones/waiting/' "
        "|| document.querySelector('.message.success')"
    )


def note_an_order(page, yard, number: int) -> None:
    page.goto(yard.at(NOTE))
    page.get_by_label("Who is it for?").fill(f"Caller {number}")
    page.locator(".take .stepper input").first.fill("2")
    page.get_by_role("button", name="Keep it without promising").click()
    page.wait_for_url(lambda url: "/phones/waiting/" in url or "/orders/" in url)


def test_what_was_acknowledged_is_there_exactly_once_whatever_is_cut(
    yard, playwright, browser_type_launch_args
):
    draw = random.Random(SEED)
    given = (playwright, browser_type_launch_args, "owner")
    told, unsure, number = set(), set(), 0
    with yard.open_desk(), yard.phone(*given) as page:
        yard.come_in(page, "owner")
        keeps(page, LOG, NOTE, "/workshop/phones/waiting/")
    for cut in range(ROUNDS):
        print(f"round {cut + 1}: {len(told)} acknowledged, {len(unsure)} cut off", flush=True)
        with (
            suppress(Error),
            yard.open_desk() as process,
            air_to(yard.port + 1) as air,
            yard.phone(*given, through=air.port) as page,
        ):
            page.context.set_default_timeout(20_000)
            page.goto(yard.at("/workshop/phones/waiting/"))
            cuts = {
                "air": (air.cut,),
                "desk": (kill_desk, process),
                "browser": (kill_browser, yard.folder / "owner"),
            }
            timers = [
                threading.Timer(draw.uniform(0, 5), *cuts[name][:1], cuts[name][1:])
                for name in draw.choice(CHOICES)
            ]
            for timer in timers:
                timer.start()
            for act in draw.choices([log_a_sack, note_an_order], k=ACTS):
                number += 1
                unsure.add(number)
                act(page, yard, number)
                unsure.remove(number)
                told.add(number)
            for timer in timers:
                timer.join()
    with yard.open_desk(), yard.phone(*given) as page:
        page.goto(yard.at("/workshop/phones/waiting/"))
        # Asked again and again: wait_for_function takes a promise itself for a yes.
        for _look in range(PATIENCE_S):
            if page.evaluate(NOTHING_WAITS):
                break
            page.wait_for_timeout(1000)
    grams = yard.asked(
        f"SELECT gross_g - {LIGHTEST_G} FROM stock_sack WHERE gross_g > {LIGHTEST_G}"
    )
    callers = yard.asked(
        "SELECT customer.name FROM orders_order JOIN orders_customer customer "
        "ON customer.id = customer_id WHERE customer.name LIKE 'Caller %'"
    )
    there = sorted([int(g) for (g,) in grams] + [int(name.split()[1]) for (name,) in callers])
    print(f"seed {SEED}: {ROUNDS} rounds, {len(told)} acknowledged, {len(unsure)} cut off before")
    assert len(set(there)) == len(there), f"doubled: {there}"
    assert told <= set(there), f"lost: {sorted(told - set(there))}"
    assert set(there) <= told | unsure
    yard.check_book()
