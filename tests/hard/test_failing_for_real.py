"""The real server while something under it gives way, and after it has come back.

A disk that is truly full, a file that truly cannot be written, a clock that truly stands back, a
printing library that is truly missing, a paper whose bytes truly changed. Each time: a sentence for
the person, a line in the log, nothing half-written, and recovery without hands.
"""

import os
import re
import resource
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.hard.server import Hand, Server, make_workshop
from tests.hard.test_asvs_forms import boxes_of
from tests.hard.test_failing_kindly import a_sack_form
from tests.hard.traffic import FACTS

pytestmark = [
    pytest.mark.slow,
    pytest.mark.xdist_group("servers"),
    pytest.mark.skipif(
        os.environ.get("DATABASE_URL", "").startswith("postgres"), reason="the run on SQLite"
    ),
]
# Put on the path of Python itself, before anything of ours is read.
CLOCK = """
import datetime, os, time_machine
time_machine.travel(datetime.datetime.fromisoformat(os.environ["SAID_TIME"])).start()
"""
NO_PANGO = 'raise OSError("cannot load library libpango-1.0-0")\n'
IS_ROOT = os.name == "posix" and os.geteuid() == 0


class Workshop:
    """One server in a folder, its book, and a hand of the yard that weighs sacks."""

    def __init__(self, folder: Path) -> None:
        import json

        self.book = folder / "book.sqlite3"
        self.server = Server(f"sqlite:///{self.book}", folder, workers=1)
        self.sessions = make_workshop(self.server)
        self.facts = json.loads(self.server.python("-c", FACTS))
        self.hand = Hand(self.server, self.sessions["yard"])
        self.form = a_sack_form(self.facts["collector"], self.facts["colour"])

    def weigh(self) -> tuple[int, str]:
        status, _to, page = self.hand.post("/stock/sacks/log/", self.form)
        return status, page

    def is_told(self, page: str) -> bool:
        return "The book cannot be reached" in page and "Nothing of this step was written" in page

    def numbers(self) -> list[int]:
        with closing(sqlite3.connect(self.book)) as book:
            assert book.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            return [n for (n,) in book.execute("SELECT number FROM stock_sack ORDER BY number")]

    def is_sound(self) -> bool:
        return "The book is sound" in self.server.python("-m", "django", "check_book")


@pytest.fixture
def workshop(tmp_path):
    made = Workshop(tmp_path)
    yield made
    made.server.kill_all()


@contextmanager
def small_disk(at: Path, megabytes: int):
    """A disk of its own in memory; filled and emptied by its user."""
    at.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "none", at], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", at], check=True)


def fill(filler: Path) -> None:
    """Write until nothing more goes in, on top of what was written before."""
    with filler.open("ab", buffering=0) as file:
        for size in (1 << 20, 1 << 12, 1 << 9):
            try:
                while True:
                    file.write(b"\0" * size)
            except OSError:
                continue


@pytest.mark.skipif(not IS_ROOT, reason="only root may mount a small disk")
def test_a_full_disk(tmp_path):
    """Refused or written, never half: what was acknowledged is in the book, and nothing else.

    A sack may still be written on a full disk, and rightly: the write-ahead log begins anew at its
    own beginning once it was carried into the book (sqlite.org/wal.html, 2.2), and the room inside
    it is the book's already. So the disk is filled again before each sack, until sacks are refused.
    """
    with small_disk(tmp_path / "small", 24):
        workshop = Workshop(tmp_path / "small")
        filler = tmp_path / "small" / "somebody-elses.video"
        try:
            workshop.server.start()
            assert workshop.weigh()[0] == 302
            before, written, refused = workshop.numbers(), 0, 0
            while refused < 3:
                fill(filler)
                status, page = workshop.weigh()
                written += status == 302
                refused += status == 503
                assert status == 302 or (status == 503 and workshop.is_told(page))
                # The log is full after a thousand pages (its usual length); a sack takes a dozen.
                assert written < 200, "the disk never was full"
            # What is written there already can still be looked at.
            assert workshop.hand.get("/stock/sacks/")[0] == 200
            last = before[-1] + written
            assert workshop.numbers() == [*before, *range(before[-1] + 1, last + 1)]
            filler.unlink()
            assert "database or disk is full" in workshop.server.log()
            assert workshop.weigh()[0] == 302, "work did not go on by itself"
            assert workshop.numbers()[-1] == last + 1
            assert workshop.is_sound()
        finally:
            workshop.server.kill_all()


@pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="Linux")
def test_no_file_may_grow_any_more(workshop):
    """What a full quota does to a program, for those who are not root: EFBIG at every write."""
    workshop.server.start()
    assert workshop.weigh()[0] == 302
    before, (worker,) = workshop.numbers(), workshop.server.worker_ids()
    usual = resource.prlimit(worker, resource.RLIMIT_FSIZE)
    resource.prlimit(worker, resource.RLIMIT_FSIZE, (0, usual[1]))
    status, page = workshop.weigh()
    assert status == 503 and workshop.is_told(page)
    resource.prlimit(worker, resource.RLIMIT_FSIZE, usual)
    assert workshop.numbers() == before
    assert workshop.weigh()[0] == 302
    assert workshop.numbers() == [*before, before[-1] + 1] and workshop.is_sound()


def test_a_book_that_may_not_be_written(workshop):
    """The file's own mode; root gives up the right to pass it by (capabilities(7))."""
    if IS_ROOT:
        if shutil.which("setpriv") is None:
            pytest.skip("setpriv is missing")
        workshop.server.before = ("setpriv", "--bounding-set", "-dac_override,-dac_read_search")
    before = workshop.numbers()
    workshop.book.chmod(0o444)
    workshop.server.start()
    status, page = workshop.weigh()
    assert status == 503 and workshop.is_told(page)
    assert workshop.hand.get("/stock/sacks/")[0] == 200, "what is there can still be read"
    assert "readonly database" in workshop.server.log()
    # SQLite gives the files beside the book the book's own mode.
    for path in workshop.book.parent.glob(f"{workshop.book.name}*"):
        path.chmod(0o644)
    assert workshop.weigh()[0] == 302, "the book stayed closed after it could be written again"
    assert workshop.numbers() == [*before, before[-1] + 1] and workshop.is_sound()


def put_on_path(workshop: Workshop, name: str, text: str) -> None:
    folder = workshop.server.folder / "before"
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text)
    path = f"{folder}{os.pathsep}{workshop.server.environment['PYTHONPATH']}"
    workshop.server.settings["PYTHONPATH"] = path


@pytest.mark.papers
def test_no_printing_library_and_a_paper_whose_bytes_changed(workshop):
    with closing(sqlite3.connect(workshop.book)) as book:
        paper, number = book.execute(
            "SELECT id, number FROM orders_paper WHERE kind = 'invoice'"
        ).fetchone()
        assert book.execute("SELECT COUNT(*) FROM orders_paperfile").fetchone() == (0,)
    path = f"/money/papers/{paper}/"
    put_on_path(workshop, "weasyprint.py", NO_PANGO)
    workshop.server.start()
    owner = Hand(workshop.server, workshop.sessions["owner"])
    status, _to, page = owner.get(f"{path}paper.pdf")
    assert status == 503 and "cannot print PDFs yet" in page and "libpango-1.0-0" in page
    assert owner.get(path)[0] == 200, "everything works but printing"
    assert f"{number} is not printed" in workshop.server.log()
    assert workshop.weigh()[0] == 302
    # The libraries are there at the next start: the same paper, the same number.
    workshop.server.kill_all()
    del workshop.server.settings["PYTHONPATH"]
    workshop.server.start()
    pdf = owner.fetch(f"{path}paper.pdf")
    assert pdf.startswith(b"%PDF-")
    with closing(sqlite3.connect(workshop.book, timeout=20)) as book:
        # Past the book's own triggers, as a fault of the disk would.
        ours = "type = 'trigger' AND tbl_name = 'orders_paperfile'"
        names = book.execute(f"SELECT name FROM sqlite_master WHERE {ours}").fetchall()
        for (name,) in names:
            book.execute(f"DROP TRIGGER {name}")
        change = "UPDATE orders_paperfile SET pdf = ?"
        book.execute(change, (pdf.replace(b"%PDF-1.7", b"%PDF-1.6"),))
        book.commit()
        status, _to, page = owner.get(f"{path}paper.pdf")
        assert status == 500 and "its hash differs" in page and "%PDF" not in page
        assert "not the one that was issued" in workshop.server.log()
        book.execute(change, (pdf,))
        book.commit()
    assert owner.fetch(f"{path}paper.pdf") == pdf


def test_a_clock_set_back_into_the_hour_that_comes_twice(workshop):
    """Back by a month, into the night of 25 October 2026 when Lisbon's hour from one comes twice.

    (tzdata: Europe/Lisbon leaves summer time at 01:00 UTC.)
    """
    workshop.server.start()
    assert workshop.weigh()[0] == 302
    before = workshop.numbers()
    workshop.server.kill_all()
    with closing(sqlite3.connect(workshop.book)) as book:
        book.execute("UPDATE workshop_business SET time_zone = 'Europe/Lisbon'")
        book.commit()
    put_on_path(workshop, "sitecustomize.py", CLOCK)
    workshop.server.settings["SAID_TIME"] = "2026-10-25T00:59:58+00:00"
    workshop.server.start()
    # Whoever was signed in “later” signs in again, and is told why.
    status, led_to, _page = workshop.hand.get("/stock/sacks/log/")
    assert status == 302 and "sign-in" in led_to
    page = workshop.hand.get(led_to)[2]
    assert "clock was set back" in page
    form = {"username": "yard", "password": "sea glass 42"}
    assert workshop.hand.post(led_to, form)[0] == 302
    page = workshop.hand.get("/stock/sacks/log/")[2]
    assert boxes_of(page)["received_on"] == "2026-10-25"
    workshop.form["received_on"] = "2026-10-25"
    for _sack in range(2):
        assert workshop.weigh()[0] == 302
    for path in ("/", "/stock/glass/", "/stock/sacks/", "/stock/book/"):
        assert workshop.hand.get(path)[0] == 200, path
    assert workshop.numbers() == [*before, before[-1] + 1, before[-1] + 2], "numbers still rise"
    assert workshop.is_sound()
    said = subprocess.run(
        [sys.executable, "-m", "django", "doctor"],
        env=workshop.server.environment, capture_output=True, text=True, check=False, timeout=60,
    ).stdout  # fmt: skip
    # Work went on, so there are lines of both times; which clock was right only a person knows.
    assert re.search(r"care .*The clock ran ahead once: the log has a line of \d{4}-", said)
