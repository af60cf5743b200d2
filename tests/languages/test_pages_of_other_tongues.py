"""Pages in a tongue a third longer, in one that is read from the right and in our own, on a phone.

A sample of the pages; `PSEUDO_PAGES=all` walks every page of the owner's, which takes minutes;
`PAGES_IN="de fr"` in these languages only.
"""

import os
import re
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from tests.hard.world import candidates, every_address, make_world, page_of
from tests.languages import pseudo
from workshop.languages import TRANSLATED
from workshop.models import Person

CSS = Path(__file__).parents[2] / "workshop" / "static" / "workshop" / "css"
SIDES = re.compile(
    r"(?:margin|padding|border|border-top|border-bottom)-(?:left|right)\b|(?<![\w-])(?:left|right):"
    r"|(?:text-align|float|clear): *(?:left|right)\b|scroll-(?:margin|padding)-(?:left|right)"
)
FOUR = re.compile(r"(?:padding|margin|inset): ([^;]+);")
# What hangs at the pointer is placed by the pointer.
BY_POINTER = {".bench-ghost"}

SAMPLE = (
    "orders:home", "orders:counter", "orders:order_list", "orders:order_detail", "orders:firing",
    "orders:load", "orders:bench", "orders:design_list", "orders:design_detail", "orders:money",
    "orders:statement", "orders:customer_detail", "orders:customer_add", "orders:paper",
    "orders:order_working", "stock:glass", "stock:sack_log", "stock:preparation_log",
    "stock:beads", "stock:bead", "stock:bead_add", "stock:posting", "orders:load_start",
    "workshop:facts", "workshop:business", "workshop:own_page", "workshop:rooms",
    "workshop:safety",
)  # fmt: skip
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
DRAWN = "[...document.querySelectorAll('svg')].map((each) => getComputedStyle(each).direction)"
# Bars that stay where they are while the page scrolls: nothing in them may stand past the edge.
PAST_THE_EDGE = """() => [...document.querySelectorAll(".thumb *, .dock *, .rooms-cord *")]
  .filter((each) => each.getClientRects().length && !each.closest("details:not([open])"))
  .filter((each) => each.getBoundingClientRect().right > innerWidth + 1
                    || each.getBoundingClientRect().left < -1)
  .map((each) => each.outerHTML.slice(0, 120)).slice(0, 2)"""
# Words that reach beyond the button they stand in, or make it taller than three lines.
BROKEN_BUTTONS = """() => [...document.querySelectorAll("button, a.button")]
  .filter((each) => each.getClientRects().length && !each.classList.contains("unseen"))
  .filter((each) => each.scrollWidth > each.clientWidth + 2
                    || each.textContent.trim() && !each.children.length && each.clientHeight > 96)
  .map((each) => each.outerHTML.slice(0, 160)).slice(0, 3)"""
# The widest thing that reaches beyond the page, for whoever mends it.
WIDEST = """() => [...document.querySelectorAll("main *, nav *")]
  .map((each) => [Math.max(each.getBoundingClientRect().right - innerWidth,
                           -each.getBoundingClientRect().left), each])
  .sort((one, other) => other[0] - one[0]).slice(0, 2)
  .map(([far, each]) => `${Math.round(far)} px: ${each.outerHTML.slice(0, 140)}`)"""


def parts_of(value: str) -> list[str]:
    """The sides of a shorthand, an expression in brackets being one of them."""
    return re.findall(r"(?:[^\s()]|\([^()]*(?:\([^()]*\)[^()]*)*\))+", value)


def test_no_rule_names_a_left_or_a_right():
    """Start and end turn with the language (CSS Logical Properties 1); left and right do not."""
    found = []
    for path in sorted(CSS.glob("*.css")):
        text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S)
        for block in re.findall(r"[^{}]+\{[^{}]*\}", text):
            if any(name in block for name in BY_POINTER):
                continue
            found += [f"{path.name}: {side}" for side in SIDES.findall(block)]
            for value in FOUR.findall(block):
                sides = parts_of(value)
                if len(sides) == 4 and sides[1] != sides[3]:
                    found.append(f"{path.name}: {value}")
    assert not found


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_nothing_must_be_scrolled_sideways(context, live_server, settings):
    """In both pseudo-languages every page, and each in one of our own, the next in the next."""
    make_world()
    whole = os.environ.get("PSEUDO_PAGES") == "all"
    chosen = os.environ.get("PAGES_IN", "").split()
    client = Client()
    client.force_login(Person.objects.get(username="owner"))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    context.set_default_navigation_timeout(180_000)
    page = context.new_page()
    page.set_viewport_size({"width": 360, "height": 740})
    troubles, looked_at = [], 0
    with pseudo.spoken():
        values, told = candidates(), cycle(TRANSLATED)
        for address in every_address():
            if not (whole or address.name in SAMPLE) or address.name == "workshop:sign_out":
                continue
            path, answer = page_of(client, address, values)
            if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
                continue
            if "<main" not in answer.content.decode():
                continue  # printed, such as a slip for the yard
            looked_at += 1
            own = TRANSLATED if whole else (next(told),)
            for language in chosen or (pseudo.LONG, pseudo.RIGHT_TO_LEFT, *own):
                Person.objects.update(language=language)
                page.goto(live_server.url + path)
                way = "rtl" if language == pseudo.RIGHT_TO_LEFT else "ltr"
                assert page.evaluate("document.dir") == way
                assert page.evaluate("document.documentElement.lang") == language
                troubles += [f"{language} {path}: {each}" for each in troubles_of(page)]
                assert set(page.evaluate(DRAWN)) <= {"ltr"}, "a drawing is never mirrored"
    assert looked_at >= len(SAMPLE)
    assert not troubles, "\n".join(troubles)


def troubles_of(page: Any) -> list[str]:
    found = []
    if (too_wide := page.evaluate(SIDEWAYS)) > 0:
        found.append(f"{too_wide} px too wide {page.evaluate(WIDEST)}")
    if past := page.evaluate(PAST_THE_EDGE):
        found.append(f"{past} past the edge")
    if broken := page.evaluate(BROKEN_BUTTONS):
        found.append(f"words do not fit their button: {broken}")
    return found
