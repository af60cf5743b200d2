"""A phone in the yard while the desk is out of reach: what it keeps, writes down and sends once.

Chromium over real TLS; the certificate is taken by its own key (`test_phones_over_tls.py` shows
that one who trusts the workshop's authority takes it too, and no other).
"""

import os
import re
import sqlite3
import subprocess
import sys
from base64 import b64encode
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.db import connection
from playwright.sync_api import expect

from tests.browser.conftest import PATIENCE_MS
from tests.hard.test_phones_over_tls import three_free_ports
from tests.test_opening import desk
from workshop.models import Person
from workshop.services.phones import new_word

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a desk has a book of SQLite"),
]
PASSWORD = "sea glass 42"
PHONES = {"yard": "yard", "counter": "counter", "stall": "counter"}


@pytest.fixture
def yard(demo, tmp_path):
    """The demo's book in a file, words for phones of its people, and a desk to open."""
    words = {}
    for phone, role in PHONES.items():
        person = Person.objects.filter(role=role).first()
        # As the desk itself would: the tests' own quick hashes mean nothing to it.
        hasher = Argon2PasswordHasher()
        person.password = hasher.encode(PASSWORD, hasher.salt())
        person.save()
        words[phone] = (person.username, new_word(person, person=person))
    connection.ensure_connection()
    with closing(sqlite3.connect(tmp_path / "book.sqlite3")) as book:
        connection.connection.backup(book)
    return Yard(tmp_path, words)


class Yard:
    def __init__(self, folder: Path, words: dict[str, tuple[str, str]]) -> None:
        self.folder, self.words = folder, words
        self.book, self.port = folder / "book.sqlite3", three_free_ports()
        self.host = ""

    @contextmanager
    def open_desk(self):
        with desk(self.book, self.port, "--phones", PHONES_DIR=str(self.folder / "phones")) as on:
            self.host = re.search(r"https://([a-z0-9-]+\.local):", on[0]).group(1)
            yield

    @contextmanager
    def phone(self, playwright, browser_type_launch_args, which="yard"):
        """The phone's browser; closed and opened again it is the same phone."""
        pem = (self.folder / "phones" / "server.pem").read_bytes()
        key = x509.load_pem_x509_certificate(pem).public_key()
        told = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        args = [
            *browser_type_launch_args.get("args", []),
            f"--host-resolver-rules=MAP {self.host} 127.0.0.1",
            f"--ignore-certificate-errors-spki-list={b64encode(sha256(told).digest()).decode()}",
        ]
        context = playwright.chromium.launch_persistent_context(
            self.folder / which,
            **{**browser_type_launch_args, "args": args},
            viewport={"width": 360, "height": 740},
        )
        context.set_default_timeout(PATIENCE_MS)
        context.set_default_navigation_timeout(PATIENCE_MS)
        yield context.new_page()
        context.close()

    def at(self, path: str) -> str:
        return f"https://{self.host}:{self.port + 1}{path}"

    def asked(self, question: str) -> list:
        with closing(sqlite3.connect(self.book)) as book:
            return book.execute(question).fetchall()

    def check_book(self) -> None:
        done = subprocess.run(
            [sys.executable, "manage.py", "check_book"],
            env={**os.environ, "DATABASE_URL": f"sqlite:///{self.book}"},
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr

    def come_in(self, page, which="yard") -> None:
        name, word = self.words[which]
        page.goto(self.at(f"/workshop/phones/pair/?word={word}"))
        page.get_by_role("button", name="Let it in").click()
        page.get_by_label("Username").fill(name)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page).to_have_url(self.at("/"))


def kept_since(page, path: str) -> int:
    whose = page.locator("#phone-words").get_attribute("data-person")
    return page.evaluate("([who, path]) => phoneStore.keptSince(who, path)", [whose, path])


def keeps(page, *paths: str) -> None:
    """Wait until the phone has these pages."""
    for path in paths:
        for _look in range(PATIENCE_MS // 200):
            if kept_since(page, path):
                break
            page.wait_for_timeout(200)


def log_a_sack(page, yard, kg: str) -> None:
    page.goto(yard.at("/stock/sacks/log/"))
    expect(page.locator(".message.kept")).to_contain_text("out of reach")
    for name in ("collector", "colour"):
        page.locator(f"input[name={name}]").first.evaluate("box => box.click()")
    page.locator("input[name=gross_g]").fill(f"{kg} kg")
    page.get_by_role("button", name="Weigh it in").click()
    expect(page).to_have_url(yard.at("/workshop/phones/waiting/"))


def test_a_sack_logged_without_a_signal_is_in_the_book_once(
    yard, playwright, browser_type_launch_args
):
    sacks = yard.asked("SELECT count(*) FROM stock_sack")[0][0]
    with yard.open_desk(), yard.phone(playwright, browser_type_launch_args) as page:
        yard.come_in(page)
        keeps(page, "/stock/sacks/log/", "/workshop/phones/waiting/")
        assert not kept_since(page, "/workshop/me/"), "one's own page is not kept"
    with yard.phone(playwright, browser_type_launch_args) as page:
        log_a_sack(page, yard, "4.2")
        log_a_sack(page, yard, "two or three")
        acts = page.locator("#phone-acts > li")
        expect(acts).to_have_count(2)
        expect(acts.first).to_contain_text("4.2")
        expect(page.locator("#phone-waiting")).to_contain_text("2 not sent yet")
        raw = page.evaluate(
            "async () => (await phoneStore.all('acts')).map("
            "(row) => new TextDecoder('latin1').decode(row.data)).join()"
        )
        assert "4.2" not in raw and "collector" not in raw, "what is kept is enciphered"
    # The browser was closed in between; the desk was away all the while.
    with yard.phone(playwright, browser_type_launch_args) as page:
        page.goto(yard.at("/workshop/phones/waiting/"))
        expect(page.locator("#phone-acts > li")).to_have_count(2)
        with yard.open_desk():
            page.goto(yard.at("/workshop/phones/waiting/"))
            # What the desk cannot do as written comes back as a question, with its reason.
            question = page.locator("#phone-acts > li")
            expect(question).to_have_count(1)
            expect(question).to_contain_text("the desk asks")
            expect(question.locator("[data-why]")).to_contain_text("On the scale")
            question.get_by_role("button", name="Open it, filled in").click()
            weight = page.locator("input[name=gross_g]")
            expect(weight).to_have_value("two or three kg")
            weight.fill("3.1 kg")
            page.get_by_role("button", name="Weigh it in").click()
            expect(page.locator(".message.success")).to_be_visible()
            page.goto(yard.at("/workshop/phones/waiting/"))
            expect(page.get_by_text("Nothing waits")).to_be_visible()
            page.goto(yard.at("/"))
            expect(page.locator("#phone-waiting")).to_be_hidden()
            page.goto(yard.at("/workshop/me/"))
            page.get_by_role("button", name="Sign out", exact=True).last.click()
            expect(page).to_have_url(yard.at("/workshop/sign-in/"))
            assert page.evaluate("async () => (await phoneStore.all('pages')).length") == 0
            assert page.evaluate("async () => (await phoneStore.all('keys')).length") == 0
    assert yard.asked("SELECT count(*) FROM stock_sack")[0][0] == sacks + 2
    happened = yard.asked("SELECT after FROM workshop_act WHERE after LIKE '%happened at%'")
    assert len(happened) == 1, "the other was sent from the page itself"
    yard.check_book()


SOLD = """SELECT coalesce(sum(line.strands), 0) FROM orders_sale sale
    JOIN orders_orderline line ON line.order_id = sale.order_id"""


def sell_offline(page, yard, count: int) -> str:
    """Sell some of the first design that lies ready; gives the sum that the phone told."""
    page.goto(yard.at("/sell/"))
    expect(page.locator(".message.kept")).to_contain_text("out of reach")
    page.locator(".take .stepper input").first.fill(str(count))
    expect(page.locator("#sell-due .answer-value")).not_to_have_text("–")
    told = page.locator("#sell-due .answer-value").text_content()
    page.get_by_role("button", name="Paid in cash").click()
    expect(page).to_have_url(yard.at("/workshop/phones/waiting/"))
    return told


def test_two_phones_sell_the_same_beads_and_one_takes_an_order(
    yard, playwright, browser_type_launch_args
):
    given = (playwright, browser_type_launch_args)
    before = yard.asked(SOLD)[0][0]
    with yard.open_desk():
        for which in ("counter", "stall"):
            with yard.phone(*given, which) as page:
                yard.come_in(page, which)
                keeps(page, "/sell/", "/counter/phone/", "/workshop/phones/waiting/")
                page.goto(yard.at("/sell/"))
                name = page.locator(".take .card-name").first.text_content()
                card = page.locator(".take .card-note").first.text_content()
                ready = int(re.search(r"(\d+) ready", card)[1])
    with yard.phone(*given, "stall") as page:
        sum_told = sell_offline(page, yard, ready)
        act = page.locator("#phone-acts > li")
        expect(act).to_contain_text(sum_told)
        # The bead of the counter leads to the page that needs no answer of the desk.
        page.goto(yard.at("/counter/"))
        expect(page.get_by_role("heading", level=1)).to_have_text("New order, without a signal")
        page.get_by_label("Who is it for?").fill("Rosa Quay")
        page.locator(".take .stepper input").nth(1).fill("20")
        page.get_by_label("Deposit taken").fill("2")
        page.get_by_role("button", name="Take the order").click()
        expect(page.locator("#phone-acts > li")).to_have_count(2)
        expect(page.locator("#phone-waiting")).to_contain_text("2 not sent yet")
    with yard.phone(*given, "counter") as page:
        sell_offline(page, yard, ready)
        with yard.open_desk():
            page.goto(yard.at("/"))
            expect(page.locator("#phone-tick")).to_contain_text("Sold for " + sum_told)
            page.locator("#phone-tick a").click()
            expect(page.locator("#phone-told > li")).to_contain_text("Sold for " + sum_told)
            with yard.phone(*given, "stall") as other:
                other.goto(yard.at("/workshop/phones/waiting/"))
                question = other.locator("#phone-acts > li")
                expect(question).to_have_count(1)
                expect(question.locator("[data-why]")).to_contain_text("none lies on the shelf")
                told = other.locator("#phone-told > li")
                expect(told).to_contain_text("is taken: collect from")
                question.get_by_role("button", name="Take an order for it").click()
                expect(other).to_have_url(re.compile("/counter/phone/"))
                expect(other.get_by_label("Deposit taken")).not_to_have_value("")
                expect(other.get_by_label(f"{name}: strands")).to_have_value(str(ready))
    assert yard.asked(SOLD)[0][0] == before + ready
    assert yard.asked("SELECT count(*) FROM orders_customer WHERE name = 'Rosa Quay'") == [(1,)]
    yard.check_book()
