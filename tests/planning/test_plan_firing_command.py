"""`manage.py plan_firing`: a plan from a file, without the order book or a database."""

import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from tests.planning.checker import violations
from tests.planning.instances import workshop
from tests.planning.small import instance, mould, two_that_may_share


def write(tmp_path, data):
    path = tmp_path / "instance.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    return str(path)


def plan(tmp_path, data, **options):
    out = tmp_path / "plan.json"
    call_command(
        "plan_firing", instance=write(tmp_path, data), out=str(out), **{"seconds": 1, **options}
    )
    return json.loads(out.read_text(encoding="utf-8"))


def test_a_plan_is_written_and_measured(tmp_path, capsys):
    data = two_that_may_share()
    found = plan(tmp_path, data, seconds=0.3)
    assert violations(data, found) == []
    assert "Tardiness 0 min, late orders 0, kiln minutes 175, loads 1" in capsys.readouterr().out


def test_a_due_minute_that_no_plan_can_meet_gets_the_earliest_that_can(tmp_path, capsys):
    # A load from the opening at 480: 60 + 25 + 90 minutes, out at 655.
    plan(tmp_path, instance(orders=[{"id": "O1", "due": 600}]), seconds=0.1)
    told = capsys.readouterr().out
    assert "Order O1 is due at minute 600; no plan can have it out before minute 655." in told


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    assert plan(tmp_path, "\ufeff" + json.dumps(instance()), seconds=0.1)["loads"]


def test_no_database_is_asked(tmp_path):
    # Without the database mark, any query would fail this test.
    assert plan(tmp_path, two_that_may_share(), seconds=0.2)["loads"]


def test_steps_and_seed_give_the_same_plan(tmp_path):
    data = workshop(40, 2, 1)
    first = plan(tmp_path, data, steps=60, seed=3)
    assert plan(tmp_path, data, steps=60, seed=3) == first


def test_with_the_solver_too_a_seed_gives_one_plan(tmp_path):
    data = workshop(16, 1, 2)
    first = plan(tmp_path, data, steps=60, search=True)
    assert violations(data, first) == []
    assert plan(tmp_path, data, steps=60, search=True) == first


def test_search_and_bounds(tmp_path, capsys):
    data = workshop(20, 1, 1)
    found = plan(tmp_path, data, seconds=1, search=True, bounds=True)
    assert violations(data, found) == []
    assert "no plan can do with less than" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("{ not json", "line 1, column 3"),
        ("[" * 100_000, "is not JSON"),
        ('{"jobs": ' + "9" * 5000 + "}", "is not JSON"),
        ({"kilns": []}, '"calendar"'),
        (instance(moulds=[mould(count=0)]), "J1"),
    ],
    ids=["not json", "too deep", "too long", "no calendar", "no moulds"],
)
def test_a_bad_file_gets_a_sentence_and_no_plan(tmp_path, data, words):
    with pytest.raises(CommandError, match=words):
        plan(tmp_path, data)
    assert not (tmp_path / "plan.json").exists()


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(CommandError, match="no file"):
        call_command("plan_firing", instance=str(tmp_path / "x"), out=str(tmp_path / "y"))


def test_a_folder_that_is_not_there(tmp_path):
    path = write(tmp_path, two_that_may_share())
    with pytest.raises(CommandError, match="does not exist"):
        call_command("plan_firing", instance=path, out=str(tmp_path / "no" / "plan.json"))


@pytest.mark.parametrize("seconds", [0, -1, float("nan"), 1e9])
def test_seconds_that_make_no_sense(tmp_path, seconds):
    with pytest.raises(CommandError, match="--seconds should be"):
        plan(tmp_path, two_that_may_share(), seconds=seconds)
