"""kill -9 in the middle of a working day: what was acknowledged is there, once, and numbered.

The recipe's reference run: 120 kills, 41,409 acknowledged, 0 lost, 0 gaps; 55 had been committed
but not acknowledged, which is why a form carries a key. Here it is done to the real server, with
workers killed one by one and the master with all of them, and to the database server itself.
kill -9 is no power cut: the disk's own word is not tested. CRASH_KILLS=500 makes the long run.
"""

import json
import os
import random
import sqlite3
import time
from contextlib import closing

import pytest

from tests.hard.postgres import Cluster, own_postgres, program
from tests.hard.server import Hand, Server, free_port, make_workshop
from tests.hard.traffic import FACTS, Day, prove, prove_repeats, sack_form
from tests.patience import PATIENCE_S

KILLS = int(os.environ.get("CRASH_KILLS", "100"))
RESTARTS = max(8, KILLS // 10)
MASTER_EVERY = 20
LONGEST_S = max(400.0, KILLS * 4.0)
# A busy machine gets through fewer; without any the test would prove nothing about firings.
FIRINGS = max(4, KILLS // 40)

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("servers")]


def kill_through(servers: list[Server], day: Day) -> tuple[int, int]:
    """Kill workers, and every so often all of them, until KILLS; (kills, restarts)."""
    chance = random.Random(7)
    kills = restarts = 0
    give_up_at = time.monotonic() + LONGEST_S
    while kills < KILLS and time.monotonic() < give_up_at and not day.stop.is_set():
        server = servers[chance.randrange(len(servers))]
        if kills // MASTER_EVERY > restarts:
            kills += 1 + len(server.worker_ids())
            server.kill_all()
            server.start()
            restarts += 1
        else:
            time.sleep(chance.uniform(0.05, 0.25))
            # Into the midst of work: on a busy machine nothing may have been done since the last.
            soon, done = time.monotonic() + 0.5, len(day.sent)
            while len(day.sent) == done and time.monotonic() < soon:
                time.sleep(0.01)
            kills += server.kill_worker(chance.randrange(8))
    return kills, restarts


@pytest.fixture
def server(tmp_path, server_database):
    made = Server(server_database, tmp_path)
    yield made
    made.kill_all()


def test_what_was_acknowledged_survives_every_kill(server):
    sessions = make_workshop(server)
    facts = json.loads(server.python("-c", FACTS))
    server.start()
    day, began = Day([server], sessions, facts), time.monotonic()
    day.begin()
    kills, restarts = kill_through([server], day)
    took_s = time.monotonic() - began
    day.end()
    assert kills >= KILLS, f"only {kills} kills in {LONGEST_S:.0f} s"
    assert restarts >= 1
    assert len(day.sent) > KILLS / 4
    told = prove(day, server, FIRINGS)
    if server.url.startswith("sqlite"):
        with closing(sqlite3.connect(server.url.removeprefix("sqlite:///"))) as book:
            assert book.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            assert book.execute("PRAGMA foreign_key_check").fetchone() is None
    prove_repeats(day, [server], told)
    print(f"{kills} kills in {took_s:.0f} s, {restarts} of all; {len(day.sent)} acknowledged, "
          f"{told['logged']} firings, {day.repeated} sent again, 0 lost, 0 gaps")  # fmt: skip


@pytest.mark.skipif(
    not os.environ.get("DATABASE_URL", "").startswith("postgres"), reason="the run on PostgreSQL"
)
@pytest.mark.skipif(program("pg_ctl") is None, reason="PostgreSQL's own programs are missing")
def test_what_was_acknowledged_survives_the_database_server_s_own_crash(tmp_path):
    """PostgreSQL is restarted in immediate mode amid the traffic: no process says goodbye."""
    with own_postgres(free_port()) as postgres:
        server = Server(postgres.make_database("beads", "127.0.0.1"), tmp_path)
        sessions = make_workshop(server)
        facts = json.loads(server.python("-c", FACTS))
        server.start()
        day = Day([server], sessions, facts)
        try:
            day.begin()
            for _restart in range(RESTARTS):
                before = len(day.sent)
                give_up_at = time.monotonic() + PATIENCE_S
                while len(day.sent) < before + 8 and time.monotonic() < give_up_at:
                    time.sleep(0.02)
                assert len(day.sent) > before, "work did not go on by itself after the crash"
                postgres.restart_at_once()
            day.end()
            told = prove(day, server, FIRINGS // 2)
            prove_repeats(day, [server], told)
            away_and_back(postgres, server, day)
        finally:
            day.stop.set()
            server.kill_all()
        assert postgres.log().count("database system was not properly shut down") >= RESTARTS
        assert "the book cannot be used" in server.log()
    print(f"{RESTARTS} crashes of PostgreSQL; {len(day.sent)} acknowledged, {told['logged']} "
          f"firings, {day.repeated} sent again, 0 lost, 0 gaps")  # fmt: skip


def away_and_back(postgres: Cluster, server: Server, day: Day) -> None:
    """The database is stopped and started: a sentence meanwhile, and work goes on by itself."""
    hand, form = Hand(server, day.sessions["yard"]), sack_form(day.facts)
    postgres.stop()
    assert server.ask("GET", "/workshop/health/") == (503, "not ready\n")
    status, _to, page = hand.post("/stock/sacks/log/", form)
    assert status == 503 and "The book cannot be reached" in page
    assert "postgres" not in page.lower() and str(postgres.port) not in page
    postgres.start()
    assert server.ask("GET", "/workshop/health/")[0] == 200
    assert hand.post("/stock/sacks/log/", form)[0] == 302
