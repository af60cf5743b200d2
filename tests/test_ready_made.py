"""The demo and the empty book made beforehand: what is made now, whenever it is opened."""

import io
import json
import lzma
import os
import re
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.db.models import Max

from orders.demo.ready_made import load_demo
from orders.models import Document, Order, Payment
from stock.models import KilnLoad, Posting, Sack
from stock.models.payouts import Payout
from workshop import ready_made
from workshop.management.commands import migrate
from workshop.models import AuditEntry, NumberSequence, Person

ROOT = Path(__file__).resolve().parent.parent
LISBON = ZoneInfo("Europe/Lisbon")
on_sqlite = pytest.mark.skipif(
    os.environ.get("DATABASE_URL", "").startswith("postgres"), reason="it is made on SQLite"
)


@on_sqlite
@pytest.mark.slow
def test_it_is_what_the_migrations_and_services_make_now():
    """Every table, index, trigger and row; made again from nothing in a process of its own."""
    done = subprocess.run(
        [sys.executable, "manage.py", "pack_demo", "--check"],
        cwd=ROOT, capture_output=True, text=True, check=False,
        env={**os.environ, "STRANDWORK_VENV": sys.prefix},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


@pytest.fixture
def opened_on(db):
    """The demo as somebody sees it who opens it at nine in the morning of a day."""
    if ready_made.ready_made() is None:
        pytest.skip("a change of the book is newer; run: python3 manage.py pack_demo")

    def load(day: str) -> date:
        today = date.fromisoformat(day)
        with time_machine.travel(datetime.fromisoformat(f"{day}T09:00:00+00:00"), tick=False):
            load_demo(today)
        return today

    return load


# A Monday, a Thursday soon after New Year, and a Sunday years from now. Days are moved before any
# row is laid out; PostgreSQL shows for one of them that it takes the rows.
@pytest.mark.parametrize(
    "day",
    [
        pytest.param("2026-11-30", marks=on_sqlite),
        "2027-01-14",
        pytest.param("2031-08-03", marks=on_sqlite),
    ],
)
def test_the_demo_lies_before_the_day_on_which_it_is_opened(opened_on, day):
    today = opened_on(day)
    now = datetime.combine(today, datetime.min.time(), UTC) + timedelta(hours=9)
    call_command("check_book", stdout=io.StringIO())
    # Half a year of work, up to yesterday or this morning, none of it in the future.
    days = set(Sack.objects.values_list("received_on", flat=True))
    assert today - timedelta(days=190) < min(days) < today - timedelta(days=175)
    assert today - timedelta(days=7) < max(days) <= today
    lit = KilnLoad.objects.filter(state=KilnLoad.State.COOLED).values_list("starts_at", flat=True)
    hours = {moment.astimezone(LISBON).hour for moment in lit}
    # From eleven by the workshop's clock, summer and winter; later ones are rounds in a hot kiln.
    assert min(hours) == 11 and max(hours) < 20
    assert 6 not in {moment.weekday() for moment in lit}, "nobody lights a kiln on a Sunday"
    for moment in (
        AuditEntry.objects.aggregate(last=Max("at")),
        Posting.objects.aggregate(last=Max("posted_at")),
        Document.objects.aggregate(last=Max("issued_at")),
        Payment.objects.aggregate(last=Max("taken_at")),
    ):
        assert moment["last"] <= now
    planned = KilnLoad.objects.filter(state=KilnLoad.State.PLANNED)
    assert planned.exists() and not planned.filter(starts_at__lt=now).exists()
    assert Order.objects.filter(taken_on=today).exists(), "somebody has just come in"
    assert Person.objects.count() == 5 and all(
        p.has_usable_password() for p in Person.objects.all()
    )
    papers_have_the_numbers_of_their_year_without_a_gap()


def papers_have_the_numbers_of_their_year_without_a_gap() -> None:
    columns = ("year", "sequence", "number", "issued_on")
    for rows in (
        Document.objects.exclude(year=0).values_list("kind", *columns),
        [("payout", *row) for row in Payout.objects.exclude(year=0).values_list(*columns)],
    ):
        series: dict[tuple, list[int]] = {}
        for kind, year, sequence, number, issued_on in rows:
            assert year == issued_on.year and number.endswith(f"-{year}-{sequence:04d}")
            series.setdefault((kind, year), []).append(sequence)
        for (kind, year), sequences in series.items():
            assert sorted(sequences) == list(range(1, len(sequences) + 1)), (kind, year)
            told = NumberSequence.objects.get(kind=kind, year=year).next_number
            assert told == len(sequences) + 1
    for paper in Document.objects.all():
        assert paper.content["number"] == paper.number
        assert paper.content["issued_on"] == paper.issued_on.isoformat()


def test_every_name_of_a_paper_follows_its_number():
    tables = {
        "workshop_paperseries": table(["id", "kind", "year", "next_number"],
                                      [1, "invoice", 2026, 4], [2, "sack", 0, 9]),
        "papers": table(["id", "kind", "year", "sequence", "number", "on"],
                        [1, "invoice", 2026, 1, "INV-2026-0001", "2026-12-30"],
                        [2, "invoice", 2026, 2, "INV-2026-0002", "2027-01-02"],
                        [3, "invoice", 2026, 3, "INV-2026-0003", "2027-01-05"]),
        "notes": table(["id", "why"], [1, "pays INV-2026-0003 and INV-2026-0001"]),
    }  # fmt: skip
    new = ready_made.renumbered(tables, {"papers": ("on", "kind")})
    assert [row[2:5] for row in new["papers"]["rows"]] == [
        [2026, 1, "INV-2026-0001"],
        [2027, 1, "INV-2027-0001"],
        [2027, 2, "INV-2027-0002"],
    ]
    assert new["notes"]["rows"] == [[1, "pays INV-2027-0002 and INV-2026-0001"]]
    assert sorted(row[1:] for row in new["workshop_paperseries"]["rows"]) == [
        ["invoice", 2026, 2],
        ["invoice", 2027, 3],
        ["sack", 0, 9],
    ]


def table(columns: list[str], *rows: list) -> dict:
    return {"columns": columns, "flags": [], "rows": [list(row) for row in rows]}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("2026-10-20", "2026-11-03"),
        # Nine in the morning stays nine: Lisbon leaves summer time on 25 October 2026 (tzdata).
        ("2026-10-20 08:00:00", "2026-11-03 09:00:00"),
        ("2026-10-20 08:00:00.123456", "2026-11-03 09:00:00.123456"),
        ("2026-10-20T08:00:00Z", "2026-11-03T09:00:00Z"),
        ("2026-10-20T08:00:00+00:00", "2026-11-03T09:00:00+00:00"),
        ("2026-10-20T09:00+01:00", "2026-11-03T09:00+00:00"),
        ("2026-10-20T09:00", "2026-11-03T09:00"),
        ('{"due_on": "2026-10-20", "n": 7}', '{"due_on": "2026-11-03", "n": 7}'),
        ("INV-2026-0001", "INV-2026-0001"),
        ("2026-13-45", "2026-13-45"),
        ("12026-10-20", "12026-10-20"),
    ],
)
def test_a_moved_moment_keeps_its_hour_on_the_workshops_clock(before, after):
    tables = {"any": table(["id", "text", "packed"], [1, before, {"zlib": before}])}
    moved = ready_made.moved(tables, 14, LISBON)
    assert moved["any"]["rows"] == [[1, after, {"zlib": after}]]


@pytest.fixture
def changes(monkeypatch):
    """Let the program know other changes of the book than it does."""

    def know(**others: str | None) -> None:
        ready_made.ready_made.cache_clear(), ready_made.of_some_age.cache_clear()
        known = {**told, **others}
        monkeypatch.setattr(ready_made, "fingerprints", lambda: known)

    told = json.loads(lzma.decompress(ready_made.settings.READY_MADE.read_bytes()))["changes"]
    assert any(mark for key, mark in told.items() if key.startswith("stock."))
    yield know
    ready_made.ready_made.cache_clear(), ready_made.of_some_age.cache_clear()


def test_what_was_made_after_the_very_same_changes_is_used(changes):
    changes()
    assert ready_made.ready_made() is ready_made.of_some_age() is not None


def test_with_a_newer_change_of_the_book_its_tables_are_used_and_its_demo_is_not(changes):
    changes(**{"stock.0999_new": "x"})
    assert ready_made.ready_made() is None and ready_made.of_some_age() is not None


def test_what_was_made_after_another_change_is_not_used(changes):
    changes(**{"stock.0001_initial": "otherwise"})
    assert ready_made.ready_made() is None and ready_made.of_some_age() is None


@on_sqlite
@pytest.mark.django_db
def test_a_book_with_anything_in_it_is_not_laid_out_anew():
    assert connection.introspection.table_names()
    assert not ready_made.lay_out()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("asked", "at_once"),
    [
        ({}, True),
        ({"step_by_step": True}, False),
        ({"app_label": "stock", "plan": True}, False),
        ({"check_unapplied": True}, False),
    ],
)
def test_only_a_plain_migrate_lays_an_empty_book_out_at_once(monkeypatch, asked, at_once):
    laid_out = []
    monkeypatch.setattr(migrate, "lay_out", lambda: laid_out.append("empty book"))
    call_command("migrate", verbosity=0, stdout=io.StringIO(), **asked)
    assert bool(laid_out) == at_once


def test_nobodys_password_is_kept_in_it():
    path = ROOT / "fixtures/tidewrack/ready_made.json.xz"
    people = json.loads(lzma.decompress(path.read_bytes()))["tables"]["workshop_person"]
    at = people["columns"].index("password")
    assert {row[at] for row in people["rows"]} == {""}
    assert not re.search(rb"argon2|pbkdf2", lzma.decompress(path.read_bytes()))
