"""Real processes on one database: numbers without a gap, through roll-backs and kill -9.

A sudden end of a process is tested, not a power cut. Runs on SQLite, and on PostgreSQL where
TEST_POSTGRES names a server.
"""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.own_database import ROOT, own_database

PROCESSES, EACH, KILLS = 4, 20, 6
A_ROUND = (
    70  # orders waiting in each round: twice what is acknowledged before the longest is killed
)
ORDERS = PROCESSES * EACH + KILLS * A_ROUND


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def database(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("numbers")
    with own_database(request.param, folder, "numbers") as url:
        finish(start(url, "make", str(ORDERS)))
        yield url


def start(url: str, *args: str) -> subprocess.Popen:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.orders.money.counter_process", *args],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finish(process: subprocess.Popen) -> list[str]:
    said, wrong = process.communicate(timeout=170)
    assert process.returncode == 0, wrong
    return said.split()


def together(url: str, flag: Path, *runs: tuple[str, ...]) -> list[list[str]]:
    counters = [start(url, *args, str(flag)) for args in runs]
    flag.touch()
    return [finish(counter) for counter in counters]


def book(url: str) -> tuple[int, int, int, int]:
    papers, highest, following, bare = map(int, finish(start(url, "read")))
    return papers, highest, following, bare


def test_one_order_invoiced_by_four_counters_is_charged_once(database, tmp_path):
    assert sum(int(said[0]) for said in together(database, tmp_path / "go", *[("same",)] * 4)) == 1


def test_one_mobile_reference_booked_by_four_counters_is_booked_once(database, tmp_path):
    won = together(database, tmp_path / "go", *[("mobile",)] * 4)
    assert sum(int(said[0]) for said in won) == 1


def test_four_counters_with_one_in_five_rolled_back_leave_no_gap(database, tmp_path):
    before, *_rest = book(database)
    runs = [("issue", str(2 + n * EACH), str(1 + (n + 1) * EACH)) for n in range(PROCESSES)]
    numbers = [int(n) for said in together(database, tmp_path / "go", *runs) for n in said]
    papers, highest, following, bare = book(database)
    assert len(numbers) == PROCESSES * EACH * 4 // 5
    assert sorted(numbers) == list(range(before + 1, before + len(numbers) + 1))
    assert (papers, highest, following, bare) == (
        before + len(numbers),
        before + len(numbers),
        before + len(numbers) + 1,
        0,
    )


def test_killing_counters_leaves_no_gap_and_loses_nothing_acknowledged(database, tmp_path):
    flag = tmp_path / "go"
    flag.touch()
    acknowledged: list[int] = []
    for round_ in range(KILLS):
        first = PROCESSES * EACH + 2 + round_ * A_ROUND
        counter = start(database, "issue", str(first), str(first + A_ROUND - 2), str(flag))
        for _ in range(3 + 5 * round_):
            acknowledged.append(int(counter.stdout.readline()))
        counter.send_signal(signal.SIGKILL)
        rest, _wrong = counter.communicate(timeout=60)
        acknowledged += [int(number) for number in rest.split()]
    papers, highest, following, bare = book(database)
    assert papers == highest == following - 1
    assert bare == 0
    assert len(set(acknowledged)) == len(acknowledged)
    assert max(acknowledged) <= highest


def test_the_test_notices_numbers_looked_up_before_the_transaction(database, tmp_path):
    runs = [("naive", str(2 + n * EACH), str(1 + (n + 1) * EACH)) for n in range(PROCESSES)]
    refused = sum(int(said[0]) for said in together(database, tmp_path / "go", *runs))
    assert refused > 0, "the mutant never met a number taken by another; the race proves nothing"
