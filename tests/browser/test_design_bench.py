"""A design laid on its drawing: by thumb on a phone, at the keyboard, and carried by the mouse."""

import re

import pytest
from playwright.sync_api import Page, expect

from orders.models import StrandDesign
from tests.browser.looking import console_of, faults_of
from tests.builders import make_bead, make_business, make_colour, make_kiln, make_person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def bench(transactional_db, signed_in, live_server) -> Page:
    """An owner before a new design, with three beads and no design yet."""
    make_business()
    make_kiln()
    make_bead()
    make_bead("Milk pea", diameter_mm=8, colours={make_colour("milk", swatch="#efe9dc"): 1})
    make_bead("Great light", diameter_mm=22)
    page = signed_in(make_person("owner"))
    page.noise = console_of(page)
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{live_server.url}/designs/add/")
    return page


def said(page: Page, words: str) -> None:
    expect(page.locator("[data-said]")).to_contain_text(words)


def on_it(page: Page, words: str) -> None:
    expect(page.locator(".bench-counted")).to_contain_text(words)


def at(page: Page, words: str) -> None:
    """Which piece of the cord has the focus."""
    expect(page.locator(".piece:focus")).to_have_attribute("aria-label", re.compile(words))


def carry_with_a_finger(page: Page, name: str) -> None:
    """A finger rests on a bead of the palette, then carries it onto the cord."""
    thing = page.locator(f"[data-name='{name}']")
    thing.evaluate("e => scrollTo(0, e.getBoundingClientRect().top + scrollY - 400)")
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *at: float) -> None:
        points = [{"x": at[0], "y": at[1]}] if at else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    here = thing.bounding_box()
    there = page.locator(".piece[aria-selected='true'] use").bounding_box()
    touch("touchStart", here["x"] + 40, here["y"] + 30)
    expect(page.locator(".bench-ghost")).to_be_visible()
    touch("touchMove", there["x"] + 4, there["y"] + 40)
    touch("touchMove", there["x"] + 4, there["y"] + 10)
    touch("touchEnd")


def made() -> list[tuple[str, int, str]]:
    design = StrandDesign.objects.get()
    return [(part.bead.name, part.count, part.role) for part in design.parts.all()]


def test_a_bracelet_is_laid_with_a_thumb(bench):
    """Taps alone, but for the name; what was undone stays undone after a refused save."""
    tap = lambda name: bench.get_by_role("button", name=name, exact=True).click()  # noqa: E731
    bench.locator("[data-name='Green round']").click()
    tap("wrist 15.5 cm")
    on_it(bench, "20 Green round")  # 155 + 10 + π × 10 = 196.4 mm; 20 × 9.798 = 196.0 mm
    bench.locator("[data-name='Milk pea']").click()
    said(bench, "Milk pea is on the cord")
    on_it(bench, "Milk pea")
    tap("One more")
    tap("Undo")
    said(bench, "Undone")
    bench.locator("[data-name='Great light']").click()
    tap("Middle")
    on_it(bench, "1 Great light")
    expect(bench.get_by_role("button", name="Mirror", exact=True)).to_have_attribute(
        "aria-pressed", "true"
    )
    carry_with_a_finger(bench, "Milk pea")
    said(bench, "Milk pea is on the cord")
    tap("Undo")
    said(bench, "Undone")
    tap("Save the design")  # it has no name yet
    expect(bench.locator(".error-summary")).to_be_visible()
    on_it(bench, "1 Great light")
    tap("Undo")
    on_it(bench, "Great light")
    tap("Redo")
    on_it(bench, "1 Great light")
    for target in bench.locator(".bench-tools button, .bench-sizes button, .palette-thing").all():
        assert target.bounding_box()["height"] >= 44, target.inner_text()
    # The browser notes the refusal, and htmx the drawing that the saving left behind.
    bench.noise[:] = [line for line in bench.noise if not re.match("htmx:|.*status of 422", line)]
    assert faults_of(bench) == [] and bench.noise == []
    bench.get_by_label("Name", exact=True).fill("Weir bracelet")
    tap("Save the design")
    expect(bench.get_by_role("heading", level=1)).to_have_text("Weir bracelet")
    assert made() == [
        ("Green round", 1, "repeat"),
        ("Milk pea", 1, "repeat"),
        ("Great light", 1, "centre"),
    ]
    assert StrandDesign.objects.get().mirrored


def test_a_strand_is_laid_at_the_keyboard_and_carried_by_the_mouse(bench):
    bench.set_viewport_size({"width": 1280, "height": 900})
    press = bench.keyboard.press
    bench.get_by_label("Name", exact=True).fill("Lock choker")
    bench.get_by_label("Finished length", exact=True).fill("40")
    bench.locator("[data-put][tabindex='0']").focus()
    press("Enter")  # the first of the palette: Great light
    press("ArrowRight")
    press("Enter")
    said(bench, "Green round is on the cord")
    on_it(bench, "Green round")
    press("Escape")  # back to the cord, where it is chosen
    at(bench, "Green round, piece 2 of")
    press("Shift+ArrowLeft")
    said(bench, "Green round moved")
    at(bench, "Green round, piece 1 of")
    press("+")
    on_it(bench, "Green round")
    press("Delete")
    said(bench, "Green round is taken off")
    press("Control+z")
    said(bench, "Undone")
    press("Control+y")
    said(bench, "Done again")
    at(bench, "piece 2 of")
    # By mouse: a pea carried between the first and the second piece.
    pea = bench.locator("[data-name='Milk pea']").bounding_box()
    bench.mouse.move(pea["x"] + 30, pea["y"] + 30)
    bench.mouse.down()
    first = bench.locator(".piece use").first.bounding_box()
    bench.mouse.move(first["x"] + first["width"] - 2, first["y"] + 6, steps=5)
    bench.mouse.up()
    said(bench, "Milk pea is on the cord")
    bench.get_by_role("button", name="Save the design").press("Enter")
    expect(bench.get_by_role("heading", level=1)).to_have_text("Lock choker")
    assert [name for name, _count, _role in made()] == ["Green round", "Milk pea", "Great light"]
    assert [line for line in bench.noise if not line.startswith("htmx:")] == []
