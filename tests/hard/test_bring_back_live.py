"""The owner brings yesterday's book back while the server runs."""

import re
import sqlite3
from contextlib import closing

import pytest

from tests.hard.server import Hand, Server, make_workshop
from tests.hard.test_failing_kindly import SACK, a_sack_form


@pytest.fixture
def server(tmp_path, monkeypatch):
    monkeypatch.setenv("COPIES_DIR", str(tmp_path / "copies"))
    made = Server(f"sqlite:///{tmp_path}/book.sqlite3", tmp_path, workers=2)
    yield made
    made.kill_all()


@pytest.mark.slow
def test_a_copy_is_brought_back_from_the_owners_page_with_the_server_running(server, tmp_path):
    sessions = make_workshop(server)
    count, collector, colour = map(int, server.python("-c", SACK).split())
    server.start()
    owner, yard = Hand(server, sessions["owner"]), Hand(server, sessions["yard"])
    assert owner.post("/workshop/copies/", {})[0] == 302
    name = re.search(r"(strandwork-\w+\.copy)", owner.get("/workshop/copies/")[2])[1]
    form = a_sack_form(collector, colour)
    for _sack in range(3):
        assert yard.post("/stock/sacks/log/", form)[0] == 302
    page = f"/workshop/copies/{name}/check/"
    assert "is whole" in owner.get(page)[2]
    # Not without the tick.
    assert owner.post(page, {})[0] == 422
    assert int(server.python("-c", SACK).split()[0]) == count + 3
    assert owner.post(page, {"sure": "on"})[0] == 302
    assert int(server.python("-c", SACK).split()[0]) == count
    # Everybody goes on, in either worker, with the numbers of the book as it was.
    for _sack in range(4):
        assert yard.post("/stock/sacks/log/", form)[0] == 302
    assert int(server.python("-c", SACK).split()[0]) == count + 4
    assert "The book is sound" in server.python("-m", "django", "check_book")
    # The book as it stood before is kept as a copy of its own.
    kept = sorted((tmp_path / "copies").glob("*.copy"))
    assert len(kept) == 2
    server.python("-m", "django", "restore", str(kept[-1]), str(tmp_path / "before"))
    with closing(sqlite3.connect(tmp_path / "before" / "strandwork.sqlite3")) as book:
        assert book.execute("SELECT COUNT(*) FROM stock_sack").fetchone()[0] == count + 3
