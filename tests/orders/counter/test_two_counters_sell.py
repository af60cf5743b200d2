"""Real processes at one shelf: the last strand is sold once, and what is held is never sold.

Runs on SQLite, and on PostgreSQL where TEST_POSTGRES names a server.
"""

import os
import subprocess
import sys
import uuid
from pathlib import Path

import pytest

from tests.stock.test_two_counters_at_once import ROOT, postgres_url

COUNTERS, TRIES, READY, HELD = 3, 6, 12, 2


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request, tmp_path):
    if request.param == "sqlite":
        url, drop = f"sqlite:///{tmp_path}/sale.sqlite3", None
    else:
        server = postgres_url()
        if not server:
            pytest.skip("TEST_POSTGRES names no PostgreSQL server")
        psycopg = pytest.importorskip("psycopg")
        name = f"sale_{uuid.uuid4().hex[:12]}"
        admin = psycopg.connect(server, autocommit=True)
        admin.execute(f"CREATE DATABASE {name}")
        url = f"{server.rsplit('/', 1)[0]}/{name}"

        def drop():
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
            admin.close()

    finish(start(url, "make", str(READY)))
    yield url
    if drop:
        drop()


def start(url: str, *args: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.orders.counter.sale_process", *args],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finish(process: subprocess.Popen) -> str:
    said, wrong = process.communicate(timeout=170)
    assert process.returncode == 0, wrong
    return said.strip()


def together(url: str, flag: Path, *args: str) -> int:
    counters = [start(url, *args, str(flag)) for _each in range(COUNTERS)]
    flag.touch()
    return sum(int(finish(counter)) for counter in counters)


def test_the_last_strand_is_sold_once_and_none_that_is_held(database, tmp_path):
    won = together(database, tmp_path / "go", "sell", str(TRIES))
    there, held, sales, papers = map(int, finish(start(database, "read")).split())
    assert won == sales == papers == READY - HELD
    assert (there, held) == (HELD, HELD)


def test_the_test_notices_a_counter_that_looks_first_and_writes_later(database, tmp_path):
    won = together(database, tmp_path / "go", "naive", str(TRIES))
    there, *_rest = map(int, finish(start(database, "read")).split())
    assert won > READY - there, "no strand was sold twice; the race proves nothing"
