"""Every page that can be reached by links from the front door, in a real browser.

One page of each kind is opened at a phone's width and at the counter's: nothing is written to the
console (so the content-security policy refused nothing), nothing must be scrolled sideways, and
axe, which automates rules of WCAG 2.2, finds nothing against it.
"""

from urllib.parse import urldefrag, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.management import call_command
from django.test import Client
from django.urls import Resolver404, resolve

from workshop.models import Person

PHONE = {"width": 360, "height": 740}
COUNTER = {"width": 1280, "height": 800}
PATIENCE_MS = 120_000  # a paper with many drawings, on a busy machine
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
AXE_RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def demo(db):
    """The demo workshop, without its passwords in the log."""
    import io

    call_command("load_demo", stdout=io.StringIO())


@pytest.fixture
def signed_in(context, live_server, settings):
    """A browser in which a person of the given role is signed in already."""

    def as_role(role: str):
        client = Client()
        client.force_login(Person.objects.filter(role=role).first())
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        return context.new_page()

    return as_role


def console_of(page) -> list[str]:
    """A list that fills with the errors the page writes to its console."""
    page.set_default_timeout(PATIENCE_MS)
    noise: list[str] = []
    page.on("console", lambda said: noise.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: noise.append(str(error)))
    return noise


def kind_of(path: str) -> str | None:
    """The name under which an address is known, or None for what is no page of ours."""
    try:
        return resolve(path).view_name or None
    except Resolver404:
        return None


def links_on(page, base: str) -> list[str]:
    """Addresses of this workshop that the page links to, as paths with their questions."""
    found = []
    # A link inside a drawing keeps its address as SVG does, so both are read as they are written.
    as_written = "links => links.map(link => new URL(link.getAttribute('href'), location).href)"
    for address in page.eval_on_selector_all("a[href]", as_written):
        address = urldefrag(address).url
        if address.startswith(base):
            parts = urlsplit(address)
            found.append(parts.path + (f"?{parts.query}" if parts.query else ""))
    return found


def look_at(page, address: str, noise: list[str]) -> list[str]:
    """Open a page at both widths; returns what is wrong with it."""
    wrong = []
    noise.clear()
    page.set_viewport_size(PHONE)
    answer = page.goto(address)
    if answer.status != 200:
        wrong.append(f"answers {answer.status}")
    if not page.title() or page.locator("h1").count() != 1:
        wrong.append("wants a title and one h1")
    for width in (PHONE, COUNTER):
        page.set_viewport_size(width)
        if (too_wide := page.evaluate(SIDEWAYS)) > 0:
            wrong.append(f"is {too_wide} px wider than a screen of {width['width']} px")
        for found in Axe().run(page, options=AXE_RULES).response["violations"]:
            where = found["nodes"][0]["target"][0]
            wrong.append(f"breaks {found['id']} at {where} ({len(found['nodes'])} times)")
    return wrong + [f"says in the console: {line}" for line in noise]


def walk(page, base: str, *, closely: set[str]) -> tuple[set[str], list[str]]:
    """Follow links from the front door to one page of each kind.

    closely  kinds to open in the browser; the others only have to answer. Returns the kinds
    that were reached, and what is wrong.
    """
    noise = console_of(page)
    troubles: list[str] = []
    reached: set[str] = set()
    waiting = ["/"]
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(urlsplit(path).path)
        if kind is None or kind in reached:
            continue
        reached.add(kind)
        answer = page.request.get(base + path, timeout=PATIENCE_MS)
        if not answer.ok:
            troubles.append(f"{path} answers {answer.status}")
        elif "text/html" in answer.headers.get("content-type", ""):
            if not closely or kind in closely:
                troubles += [f"{path} {wrong}" for wrong in look_at(page, base + path, noise)]
            else:
                page.goto(base + path)
            waiting += links_on(page, base)
    return reached, troubles


def test_every_page_is_in_order_for_everybody(demo, signed_in, live_server):
    # One test for all roles: the demo takes longer to load than its pages to look at.
    troubles: list[str] = []
    for role in ("owner", "counter", "yard", "kiln", "bench"):
        page = signed_in(role)
        # The owner may open everything, so what others see differs at the front door only.
        closely = set() if role == "owner" else {"orders:home", "workshop:rooms"}
        reached, wrong = walk(page, live_server.url, closely=closely)
        assert len(reached) > 3, (role, reached)
        troubles += [f"{role}: {trouble}" for trouble in wrong]
        page.close()
    assert not troubles, "\n".join(troubles)


def test_the_sign_in_page_is_in_order(page, live_server):
    assert look_at(page, f"{live_server.url}/workshop/sign-in/", console_of(page)) == []
