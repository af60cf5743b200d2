"""The lock held against a list of advisories in the OSV form (schema 1.x of the OSV project).

Every advisory here is made up; the packages are those of the lock.
"""

import json
import re
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.builders import make_person
from workshop.services.advisories import NoList, audit, locked_packages

ROOT = Path(__file__).resolve().parent.parent.parent
LOCK = ROOT / "requirements.lock"


def advisory(name: str = "Django", ident: str = "MADE-UP-2026-1", **affected) -> dict:
    return {
        "schema_version": "1.7.0",
        "id": ident,
        "modified": "2026-11-01T00:00:00Z",
        "summary": "An invented weakness",
        "affected": [{"package": {"ecosystem": "PyPI", "name": name}, **affected}],
    }


def ranges(*events: dict, kind: str = "ECOSYSTEM") -> list[dict]:
    return [{"type": kind, "events": list(events)}]


def held_against(tmp_path: Path, *advisories: dict) -> list[str]:
    folder = tmp_path / "advisories" / "PyPI"
    folder.mkdir(parents=True)
    for number, each in enumerate(advisories):
        (folder / f"{number}.json").write_text(json.dumps(each))
    return [f"{each.package} {each.mended_in}".strip() for each in audit(LOCK, folder).found]


def test_every_pinned_package_of_the_lock_is_looked_at():
    lines = [line for line in LOCK.read_text().splitlines() if re.match(r"\w.*==", line)]
    locked = locked_packages(LOCK)
    assert len(locked) >= 40 and len(lines) >= len(locked)
    assert {"django", "weasyprint", "psycopg", "prometheus-client"} <= set(locked)


@pytest.mark.parametrize(
    ("events", "affected"),
    [
        # The evaluation rules of the schema: introduced <= version < fixed; last_affected is in.
        ([{"introduced": "0"}], True),
        ([{"introduced": "0"}, {"fixed": "4.2.1"}], False),
        ([{"introduced": "5.0"}, {"fixed": "99.0"}], True),
        ([{"fixed": "99.0"}, {"introduced": "5.0"}], True),  # events come in any order
        ([{"introduced": "0"}, {"fixed": "4.0"}, {"introduced": "5.2a1"}, {"fixed": "9"}], True),
        ([{"introduced": "0"}, {"last_affected": "OURS"}], True),
        ([{"introduced": "0"}, {"fixed": "OURS"}], False),
        ([{"introduced": "98"}], False),
    ],
)
def test_a_version_is_inside_a_range_by_the_rules_of_the_schema(tmp_path, events, affected):
    ours = locked_packages(LOCK)["django"]
    events = [{kind: at.replace("OURS", ours) for kind, at in event.items()} for event in events]
    assert bool(held_against(tmp_path, advisory(ranges=ranges(*events)))) == affected


def test_names_are_compared_as_python_packages_are(tmp_path):
    ours = locked_packages(LOCK)["prometheus-client"]
    told = held_against(tmp_path, advisory("Prometheus_Client", versions=["0.1", ours]))
    assert told == ["prometheus-client"]


def test_another_language_and_a_withdrawn_advisory_are_nothing_to_us(tmp_path):
    all_of_them = ranges({"introduced": "0"})
    other, gone = advisory(ranges=all_of_them), advisory(ranges=all_of_them)
    other["affected"][0]["package"]["ecosystem"] = "npm"
    gone["withdrawn"] = "2026-11-02T00:00:00Z"
    assert held_against(tmp_path, other, gone, advisory(ranges=ranges({"introduced": "98"}))) == []


@pytest.mark.django_db
def test_the_doctor_says_what_is_weak_and_in_which_version_it_is_mended(tmp_path, capsys):
    make_person("owner")
    weak = advisory(ranges=ranges({"introduced": "5.0"}, {"fixed": "99.1"}))
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as archive:
        archive.writestr("MADE-UP-2026-1.json", json.dumps(weak))
    with pytest.raises(CommandError, match="One thing wants mending"):
        call_command("doctor", advisories=tmp_path / "all.zip")
    said = capsys.readouterr().out
    ours = locked_packages(LOCK)["django"]
    assert f"django {ours}: MADE-UP-2026-1, An invented weakness. Mended in 99.1." in said
    (tmp_path / "none.json").write_text(json.dumps(advisory(versions=["0.9"])))
    call_command("doctor", advisories=tmp_path / "none.json")
    assert re.search(r"Packages: \d+, advisories: 1; none of them holds", capsys.readouterr().out)


@pytest.mark.parametrize("text", ["", "not json", "[]", '{"affected": "?"}', '[1, {"id": 3}]'])
def test_a_list_that_is_none_is_never_taken_for_good_news(tmp_path, text):
    (tmp_path / "list.json").write_text(text)
    with pytest.raises(NoList):
        audit(LOCK, tmp_path / "list.json")


def test_a_place_where_nothing_lies_is_named(tmp_path):
    with pytest.raises(NoList, match="cannot be read"):
        audit(LOCK, tmp_path / "nowhere")
