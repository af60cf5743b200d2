"""A bead painted by tapping on a phone, with what is to be expected of its firing beside it."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from stock.models import Bead
from tests.browser.looking import console_of, faults_of
from tests.builders import (
    make_business,
    make_colour,
    make_kiln,
    make_mould,
    make_person,
    make_programme,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_bead_is_painted_with_a_thumb(transactional_db, signed_in, live_server):
    make_business()
    make_kiln()
    make_mould()
    make_programme()
    green, amber = make_colour(), make_colour("amber")
    page = signed_in(make_person("owner"))
    noise = console_of(page)
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(live_server.url + reverse("stock:bead_add"))
    bench = page.locator("#bead-bench")
    page.get_by_label("Name", exact=True).fill("Lock stripe")
    bench.get_by_role("button", name="green").click()
    expect(bench.locator("[data-segment]")).to_have_text(["green 100%"])
    bench.get_by_role("button", name="amber").click()
    expect(bench.locator("[data-segment]")).to_have_text(["green 50%", "amber 50%"])
    bench.get_by_role("button", name="stripes along the bore").click()
    bench.locator("[data-segment='1']").click()
    bench.get_by_role("button", name="Less").click()
    expect(bench.locator("[data-segment]")).to_have_text(["green 55%", "amber 45%"])
    expect(bench).to_contain_text("Will it fuse?")
    expect(bench).to_contain_text("10 mm")
    page.get_by_label("Diameter").fill("12 mm")
    page.keyboard.press("Tab")
    page.get_by_label("Shape", exact=True).select_option("cube")
    expect(page.get_by_label("Diameter")).to_have_count(0)
    for _step in range(2):  # the shape comes back with its size, then the size that was before
        bench.get_by_role("button", name="Undo").click()
    expect(page.get_by_label("Diameter")).not_to_have_value("12 mm")
    bench.get_by_role("button", name="Redo").click()
    expect(page.get_by_label("Diameter")).to_have_value("12 mm")
    bench.get_by_role("button", name="Undo").click()
    expect(bench.locator("[data-segment]")).to_have_text(["green 55%", "amber 45%"])
    bench.get_by_role("button", name="Undo").click()
    expect(bench.locator("[data-segment]")).to_have_text(["green 50%", "amber 50%"])
    for step in range(3):  # the pattern, the amber, the green
        bench.get_by_role("button", name="Undo").click()
        expect(bench.locator("[data-segment]")).to_have_count((2, 1, 0)[step])
    page.locator("h1").click()
    for step in range(4):  # all but the last
        page.keyboard.press("Control+y")
        expect(bench.locator("[data-segment]")).to_have_count((1, 2, 2, 2)[step])
    expect(bench.locator("[data-segment]")).to_have_text(["green 55%", "amber 45%"])
    assert faults_of(page) == [] and noise == []
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Lock stripe")
    bead = Bead.objects.get()
    assert bead.pattern == "stripes"
    assert {part.colour: part.share * 100 for part in bead.colours.all()} == {green: 55, amber: 45}
