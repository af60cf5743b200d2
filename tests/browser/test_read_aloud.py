"""A page read aloud by the browser's own voice, where there is one."""

import pytest
from playwright.sync_api import expect

from tests.browser.looking import console_of
from tests.builders import make_business, make_person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# A voice that keeps what it is given: a headless browser brings none of its own.
VOICE = """
  window.spoken = [];
  Object.defineProperty(window, "speechSynthesis", {
    configurable: true,
    value: { speak: (said) => spoken.push([said.lang, said.text]), cancel: () => {} },
  });
"""


def test_whoever_asks_for_it_hears_each_page_and_nobody_else_does(signed_in, live_server):
    make_business()
    make_person("yard")
    page = signed_in("yard")
    noise = console_of(page)
    page.add_init_script(VOICE)
    page.goto(live_server.url)
    assert page.evaluate("spoken") == []
    expect(page.locator("[data-aloud]")).to_be_hidden()

    page.get_by_label("Help for this page").click()
    page.get_by_label("Read every page aloud on this device").check()
    ((spoken_in, said),) = page.evaluate("spoken")
    assert spoken_in == "en" and page.locator("h1").inner_text() in said

    page.goto(live_server.url + "/stock/glass/")
    ((_lang, said),) = page.evaluate("spoken")
    assert said.startswith("Glass")
    page.locator("[data-aloud]").click()
    assert len(page.evaluate("spoken")) == 2

    silent = page.context.new_page()
    silent.add_init_script("delete window.speechSynthesis; delete Window.prototype.speechSynthesis")
    silent.goto(live_server.url)
    silent.get_by_label("Help for this page").click()
    expect(silent.locator(".help-said")).to_be_visible()
    expect(silent.locator("[data-aloud-mode]")).to_be_hidden()
    assert noise == []
