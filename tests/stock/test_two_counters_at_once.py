"""Real processes on one database: the same bead is never promised twice.

The recipe and its figures: 300 in stock, 8 processes that each try 60 single holds, so 480 tries
for 300 beads. A version that reads and then writes oversells; it is kept here as a mutant.
Runs on SQLite, and on PostgreSQL where TEST_POSTGRES names a server, such as
postgresql://postgres@127.0.0.1:5432/postgres (or DATABASE_URL does).
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.own_database import ROOT, own_database

PROCESSES, TRIES, BEADS = 8, 60, 300


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def database(request, tmp_path_factory):
    """The address of a fresh database with 300 good beads and a batch of 100 on the bench."""
    with own_database(request.param, tmp_path_factory.mktemp("race"), "race") as url:
        run(url, "make")
        yield url


def start(url: str, *args: str) -> subprocess.Popen:
    command = [sys.executable, "-m", "tests.stock.race", *args]
    environment = {**os.environ, "DATABASE_URL": url}
    return subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def run(url: str, *args: str) -> str:
    process = start(url, *args)
    said, wrong = process.communicate(timeout=300)
    assert process.returncode == 0, wrong
    return said


def race(url: str, flag: Path, count: int, *args: str) -> list[int]:
    """`count` processes that start on one signal; what each of them won."""
    runners = [start(url, *args, str(flag)) for _ in range(count)]
    flag.touch()
    won = []
    for runner in runners:
        said, wrong = runner.communicate(timeout=300)
        assert runner.returncode == 0, wrong
        won.append(int(said))
    return won


def test_eight_counters_never_promise_a_bead_twice(database, tmp_path):
    won = race(database, tmp_path / "go", PROCESSES, "hold", str(TRIES))
    quantity, held = map(int, run(database, "read").split())
    assert sum(won) == BEADS == held == quantity


def test_the_test_notices_a_counter_that_looks_first_and_writes_later(database, tmp_path):
    run(database, "reset")
    won = race(database, tmp_path / "go", 4, "naive", str(TRIES))
    _quantity, held = map(int, run(database, "read").split())
    assert sum(won) > held, "the mutant promised no bead twice; the race proves nothing"


def test_of_four_people_finishing_one_batch_one_succeeds(database, tmp_path):
    assert sum(race(database, tmp_path / "go", 4, "finish")) == 1


def test_three_people_holding_by_hand_hold_what_the_order_takes_and_no_more(database, tmp_path):
    won = race(database, tmp_path / "go", 3, "by_hand", "9")
    assert sum(won) == 18
    assert run(database, "agree").split("\n") == ["18", ""]
