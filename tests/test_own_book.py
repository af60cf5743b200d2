"""From the demo to a book of one's own, on a desk that is really served."""

import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from html import unescape
from pathlib import Path

import pytest
import requests

from tests.patience import PATIENCE_S
from tests.test_opening import ROOT, free_port

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name != "posix", reason="Ctrl-C is sent the POSIX way"),
]

SOURCES = ("workshop", "orders", "stock", "templates", "fixtures")
# The demo's facts without its half year; its people get passwords nobody is told.
FACTS = """
from datetime import date
from orders.demo.facts import load_stock, load_wants, load_workshop
from workshop.models import Person
load_workshop(date(2026, 1, 2)); load_stock(date(2026, 1, 2)); load_wants(date(2026, 1, 2))
owner = Person.objects.get(role="owner")
owner.set_password("salt-wind-and-bottles")
owner.save()
"""


@pytest.fixture(scope="module")
def with_demo(tmp_path_factory) -> Path:
    """A clone whose book holds the demo's facts."""
    clone = tmp_path_factory.mktemp("clone")
    for name in SOURCES:
        shutil.copytree(ROOT / name, clone / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("manage.py", "pyproject.toml", "requirements.lock"):
        shutil.copy(ROOT / name, clone)
    manage(clone, "migrate", "-v0")
    manage(clone, "shell", "-c", FACTS)
    return clone


@pytest.fixture
def clone(with_demo, tmp_path) -> Path:
    return Path(shutil.copytree(with_demo, tmp_path / "clone"))


def manage(clone: Path, *words: str, expect: int = 0) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=clone, env=environment(), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == expect, done.stdout + done.stderr
    return done.stdout + done.stderr


def environment() -> dict[str, str]:
    unset = {"DATABASE_URL", "ALLOWED_HOSTS", "STRANDWORK_BOOK", "COPIES_DIR"}
    named = {name: value for name, value in os.environ.items() if name not in unset}
    return named | {"STRANDWORK_VENV": sys.prefix}


class Desk:
    """`serve_desk` in a clone, as `open` starts it; told in full when a test fails."""

    def __init__(self, clone: Path, *words: str, **named: str) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.log = clone.parent / f"desk-{self.port}.log"
        self.read = 0
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "serve_desk", "--port", str(self.port), *words],
                cwd=clone, env=environment() | named, stdout=log, stderr=subprocess.STDOUT,
            )  # fmt: skip

    def __enter__(self) -> "Desk":
        return self

    def __exit__(self, *trouble) -> None:
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(timeout=PATIENCE_S)
        finally:
            self.process.kill()
            print(self.log.read_text())

    def until_open(self) -> str:
        """What was said until the workshop opened; asked again, until it opened once more."""
        ends = time.monotonic() + PATIENCE_S
        while time.monotonic() < ends and self.process.poll() is None:
            said = self.log.read_text()[self.read :]
            if re.search(r"is open at .*\n", said):
                self.read += len(said)
                return said
            time.sleep(0.2)
        raise AssertionError(self.log.read_text())


def rows(book: Path, sql: str) -> list[tuple]:
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as look:
        return look.execute(sql).fetchall()


def names(book: Path, table: str) -> set[str]:
    return {name for (name,) in rows(book, f"SELECT name FROM {table}")}


def sign_in(address: str, name: str, password: str) -> requests.Session:
    visitor = requests.Session()
    page = visitor.get(f"{address}/workshop/sign-in/", timeout=PATIENCE_S).text
    visitor.post(
        f"{address}/workshop/sign-in/",
        data={"username": name, "password": password, **hidden(page)},
        timeout=PATIENCE_S,
    )
    return visitor


def hidden(page: str) -> dict[str, str]:
    found = re.findall(r'type="hidden"\s+name="(\w+)"\s+value="([^"]*)"', page)
    return dict(found)


def test_open_own_begins_an_empty_book_beside_the_demo_and_opens_it(clone):
    demo, own = clone / "var/strandwork.sqlite3", clone / "var/own.sqlite3"
    with Desk(clone, "--own", "--keep", "beads", "kilns") as desk:
        said = desk.until_open()
        assert "A book of your own is begun beside the demo" in said
        password = re.search(r"shown only now: (\S+)", said)[1]
        visitor = sign_in(desk.address, "owner", password)
        assert "First steps" in visitor.get(f"{desk.address}/", timeout=PATIENCE_S).text
    # Kept: kilns, and beads with what they cannot do without.
    for table in ("workshop_kiln", "workshop_mould", "workshop_programme", "stock_bead"):
        assert names(own, table) == names(demo, table) != set()
    assert names(own, "stock_glasscolour") == names(demo, "stock_glasscolour")
    for table in ("workshop_business", "orders_customer", "workshop_labourrate"):
        assert rows(own, f"SELECT count(*) FROM {table}") == [(0,)]
    assert names(demo, "workshop_business") == {"Tidewrack Beads"}
    assert own.stat().st_mode & 0o077 == 0
    # From now on the workshop's own book is the one that opens, and the demo is for practice.
    with Desk(clone) as desk:
        desk.until_open()
        visitor = sign_in(desk.address, "owner", password)
        assert "Tidewrack" not in visitor.get(f"{desk.address}/", timeout=PATIENCE_S).text
        beside = into_the_demo(visitor, desk)
    # It closes with the desk that it was opened beside.
    ends = time.monotonic() + PATIENCE_S
    while listens(beside) and time.monotonic() < ends:
        time.sleep(0.2)
    assert not listens(beside)
    assert "your own already" in manage(clone, "begin_own", expect=1)


def into_the_demo(visitor: requests.Session, desk: Desk) -> int:
    """One tap from one's own book into the demo, an act there, and back; gives its port."""
    room = visitor.get(f"{desk.address}/workshop/", timeout=PATIENCE_S).text
    assert "Practise in the demo" in room
    door = f"{desk.address}/workshop/practise/"
    page = visitor.post(door, data=hidden(room), timeout=PATIENCE_S).text
    ends = time.monotonic() + PATIENCE_S
    while not (found := re.search(r'url=(http://[^"]+)', page)) and time.monotonic() < ends:
        time.sleep(0.5)
        page = visitor.get(door, timeout=PATIENCE_S).text
    demo = visitor.get(unescape(found[1]), timeout=PATIENCE_S)
    assert "nothing here is real" in demo.text and "Tidewrack" in demo.text
    assert f'href="{desk.address}/"' in demo.text
    new = demo.url + "workshop/closed-days/new/"
    page = visitor.get(new, timeout=PATIENCE_S).text
    assert "Practise in the demo" not in page and "nothing here is real" in page
    # Still signed in at one's own book: each has its own cookie.
    assert "Tidewrack" not in visitor.get(f"{desk.address}/", timeout=PATIENCE_S).text
    # The pass opens nothing at one's own desk, and none is made up.
    port = demo.url.rstrip("/").rpartition(":")[2]
    path = unescape(found[1]).removeprefix(demo.url)
    for door in (f"{desk.address}/{path}", f"{demo.url}workshop/practise/in/made:up/"):
        assert requests.get(door, timeout=PATIENCE_S).status_code == 404
    return int(port)


def listens(port: int) -> bool:
    with socket.socket() as trial:
        return trial.connect_ex(("127.0.0.1", port)) == 0


def test_a_page_of_the_demo_begins_ones_own_book_and_the_desk_opens_it(clone):
    with Desk(clone) as desk:
        desk.until_open()
        visitor = sign_in(desk.address, "ines", "salt-wind-and-bottles")
        page = visitor.get(f"{desk.address}/own-book/", timeout=PATIENCE_S).text
        assert "Begin my own book" in page
        answer = visitor.post(
            f"{desk.address}/own-book/",
            data={"keep": ["rates", "designs"], **hidden(page)},
            timeout=PATIENCE_S,
        )
        assert "Your own book is ready" in answer.text
        assert '<meta http-equiv="refresh" content="20; url=/">' in answer.text
        assert "is open at" in desk.until_open()  # once more, by itself
        again = sign_in(desk.address, "ines", "salt-wind-and-bottles")
        assert "Go on: Your business" in again.get(f"{desk.address}/", timeout=PATIENCE_S).text
        designs = again.get(f"{desk.address}/designs/", timeout=PATIENCE_S).text
        assert "Harbour bracelet" in designs
        room = again.get(f"{desk.address}/workshop/", timeout=PATIENCE_S).text
        assert "Practise in the demo" in room


def test_an_empty_book_is_not_begun_over_the_demo_in_silence(clone):
    said = manage(clone, "serve_desk", "--port", str(free_port()), "--no-demo", expect=1)
    assert "The book here is the demo workshop" in said
    assert "manage.py open --own" in said
    assert "is open at" not in said
