"""Paired phones of a workshop, as browsers, and the desk they reach or do not reach.

Chromium over real TLS; the certificate is taken by its own key (`test_phones_over_tls.py` shows
that one who trusts the workshop's authority takes it too, and no other).
"""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from base64 import b64encode
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.db import connection
from playwright.sync_api import expect

from tests.browser.conftest import PATIENCE_MS
from tests.hard.test_phones_over_tls import three_free_ports
from tests.test_opening import ROOT, desk
from workshop.models import Person
from workshop.services.phones import new_word

PASSWORD = "sea glass 42"
PHONES = {"yard": "yard", "counter": "counter", "stall": "counter", "owner": "owner"}


def yard_in(folder: Path) -> "Yard":
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
    with closing(sqlite3.connect(folder / "book.sqlite3")) as book:
        connection.connection.backup(book)
    return Yard(folder, words)


class Yard:
    def __init__(self, folder: Path, words: dict[str, tuple[str, str]]) -> None:
        self.folder, self.words = folder, words
        self.book, self.port = folder / "book.sqlite3", three_free_ports()
        self.host = ""

    @contextmanager
    def open_desk(self, root: Path = ROOT):
        phones = str(self.folder / "phones")
        with desk(self.book, self.port, "--phones", root=root, PHONES_DIR=phones) as (said, on):
            self.host = re.search(r"https://([a-z0-9-]+\.local):", said).group(1)
            yield on

    @contextmanager
    def phone(self, playwright, browser_type_launch_args, which="yard", through: int = 0):
        """The phone's browser; closed and opened again it is the same phone.

        through  the port of a way to the desk that can be cut
        """
        pem = (self.folder / "phones" / "server.pem").read_bytes()
        key = x509.load_pem_x509_certificate(pem).public_key()
        told = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        args = [
            *browser_type_launch_args.get("args", []),
            f"--host-resolver-rules=MAP {self.host} 127.0.0.1{f':{through}' if through else ''}",
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
        for look in range(1, PATIENCE_MS // 200):
            if kept_since(page, path):
                break
            page.wait_for_timeout(200)
            if look % 75 == 0:
                page.reload()  # on a busy machine a page may come too late to be kept at once
        assert kept_since(page, path), f"{path} is not kept"


# The clock of a phone, as pages and worker of an edition see it.
CLOCK = """self.Date = class extends Date {
  constructor(...given) {
    super(...(given.length ? given : [self.Date.now()]));
  }
  static now() {
    return super.now() + %d;
  }
};
"""


def another_edition(folder: Path, *, clock_ahead_ms: int = 0) -> Path:
    """The program as a later edition might be: another worker, and one store more on the phone.

    clock_ahead_ms  instead, it sees the phone's clock as that much ahead wherever it asks the hour
    """
    for part in ("workshop", "stock", "orders", "templates", "fixtures/tidewrack", "var/made"):
        shutil.copytree(ROOT / part, folder / part)
    for part in ("manage.py", "requirements.lock", "requirements-test.lock", "var/secret_key"):
        if (ROOT / part).exists():
            shutil.copy2(ROOT / part, folder / part)
    store = folder / "workshop/static/workshop/js/phone_store.js"
    text = store.read_text(encoding="utf-8")
    version = int(re.search(r"const VERSION = (\d+);", text)[1])
    if clock_ahead_ms:
        text = CLOCK % clock_ahead_ms + text
    else:
        text = text.replace(f"const VERSION = {version};", f"const VERSION = {version + 1};")
        text = text.replace('"facts", ', '"facts", "later", ', 1)
    store.write_text(text, encoding="utf-8")
    return folder


# A store without room refuses what is put there (Indexed Database API 3.0, 5.11 and 8).
REFUSE = """(() => {
  const { put } = IDBObjectStore.prototype;
  self.makeRoom = () => {
    IDBObjectStore.prototype.put = put;
  };
  IDBObjectStore.prototype.put = () => {
    throw new DOMException("no room", "QuotaExceededError");
  };
})()"""


def fill_up(page) -> None:
    """A phone whose store is full from the next page on."""
    [worker] = page.context.service_workers
    worker.evaluate(REFUSE)
    page.add_init_script(f"if (!sessionStorage.getItem('room')) {REFUSE}")


def make_room(page) -> None:
    [worker] = page.context.service_workers
    worker.evaluate("self.makeRoom()")
    page.evaluate("sessionStorage.setItem('room', 'made')")
