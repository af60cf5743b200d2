"""Pages as they stand in the middle of the work: unfolded, refused, and by night.

axe has looked at them closed and by day already (test_every_page.py).
"""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.looking import PHONE, console_of, faults_of, found_by_axe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

UNFOLD = (
    "for (const one of document.querySelectorAll('main details, .sheet details')) one.open = true"
)

# Where a form is sent as it stands, and what is typed into it before.
REFUSED = {
    "/stock/sacks/log/": {"On the scale": "12 m"},
    "/stock/beads/new/": {"Name": "Bored away"},
    "/designs/add/": {"Finished length": "2 kg"},
    "/people/add/": {"May owe up to": "much"},
    "/workshop/kilns/new/": {"Name": "Cold kiln"},
    "/counter/": {},
}


@pytest.fixture
def by_night(demo, signed_in) -> Page:
    page = signed_in("owner")
    page.emulate_media(color_scheme="dark")
    page.set_viewport_size(PHONE)
    return page


def test_what_is_unfolded_is_in_order_by_night(by_night, live_server):
    page, noise = by_night, console_of(by_night)
    troubles = []
    for path in ("/firing/", "/bench/", "/stock/sacks/log/", "/money/"):
        page.goto(live_server.url + path)
        page.evaluate(UNFOLD)
        troubles += [f"{path} {wrong}" for wrong in faults_of(page)]
    page.goto(f"{live_server.url}/counter/")
    page.locator("#people button").first.click()
    expect(page.locator(".counter-who strong")).to_be_visible()
    page.locator("#designs button.card").first.click()
    expect(page.locator("#opens-labour")).to_be_visible()
    page.evaluate(UNFOLD)
    for figure in ("date", "glass", "labour", "price"):
        # The working is there; four are asked for at once, of a server that shares two cores.
        expect(page.locator(f"#opens-{figure} .plain-act")).to_have_count(0)
    troubles += [f"the counter {wrong}" for wrong in faults_of(page)]
    assert not troubles, "\n".join(troubles)
    assert noise == []


def test_what_is_refused_is_in_order_by_night(by_night, live_server):
    page = by_night
    troubles = []
    for path, typed in REFUSED.items():
        page.goto(live_server.url + path)
        for label, words in typed.items():
            page.locator("main").get_by_label(label).first.fill(words)
        if path == "/counter/":
            page.locator("#designs button.card").first.click()
            expect(page.locator("#opens-labour")).to_be_visible()
        page.locator("main .button.main, .sheet .button.main").last.click()
        expect(page.locator(".error-summary")).to_be_focused()
        for label, words in typed.items():
            expect(page.locator("main").get_by_label(label).first).to_have_value(words)
        troubles += [f"{path} {wrong}" for wrong in found_by_axe(page)]
    assert not troubles, "\n".join(troubles)
