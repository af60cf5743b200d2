"""A code before the camera opens the thing's page; a browser that reads none says what else does.

The camera is the browser's own moving test picture. Chromium on a desk reads no codes (its
BarcodeDetector is there on Android and macOS), so one that reads is put in its place.
"""

import os
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PATIENCE_MS
from tests.browser.looking import COUNTER, PHONE, console_of, faults_of
from tests.orders.firing.conftest import make_load, make_workshop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# It finds a code once the camera's picture is there.
READS = """self.BarcodeDetector = class {
  static getSupportedFormats = async () => ["qr_code"];
  detect = async (picture) => (picture.videoWidth ? [{ rawValue: "%s" }] : []);
};"""


@pytest.fixture
def with_camera(playwright, browser_type_launch_args, signed_in):
    """A browser with a camera in which the keeper is signed in; `allowed` to look through it."""
    args = [*browser_type_launch_args.get("args", []), "--use-fake-device-for-media-stream"]
    browser = playwright.chromium.launch(**{**browser_type_launch_args, "args": args})

    def page_of(who, *, allowed=True, reads=""):
        cookies = signed_in(who).context.cookies()
        context = browser.new_context(permissions=["camera"] if allowed else [], viewport=PHONE)
        context.set_default_timeout(PATIENCE_MS)
        context.add_cookies(cookies)
        page = context.new_page()
        if reads:
            page.add_init_script(READS % reads)
        return page

    yield page_of
    browser.close()


def test_a_code_is_read_or_the_page_says_what_else_opens_the_thing(with_camera, live_server):
    workshop = make_workshop()
    load = make_load(workshop)
    code = f"{live_server.url}/firing/load/{load.number}/"
    scan = f"{live_server.url}/scan/"
    page = with_camera(workshop["keeper"], reads=code)
    noise = console_of(page)
    page.goto(scan)
    expect(page).to_have_url(code)
    assert noise == [], "nothing that the policies forbid"
    # The camera is shut to it.
    page = with_camera(workshop["keeper"], reads=code, allowed=False)
    page.goto(scan)
    expect(page.get_by_text("The camera is closed to this page")).to_be_visible()
    # It reads no codes.
    page = with_camera(workshop["keeper"])
    page.goto(scan)
    expect(page.get_by_text("This browser reads no codes itself")).to_be_visible()
    assert faults_of(page) == []
    if folder := os.environ.get("SCREENS"):
        for size in (PHONE, {"width": 768, "height": 1024}, COUNTER):
            page.set_viewport_size(size)
            page.screenshot(path=Path(folder) / f"scan-{size['width']}.png", full_page=True)
    page.get_by_label("Number on the tag or sheet").fill(str(load.number))
    page.get_by_role("button", name="Open it").click()
    expect(page).to_have_url(code)
