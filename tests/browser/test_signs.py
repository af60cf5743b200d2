"""Signs are told apart, and those who read none of the words get through a day by them.

How far two signs must differ is our own choice: of the ink that either holds, two fifths are not
the other's, however the one is shifted by a pixel against the other.
"""

import io
from datetime import timedelta
from itertools import combinations, cycle

import pytest
from django.db.models import F
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from orders.models import WorkOrder
from stock.models import KilnLoad, Sack
from tests.browser.looking import PHONE
from tests.builders import make_collector, make_colour, make_person
from tests.orders.firing.conftest import make_load, put_in, waiting_job
from tests.orders.firing.conftest import workshop as _workshop
from workshop.drawing.signs import SIDE, SIGNS, mark_svg, sign_svg
from workshop.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
workshop = _workshop
Step = WorkOrder.Step
APART = 0.4
# Every letter is gone; drawings, swatches, and boxes with their figures stay.
NO_WORDS = """
  body, body * { font-size: 0 !important; color: transparent !important; }
  svg { color: #000 !important; }
  input { font-size: 18px !important; color: #000 !important; }
"""


def inks(page, drawings: list[str]) -> list[list[int]]:
    """How dark each pixel of each drawing is, as a browser paints it at its own size."""
    page.set_content(
        "<style>body{margin:0;background:#fff;color:#000}svg{display:block}</style>"
        + "".join(drawings)
    )
    taken = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("L")
    wide = 2 * SIDE
    rows = [taken.crop((0, top, wide, top + SIDE)) for top in range(0, SIDE * len(drawings), SIDE)]
    return [[255 - dark for dark in row.tobytes()] for row in rows]


def apart(one: list[int], other: list[int]) -> float:
    """The least share of ink not in common, over shifts of a pixel each way."""
    wide, found = 2 * SIDE, 1.0
    for shift in (0, 1, -1, wide, -wide):
        moved = other[shift:] + other[:shift]
        both = sum(map(min, one, moved))
        either = sum(map(max, one, moved))
        found = min(found, 1 - both / either)
    return found


def test_any_two_signs_are_told_apart_at_24_pixels(page):
    drawn = dict(zip(SIGNS, inks(page, [sign_svg(name) for name in SIGNS]), strict=True))
    assert all(sum(ink) > 255 * 15 for ink in drawn.values()), "a sign is hardly there"
    near = {
        (one, other): round(share, 2)
        for one, other in combinations(drawn, 2)
        if (share := apart(drawn[one], drawn[other])) < APART
    }
    assert near == {}


def test_a_hundred_collectors_have_a_mark_each(page):
    drawn = inks(page, [mark_svg(number) for number in range(1, 101)])
    least = min(apart(one, other) for one, other in combinations(drawn[:12], 2))
    assert len({tuple(ink) for ink in drawn}) == 100
    assert least > 0.05


class Reader:
    """Somebody who goes by drawings and figures: no letter is shown on any page.

    Each taps with a thumb or, the next one, goes by the keys alone; in French and in German.
    """

    WAYS = cycle([("fr", False), ("de", True)])

    def __init__(self, page, base: str) -> None:
        self.page = page
        language, self.by_keys = next(self.WAYS)
        Person.objects.update(language=language)
        page.set_viewport_size(PHONE)
        page.goto(base + "/")
        self.hide()

    def hide(self) -> None:
        # As an extension of the browser would; a style of the page's own is refused.
        self.page.evaluate(
            "css => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css);"
            " document.adoptedStyleSheets = [sheet]; }", NO_WORDS,
        )  # fmt: skip
        expect(self.page.locator("h1")).to_have_css("font-size", "0px")
        assert self.page.evaluate("document.documentElement.lang") in {"fr", "de"}

    def with_sign(self, what: str, sign: str):
        """The first link, button or label that carries a sign, in sight."""
        path = next(part for part in SIGNS[sign] if part)
        drawn = f'path[d="{path}"]'
        # A drawing that stands several times on a page is written once and used from there.
        once = self.page.locator(f"defs g:has({drawn})")
        if once.count():
            drawn = f':is({drawn}, use[href="#{once.first.get_attribute("id")}"])'
        return self.page.locator(f"main {what}:has(> .sign {drawn})").locator("visible=true")

    def tap(self, sign: str) -> None:
        button = self.with_sign(":is(a, button).button", sign).first
        if self.by_keys:
            button.press("Enter")
        else:
            button.click()
        self.page.wait_for_load_state()
        self.hide()

    def box(self, sign: str):
        return self.page.locator("#" + self.with_sign("label", sign).first.get_attribute("for"))


def test_sack_mould_light_open_finish_and_string_without_a_word(workshop, signed_in, live_server):
    make_person("yard")
    make_collector("Ilse Brandt")
    other = make_collector("Oda Fell")
    make_colour("amber", swatch="#9a5a14")
    base = live_server.url

    yard = Reader(signed_in("yard"), base)
    yard.tap("sack")
    mark = yard.page.locator(".tile:has(.own-mark)")
    drawn = mark_svg(other.pk).partition(">")[2].removesuffix("</svg>")
    marks = mark.evaluate_all("all => all.map(each => each.querySelector('svg').innerHTML)")
    mine = yard.page.evaluate(
        "one => { const svg = document.createElement('template'); svg.innerHTML = "
        "`<svg>${one}</svg>`; return svg.content.firstChild.innerHTML }", drawn,
    )  # fmt: skip
    mark.nth(marks.index(mine)).click()
    yard.page.locator('.tile:has(.sd-bottle path[fill="#9a5a14"])').click()
    yard.box("scale").fill("24.5")
    yard.tap("sack")
    sack = Sack.objects.get()
    assert (sack.collector, sack.colour.name, sack.gross_g) == (other, "amber", 24_500)

    job = waiting_job(workshop)
    bench = Reader(signed_in("bench"), base)
    bench.tap("mould")
    bench.tap("mould")
    job.refresh_from_db()
    assert job.step == Step.FIRING

    load = make_load(workshop, starts_at=timezone.now() - timedelta(minutes=5))
    put_in(load, job)
    kiln = Reader(signed_in("kiln"), base)
    kiln.tap("light")
    kiln.tap("light")
    load.refresh_from_db()
    assert load.state == KilnLoad.State.FIRING
    day = timedelta(days=1)
    KilnLoad.objects.update(starts_at=F("starts_at") - day, started_at=F("started_at") - day)
    kiln = Reader(kiln.page, base)
    kiln.tap("open")
    kiln.with_sign("label", "good").click()
    kiln.tap("open")
    load.refresh_from_db()
    assert load.state == KilnLoad.State.COOLED

    bench = Reader(signed_in("bench"), base)
    bench.tap("finish")
    bench.tap("finish")
    bench = Reader(signed_in("bench"), base)
    bench.tap("string")
    bench.tap("string")
    assert job.order.lines.get().strung == 1
