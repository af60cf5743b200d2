"""The first order, from the sign-in page to the printed invoice, on a phone and at the counter.

"30 bracelets and 12 necklaces for a trader, half of the beads in stock": taken, costed, waiting on
firing while a sack is logged, and invoiced.
"""

import io
import re
from datetime import date
from decimal import Decimal

import pypdf
import pytest
from django.test import Client
from playwright.sync_api import expect

from orders.demo.facts import load_stock, load_wants, load_workshop, new_passwords
from orders.models import Document, Order, WorkOrder
from stock.models import Bead, Sack
from tests.browser.conftest import PATIENCE_MS
from tests.builders import put_beads, put_glass
from workshop.models import Business, Person

PHONE = {"width": 360, "height": 740}
COUNTER = {"width": 1280, "height": 860}

# Beads on the shelf: half of what 30 bracelets (6 + 6 beads each) and 12 necklaces (12 + 14 and a
# centrepiece each) take: 90 + 90, 72 + 84, 6. An egg 13 mm long and 11 mm across takes
# 13 × √(1 − (2.5 ÷ 11)²) = 12.66 mm of cord about its hole of 2.5 mm. Six reeds and six eggs on
# either side come to 12 + 30 + 12 × 32.66 = 433.9 mm, 16.1 short of 450; with one egg more at
# either end they come to 459.2, which is 9.2 over and so nearer: 14 eggs.
HALF = {
    "Harbour round": 90,
    "Striped harbour": 90,
    "Cobalt reed": 72,
    "Ice egg": 84,
    "Harbour light": 6,
}

pytestmark = [pytest.mark.browser, pytest.mark.papers, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def workshop(db):
    """The demo's facts, half of the beads on the shelf, glass for the rest but no cobalt."""
    since = date(2025, 1, 2)
    load_workshop(since)
    load_stock(since)
    load_wants(since)
    for name, pieces in HALF.items():
        put_beads(Bead.objects.get(name=name), pieces)
    for colour in Bead.objects.get(name="Harbour light").colours.exclude(colour__name="cobalt"):
        put_glass(colour.colour, "chunks", 5)
    for name in ("Harbour round", "Striped harbour"):
        for part in Bead.objects.get(name=name).colours.all():
            put_glass(part.colour, "powder", 3)
    return new_passwords()


def sign_in(page, base: str, name: str, password: str) -> None:
    page.goto(f"{base}/")
    page.get_by_label("Username").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator(".rooms")).to_be_visible()


def add_design(page, name: str, *, line: int) -> None:
    """Find a design by its name and lay it on the order as its `line`-th."""
    page.get_by_placeholder("Find a design").fill(name)
    expect(page.locator("#designs button.card")).to_have_count(1)
    page.get_by_role("button", name=re.compile(f"^{name}")).click()
    strands(page, line).wait_for()


def strands(page, line: int):
    """The number box of the `line`-th line."""
    return page.locator(".order-line input[name^=n_]").nth(line - 1)


def sign_out(page) -> None:
    page.context.clear_cookies()


@pytest.mark.parametrize("size", [PHONE, COUNTER], ids=["phone", "counter"])
def test_a_trader_s_order_goes_from_the_counter_to_the_invoice(page, live_server, workshop, size):
    page.set_viewport_size(size)
    page.set_default_timeout(PATIENCE_MS)
    noise: list[str] = []
    page.on("console", lambda said: noise.append(said.text) if said.type == "error" else None)
    base = live_server.url

    sign_in(page, base, "dario", workshop["dario"])
    page.goto(f"{base}/counter/")
    page.get_by_placeholder("Name or telephone").fill("Marisa")
    page.locator("#people").get_by_role("button", name=re.compile("^Marisa Orlo")).click()
    page.get_by_role("button", name="Somebody else").wait_for()
    add_design(page, "Harbour bracelet", line=1)
    add_design(page, "Tide necklace with centrepiece", line=2)
    strands(page, 1).fill("30")
    strands(page, 2).fill("1 dozen")
    strands(page, 2).blur()
    # 30 × 10.80, the list for many, + 12 × 21.50
    expect(page.locator("#dock-figures")).to_contain_text("€582.00")

    sheet = page.locator("aside.sheet").inner_text()
    assert "342 of 684" in sheet  # half: 90 + 90 + 72 + 84 + 6 of 180 + 180 + 144 + 168 + 12
    assert re.search(r"cobalt\s+.*short", sheet)
    assert re.search(r"Kiln\s+\d+\.\d\d\sh", sheet), sheet
    assert re.search(r"Hands\s+\d+\.\d\d\sh", sheet), sheet
    page.get_by_label("Deposit taken").fill("120")
    page.get_by_role("button", name="Take the order").last.click()
    page.wait_for_url("**/orders/*/")
    order = Order.objects.get()
    assert order.state == Order.State.CONFIRMED
    assert order.total == Decimal("582")
    assert {job.bead.name: job.needed for job in WorkOrder.objects.select_related("bead")} == HALF

    sign_out(page)
    sign_in(page, base, "bruna", workshop["bruna"])
    page.goto(f"{base}/stock/sacks/log/")
    page.get_by_role("radio", name="Celia Worth").check()
    page.get_by_role("radio", name=re.compile("cobalt")).check()
    page.get_by_role("radio", name="owed").check()
    page.get_by_label("On the scale").fill("9,5")
    page.get_by_role("button", name="Weigh it in").click()
    page.get_by_text(re.compile(r"sack 1")).first.wait_for()
    sack = Sack.objects.get()
    assert (sack.gross_g, sack.colour.name, sack.paid_on) == (9500, "cobalt", None)

    sign_out(page)
    sign_in(page, base, "olek", workshop["olek"])
    page.goto(f"{base}/firing/")
    page.locator("main details summary").filter(has_text="Marisa Orlo").click()
    waiting = page.locator("main").inner_text()
    assert "Marisa Orlo" in waiting
    assert re.search(
        r"cobalt, 0\.\d{3}\skg raw to prepare", waiting
    )  # the sack has come; it is raw
    assert "€" not in waiting  # a kiln keeper sees no prices

    sign_out(page)
    sign_in(page, base, "dario", workshop["dario"])
    page.goto(f"{base}/orders/{order.number}/invoice/")
    page.get_by_role("button", name=re.compile("[Ii]ssue|[Ii]nvoice")).last.click()
    page.wait_for_url("**/money/papers/*/")
    invoice = Document.objects.get(kind=Document.Kind.INVOICE, on_account=False)
    # 582.00 + 23 % (133.86) = 715.86. The deposit of 120.00 has an invoice of its own: 97.56 and
    # 22.44 of tax (120 ÷ 1.23); this one charges the rest.
    left = (Decimal("484.44"), Decimal("111.42"), Decimal("595.86"))
    assert (invoice.net, invoice.tax, invoice.total) == left
    assert noise == []

    client = Client()
    client.force_login(Person.objects.get(username="dario"))
    answer = client.get(f"/money/papers/{invoice.pk}/paper.pdf")
    pdf = b"".join(answer.streaming_content) if answer.streaming else answer.content
    text = "\n".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    for word in ("Tidewrack Beads", "Marisa Orlo", invoice.number, "97.56", "595.86"):
        assert word in text
    assert Business.current().invented
