"""Seeded mutants: the wrong way beside the right one, and the proof that the tests tell them apart.

The naive reservation stands in tests/stock/race.py. Reference figures of the recipes: 20 keys sent
by 4 at once made 62 rows by check-then-insert and 20 by a unique key; PDF pages made 3 requests
through the default fetcher and none through one that serves only our own files.
"""

import http.server
import os
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path

import pytest

from tests.hard import test_asvs_forms
from tests.patience import PATIENCE_S
from tests.workshop import test_access
from workshop.access import ACCESS, Row

ROOT = Path(__file__).resolve().parent.parent.parent
PROCESSES, EACH = 4, 25


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('mutants')}/book.sqlite3"
    start(url, "make").communicate(timeout=120)
    return url


def start(url: str, *args: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.hard.mutants", *args],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def race(url: str, flag: Path, *args: str) -> list[str]:
    runners = [start(url, *args, str(flag)) for _runner in range(PROCESSES)]
    give_up_at = time.monotonic() + PATIENCE_S
    while len(list(flag.parent.glob(f"{flag.name}.*"))) < PROCESSES:
        assert time.monotonic() < give_up_at, "the processes did not get ready"
        time.sleep(0.02)
    flag.touch()
    told = []
    for runner in runners:
        said, wrong = runner.communicate(timeout=120)
        assert runner.returncode == 0, wrong
        told += said.split()
    return told


def test_numbers_taken_by_four_processes_rise_without_gap_or_twin(database, tmp_path):
    taken = sorted(map(int, race(database, tmp_path / "go", "ours", str(EACH))))
    assert taken == list(range(1, PROCESSES * EACH + 1))


def test_max_plus_one_is_noticed(database, tmp_path):
    taken = race(database, tmp_path / "go", "max", str(EACH))
    assert len(set(taken)) < len(taken), "the mutant gave every number once; nothing is proved"


def made_under(database, key: str) -> int:
    said, _wrong = start(database, "count", key).communicate(timeout=60)
    return int(said)


def test_a_key_sent_by_four_at_once_acts_once_and_leads_all_to_one_place(database, tmp_path):
    key = str(uuid.uuid4())
    led_to = race(database, tmp_path / "go", "keys", key)
    assert made_under(database, key) == 1
    assert len(set(led_to)) == 1


def test_check_then_insert_is_noticed(database, tmp_path):
    # A race need not go wrong every time; over a few it does.
    for round_ in range(8):
        key = str(uuid.uuid4())
        race(database, tmp_path / f"go{round_}", "check", key)
        if made_under(database, key) > 1:
            return
    pytest.fail("the mutant acted once in every round; nothing is proved")


# --- the press ---


class Listener(http.server.BaseHTTPRequestHandler):
    asked: list[str] = []

    def do_GET(self):
        self.asked.append(self.path)
        self.send_response(404)
        self.end_headers()

    def log_message(self, *args):
        pass


@pytest.fixture
def listener():
    Listener.asked.clear()
    server = http.server.HTTPServer(("127.0.0.1", 0), Listener)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server.server_address[1]
    server.shutdown()
    server.server_close()


def evil_page(port: int, secret: Path) -> str:
    at = f"http://127.0.0.1:{port}"
    return (
        f'<html lang="en"><head><title>x</title><link rel="stylesheet" href="{at}/style.css">'
        f'<link rel="attachment" href="{secret.as_uri()}"></head><body><h1>x</h1>'
        f'<img alt="x" src="{at}/image.png"><p style="background:url({at}/back.png)">x</p></body>'
        "</html>"
    )


@pytest.mark.papers
def test_v1_3_6_a_paper_cannot_reach_the_network_or_a_file(listener, tmp_path):
    """V1.3.6: no request made by the server because of what somebody wrote."""
    from orders.papers.press import to_pdf

    (tmp_path / "secret.txt").write_text("the secret of this machine")
    pdf = to_pdf(evil_page(listener, tmp_path / "secret.txt"))
    assert pdf.startswith(b"%PDF")
    assert Listener.asked == []
    assert b"/EmbeddedFile" not in pdf


@pytest.mark.papers
def test_the_default_fetcher_is_noticed(listener, tmp_path):
    import weasyprint

    (tmp_path / "secret.txt").write_text("the secret of this machine")
    pdf = weasyprint.HTML(string=evil_page(listener, tmp_path / "secret.txt")).write_pdf()
    assert len(Listener.asked) == 3
    assert b"/EmbeddedFile" in pdf


# --- the access table ---


def test_an_address_without_a_row_is_noticed(monkeypatch):
    monkeypatch.delitem(ACCESS, "orders:money")
    with pytest.raises(AssertionError):
        test_access.test_every_address_stands_in_the_access_table()


@pytest.mark.django_db
def test_a_row_that_shows_prices_to_the_bench_is_noticed(world, monkeypatch):
    monkeypatch.setitem(ACCESS, "orders:design_price_list", Row(look=frozenset({"bench"})))
    with pytest.raises(AssertionError, match="bench reads"):
        test_asvs_forms.test_v8_2_3_bench_and_yard_never_see_what_a_customer_pays(None)


@pytest.mark.django_db
def test_a_form_without_its_token_is_noticed(world, monkeypatch):
    from workshop.views import facts

    monkeypatch.setattr(facts.safety, "csrf_exempt", True, raising=False)
    with pytest.raises(AssertionError, match="workshop:safety"):
        test_asvs_forms.test_v3_5_1_no_address_takes_a_form_without_its_token(None)
