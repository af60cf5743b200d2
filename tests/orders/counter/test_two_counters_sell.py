"""Real processes at one shelf: the last strand is sold once, and what is held is never sold.

Runs on SQLite, and on PostgreSQL where TEST_POSTGRES names a server.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.own_database import ROOT, own_database

COUNTERS, TRIES, READY, HELD = 3, 6, 12, 2


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request, tmp_path):
    with own_database(request.param, tmp_path, "sale") as url:
        finish(start(url, "make", str(READY)))
        yield url


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
