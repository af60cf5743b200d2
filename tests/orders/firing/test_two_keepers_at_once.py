"""Real processes at the kilns at the same moment: one wins, the other is told who did what.

Runs on SQLite, and on PostgreSQL where TEST_POSTGRES names a server. All races share one
workshop and one run of the processes, which takes most of the time.
"""

import json
import os
import subprocess
import sys

import pytest

from tests.own_database import ROOT, own_database
from tests.patience import on_this_machine


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def races(request, tmp_path_factory):
    with own_database(request.param, tmp_path_factory.mktemp("kilns"), "kilns") as url:
        yield run(url)


def run(url: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "tests.orders.firing.keepers_process"],
        cwd=ROOT, env={**os.environ, "DATABASE_URL": url}, capture_output=True, text=True,
        timeout=240, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def one_won(race: dict) -> str:
    """The sentence of the one who came second."""
    assert not any("broke" in told for told in race["told"]), race["told"]
    assert sorted(told["done"] for told in race["told"]) == [False, True], race["told"]
    return next(told["said"] for told in race["told"] if not told["done"])


def test_two_counters_confirming_at_once_never_share_the_last_moulds(races):
    race = races["confirming"]
    assert all(told["done"] for told in race["told"]), race["told"]
    assert race["most"] <= 6  # as many moulds as are owned
    assert race["clashes"] == 0
    assert race["loads"] == 2


def test_two_keepers_accepting_at_once_plan_the_kilns_once(races):
    said = one_won(races["accepting"])
    assert races["accepting"]["accepted"] == 1
    assert "has changed" in said and ("Olek Farrow" in said or "Mirja Vane" in said)


def test_two_keepers_moving_one_tray_move_it_once(races):
    race = races["moving"]
    said = one_won(race)
    assert race["beads"][0] == race["beads"][1]
    assert "Olek Farrow" in said or "Mirja Vane" in said or "is gone" in said


def test_two_keepers_logging_one_load_count_its_beads_once(races):
    race = races["logging"]
    said = one_won(race)
    assert race["beads"][0] == race["beads"][1]
    assert "it is cooled now" in said and ("Olek Farrow" in said or "Mirja Vane" in said)


def test_two_at_the_counter_changing_one_order_change_it_once(races):
    race = races["changing"]
    said = one_won(race)
    first = [told["done"] for told in race["told"]].index(True)
    assert race["strands"] == (5, 1)[first]
    assert race["wrong"] == [""]
    assert "Olek Farrow" in said or "Mirja Vane" in said


def test_two_hands_packing_one_order_are_paid_once(races):
    said = one_won(races["packing"])
    assert races["packing"]["tickets"] == 1
    assert "has packed order" in said and ("Olek Farrow" in said or "Mirja Vane" in said)


def test_two_hands_telling_of_the_last_mould_lose_it_once(races):
    said = one_won(races["breaking"])
    assert (races["breaking"]["owned"], races["breaking"]["gone"]) == (0, 1)
    assert "cannot have gone" in said


def test_a_longer_search_outlives_its_worker_leaves_no_zombie_and_stops_nobody(races):
    race = races["searching"]
    assert race["plan"] and race["searched"] == 3
    assert race["zombies"] == 0
    # The order was taken while it searched, so its plan is of yesterday's facts, and says so.
    assert "Search again" in race["said"]
    assert race["order_took_s"] < on_this_machine(3)
