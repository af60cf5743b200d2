"""A keeper's day in rounds, tapped through on a phone: lit, put in, pierced, sorted, paid.

`SCREENS=folder` keeps a picture of every screen of the way.
"""

import os
import re
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.db.models import F
from django.utils import timezone
from playwright.sync_api import expect

from orders.models import PaySlip
from stock.models import KilnLoad, LoadTray
from tests.browser.looking import PHONE, SIDEWAYS, console_of
from tests.builders import make_rate
from tests.orders.firing.conftest import hot as _hot
from tests.orders.firing.conftest import moulded_job

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
hot = _hot
SCREENS = os.environ.get("SCREENS")


class Phone:
    """A page in the hand: taps, and what every screen must keep to."""

    def __init__(self, page, base: str) -> None:
        self.page, self.base, self.seen = page, base, 0
        page.set_viewport_size(PHONE)
        self.noise = console_of(page)

    def open(self, path: str) -> None:
        self.page.goto(self.base + path)
        self.look()

    def tap(self, name: str, role: str = "button") -> None:
        whole = re.compile(rf"^\s*{name}\s*$")
        self.page.get_by_role(role, name=whole).locator("visible=true").first.click()
        self.page.wait_for_load_state()
        self.look()

    def write(self, label: str, what: str) -> None:
        self.page.get_by_label(label, exact=True).fill(what)

    def tick(self, label: str) -> None:
        self.page.get_by_label(label, exact=True).check()

    def says(self, words: str) -> None:
        expect(self.page.locator("body")).to_contain_text(words)

    def look(self) -> None:
        self.seen += 1
        if SCREENS:
            name = re.sub(r"\W+", "-", self.page.title())
            self.page.screenshot(path=Path(SCREENS) / f"{self.seen:02}-{name}.png", full_page=True)
        assert self.page.evaluate(SIDEWAYS) <= 0, self.page.title()
        assert self.noise == []


def typed(moment: datetime) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%dT%H:%M")


def test_a_day_in_rounds_from_first_light_to_paid(hot, signed_in, live_server):
    make_rate("Moulding", skill="moulding", basis="mould", minutes_each=2)
    moulded_job(hot, 2)
    moulded_job(hot, 2, design=hot["chunky"], customer="Ilka Dorn")
    phone = Phone(signed_in(hot["keeper"]), live_server.url)
    phone.open("/firing/")
    phone.tap("Plan again")
    phone.tap("Fire by this plan")
    rounds = list(KilnLoad.objects.order_by("starts_at"))
    assert rounds[0].lit and len(rounds) > 1

    # The plan was made for this morning.
    at = timezone.now() - timedelta(hours=5)
    KilnLoad.objects.update(starts_at=F("starts_at") + (at - rounds[0].starts_at))
    for load in rounds:
        load.refresh_from_db()
        phone.open(f"/firing/load/{load.number}/")
        number = load.number
        phone.tap(f"Light load {number}" if load.lit else f"Put load {number} in", "link")
        phone.write("Lit at" if load.lit else "Kiln opened at", typed(at))
        phone.tap("The kiln is lit" if load.lit else "The round is in")
        load.refresh_from_db()
        at += timedelta(minutes=load.free_after_min)

    for load in rounds:
        load.refresh_from_db()
        if load.hands:
            phone.open("/firing/")
            phone.open(f"/firing/load/{load.number}/")
            phone.tap(f"All of load {load.number} are pierced", "link")
            drawn = load.started_at + timedelta(minutes=load.done_after_min + 2)
            phone.write("Pierced until", typed(drawn))
            phone.tick(str(hot["hand"]))
            phone.tap("All are pierced")
            phone.says("is pierced; its beads are cold from")
        phone.open(f"/firing/load/{load.number}/")
        phone.tap(f"(Count|Open) and log load {load.number}", "link")
        for tray in load.trays.all():
            expect(phone.page.locator(f"[name=good_{tray.pk}]")).to_have_value("")
            phone.page.locator(f"[name=all_{tray.pk}]").check()
        phone.tick("to the shelf: polished and sorted already")
        phone.tap("Log the load")
        phone.says("is logged.")
    assert not LoadTray.objects.filter(good=None).exists()

    office = Phone(signed_in("owner"), live_server.url)
    office.open("/money/pay/")
    office.tap(str(hot["hand"]), "link")
    office.tap("Pay and write the slip")
    office.says("is paid")
    slip = PaySlip.objects.get()
    assert slip.hand == hot["hand"] and slip.total > 0
