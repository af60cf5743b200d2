"""Copies of the book: whole under load, refused when anything is amiss, and a book again.

The recipe's reference run: copying only the file of a database in use gave an “ok” with 448 of 482
committed rows; SQLite's online copy gave all 482.
"""

import hashlib
import io
import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command, load_command_class
from django.test import Client
from django.urls import reverse

from tests.builders import make_customer, make_person
from workshop.models import AuditEntry, Photo
from workshop.services import copies
from workshop.services.copies import SQLITE_PART, back_up, check_copy, kept_copies
from workshop.services.copy_file import FORM, CopyRefused, read_copy, write_copy
from workshop.services.copy_lock import WrongPhrase, lock, unlock
from workshop.services.restoring import restore

ROOT = Path(__file__).resolve().parent.parent.parent
PHOTO = b"\xff\xd8 a sack of green \xff\xd9"
PHRASE = "salt wind over the yard"
on_sqlite = pytest.mark.skipif(
    os.environ.get("DATABASE_URL", "").startswith("postgres"), reason="the SQLite way"
)


@pytest.fixture(autouse=True)
def papers(settings, tmp_path):
    """Two papers beside the book, and folders of this test's own."""
    settings.MEDIA_ROOT = tmp_path / "papers"
    settings.COPIES_DIR = tmp_path / "copies"
    (settings.MEDIA_ROOT / "2026").mkdir(parents=True)
    (settings.MEDIA_ROOT / "2026" / "invoice-1.pdf").write_bytes(b"%PDF-1.7 one")
    (settings.MEDIA_ROOT / "logo.svg").write_text("<svg/>")
    return settings.MEDIA_ROOT


@pytest.fixture
def kept(transactional_db, tmp_path):
    """A copy of a book that Marisa was really written into.

    A copy holds what was acknowledged; a test's own open transaction is not, and shows up in a copy
    only where the tests keep their book in memory and not, as for a browser, in a file.
    """
    make_customer("Marisa Orlo")
    size = {"width": 1, "height": 1, "taken_by": make_person("owner")}
    Photo.objects.create(kind="sack", subject=1, picture=PHOTO, small=b"", **size)
    return back_up(tmp_path / "copies", keep=3)


def customers_in(book: Path) -> list[str]:
    with closing(sqlite3.connect(book)) as opened:
        return [name for (name,) in opened.execute("SELECT name FROM orders_customer ORDER BY 1")]


@on_sqlite
def test_a_copy_brought_back_is_the_same_book_with_its_papers(kept, tmp_path, papers):
    copy = restore(kept.path, tmp_path / "back")
    assert customers_in(tmp_path / "back" / SQLITE_PART) == ["Marisa Orlo"]
    assert (tmp_path / "back" / "papers" / "2026" / "invoice-1.pdf").read_bytes() == (
        b"%PDF-1.7 one"
    )
    assert copy.rows["orders_customer"] == 1
    with closing(sqlite3.connect(tmp_path / "back" / SQLITE_PART)) as book:
        assert book.execute("SELECT picture FROM workshop_photo").fetchall() == [(PHOTO,)]
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@on_sqlite
def test_nothing_is_ever_written_over(kept, tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    with pytest.raises(CopyRefused, match="is not empty"):
        restore(kept.path, tmp_path / "full")
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["mine.txt"]


@on_sqlite
def test_a_copy_says_what_is_in_it_and_any_zip_program_opens_it(kept):
    with zipfile.ZipFile(kept.path) as archive:
        assert archive.testzip() is None
        manifest = json.loads(archive.read("manifest.json"))
    assert set(manifest["parts"]) == {
        "strandwork.sqlite3",
        "papers/2026/invoice-1.pdf",
        "papers/logo.svg",
    }
    assert all(len(part["sha256"]) == 64 for part in manifest["parts"].values())
    assert any(name.startswith("workshop.0001") for name in manifest["migrations"])
    assert kept.path.stat().st_mode & 0o077 == 0, "others on the machine must not read it"


@on_sqlite
@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.5, 0.9, 0.999])
def test_a_copy_cut_short_is_refused(kept, tmp_path, share):
    whole = kept.path.read_bytes()
    kept.path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(CopyRefused, match="not whole|no copy"):
        restore(kept.path, tmp_path / "back")
    assert not (tmp_path / "back").exists()


@on_sqlite
def test_any_flipped_bit_is_noticed(kept, tmp_path):
    whole = kept.path.read_bytes()
    step = max(1, len(whole) // 60)
    for at in [*range(0, len(whole), step), *range(1, 64), len(whole) - 1, len(whole) - 70]:
        changed = bytearray(whole)
        changed[at] ^= 1 << (at % 8)
        kept.path.write_bytes(changed)
        with pytest.raises(CopyRefused):
            check_copy(kept.path)


@on_sqlite
def test_a_copy_by_a_newer_program_is_refused_with_what_to_do(kept, tmp_path):
    with pytest.raises(CopyRefused, match="Bring the program up to date"):
        restore(made_again(kept, tmp_path, migrations=["stock.0999_from_the_future"]),
                   tmp_path / "back")  # fmt: skip


@on_sqlite
def test_a_copy_of_another_form_or_with_other_rows_is_refused(kept, tmp_path):
    with pytest.raises(CopyRefused, match="has the form"):
        check_copy(made_again(kept, tmp_path, form="strandwork copy 2"))
    with pytest.raises(CopyRefused, match="not as many rows"):
        check_copy(made_again(kept, tmp_path, rows={"orders_customer": 999}))


@on_sqlite
def test_a_part_cannot_be_laid_outside_the_folder(kept, tmp_path):
    evil = tmp_path / "strandwork-20260101T000000Z.copy"
    poison = tmp_path / "poison"
    poison.write_text("x")
    write_copy(evil, {"../../evil.txt": poison}, facts_of(kept), "")
    with pytest.raises(CopyRefused, match="not whole"):
        read_copy(evil, tmp_path / "inside")
    assert not (tmp_path.parent / "evil.txt").exists()


def sealed(target: Path, manifest: bytes, **parts: bytes) -> Path:
    """A file with a right seal and whatever else somebody put into it."""
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("manifest.json", manifest)
        for name, data in parts.items():
            archive.writestr(name, data)
        archive.comment = b"0" * 64
    digest = hashlib.sha256(target.read_bytes()[:-64]).hexdigest()
    target.write_bytes(target.read_bytes()[:-64] + digest.encode())
    return target


NO_PARTS = {
    "form": FORM, "made_at": "now", "version": "1", "database": "sqlite", "migrations": [],
    "rows": {}, "parts": {},
}  # fmt: skip


@on_sqlite
@pytest.mark.parametrize(
    "said",
    [
        b"[" * 200_000,  # lists in lists: RecursionError
        b'{"form": ' * 50_000,
        b"null", b"[]", b'"x"', b"1e999", b"{}", b"\xff\xfe",
        *(json.dumps(NO_PARTS | {name: wrong}).encode()
          for name in NO_PARTS
          for wrong in (None, 7, True, "x", [], [[]], [1, "a", None], {}, {"a": None}, {"a": {}},
                        {"a": {"bytes": "1", "sha256": "x"}}, {"a": {"bytes": 1, "sha256": []}},
                        {"": {"bytes": 0, "sha256": "x"}}, {".": {"bytes": 0, "sha256": "x"}},
                        {"a\0b": {"bytes": 0, "sha256": "x"}})),
    ],
)  # fmt: skip
def test_a_forged_list_of_what_is_in_a_copy_is_refused_in_a_sentence(tmp_path, said):
    forged = sealed(tmp_path / "strandwork-20260101T000000Z.copy", said, a=b"x")
    with pytest.raises(CopyRefused):
        restore(forged, tmp_path / "back")
    assert not (tmp_path / "back").exists()


def facts_of(kept) -> dict:
    with zipfile.ZipFile(kept.path) as archive:
        manifest = json.loads(archive.read("manifest.json"))
    return {key: value for key, value in manifest.items() if key not in {"parts", "form"}}


def made_again(kept, tmp_path, **changed) -> Path:
    """The same copy with another manifest, sealed anew."""
    with zipfile.ZipFile(kept.path) as archive:
        archive.extract(SQLITE_PART, tmp_path / "taken-out")
    target = tmp_path / "strandwork-20260101T000000Z.copy"
    book = {SQLITE_PART: tmp_path / "taken-out" / SQLITE_PART}
    write_copy(target, book, {**facts_of(kept), **changed}, "")
    return target


def triggers_of(book: sqlite3.Connection) -> list[str]:
    return [n for (n,) in book.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]


@on_sqlite
def test_an_old_book_is_brought_up_to_date_while_it_comes_back(kept, tmp_path):
    """A copy of a book from before its papers were frozen gets every change made since."""
    old = tmp_path / "old" / SQLITE_PART
    old.parent.mkdir()
    environment = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{old}",
        "DJANGO_SETTINGS_MODULE": "workshop.settings",
        "PYTHONPATH": str(ROOT),
    }
    assert run(environment, "-m", "django", "migrate", "orders", "0001", "-v0").returncode == 0
    with closing(sqlite3.connect(old)) as book:
        assert not [name for name in triggers_of(book) if name.startswith("orders_")]
        applied = book.execute("SELECT app || '.' || name FROM django_migrations").fetchall()
        rows = copies._rows_of(book)
    facts = {**facts_of(kept), "migrations": sorted(name for (name,) in applied), "rows": rows}
    target = tmp_path / "strandwork-20250101T000000Z.copy"
    write_copy(target, {SQLITE_PART: old}, facts, "")
    restore(target, tmp_path / "back")
    with closing(sqlite3.connect(tmp_path / "back" / SQLITE_PART)) as book:
        now = triggers_of(book)
    assert {"orders_paper_no_update", "orders_paper_no_delete"} <= set(now)


# --- locked ---


@on_sqlite
def test_a_locked_copy_opens_with_its_phrase_only(db, tmp_path):
    made = back_up(tmp_path / "copies", keep=3, phrase=PHRASE)
    assert made.locked
    assert b"SQLite format" not in made.path.read_bytes()
    assert check_copy(made.path, phrase=PHRASE).database == "sqlite"
    for wrong in ("", "another phrase"):
        with pytest.raises(CopyRefused):
            check_copy(made.path, phrase=wrong)


@pytest.mark.parametrize("size", [0, 1, 100, (1 << 20) - 1, 1 << 20, (1 << 20) + 1, 3 << 20])
def test_a_locked_file_cannot_be_changed_cut_or_reordered(tmp_path, size):
    plain, locked, back = (tmp_path / name for name in ("plain", "locked", "back"))
    plain.write_bytes(os.urandom(size))
    lock(plain, locked, PHRASE)
    unlock(locked, back, PHRASE)
    assert back.read_bytes() == plain.read_bytes()
    whole = locked.read_bytes()
    piece = (1 << 20) + 16
    head = len(whole) - size - 16 * max(1, -(-size // (1 << 20)))
    tampered = [whole[:-1], whole + b"x", whole[:20], whole[:head]]
    tampered += [whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :] for at in (0, 30, head)]
    if size > 1 << 20:
        tampered.append(whole[: head + piece])  # ends after a whole piece
        first, second = whole[head : head + piece], whole[head + piece : head + 2 * piece]
        tampered.append(whole[:head] + second + first + whole[head + 2 * piece :])
    for other in tampered:
        locked.write_bytes(other)
        with pytest.raises(WrongPhrase):
            unlock(locked, back, PHRASE)
        assert not back.exists()


# --- kept by number ---


@on_sqlite
def test_only_the_newest_copies_stay_and_other_files_are_left_alone(db, tmp_path):
    folder = tmp_path / "copies"
    folder.mkdir()
    (folder / "letter.copy").write_text("not one of ours")
    names = [back_up(folder, keep=3).name for _copy in range(5)]
    assert [copy.name for copy in kept_copies(folder)] == sorted(names)[:-4:-1]
    assert (folder / "letter.copy").exists()


@on_sqlite
def test_a_damaged_book_is_not_copied_over_the_good_copies(kept, tmp_path, monkeypatch):
    def damaged(path, copy=None):
        raise CopyRefused("The book in it is damaged: row 7 missing.")

    monkeypatch.setattr(copies, "prove_sqlite", damaged)
    with pytest.raises(CopyRefused, match="damaged"):
        back_up(tmp_path / "copies", keep=1)
    assert [copy.name for copy in kept_copies(tmp_path / "copies")] == [kept.name]


@on_sqlite
def test_no_room_is_said_before_anything_is_written(db, tmp_path, monkeypatch):
    usage = type("usage", (), {"free": 1 << 20})
    monkeypatch.setattr(copies.shutil, "disk_usage", lambda folder: usage)
    with pytest.raises(CopyRefused, match="There is no room .* 1 MB are free"):
        copies._check_room(tmp_path, 10 << 20)


def test_a_folder_that_cannot_be_written_is_said(db, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("backup", str(tmp_path / "file" / "inside"), stdout=io.StringIO())


@pytest.mark.parametrize(("name", "older"), [("backup", "keep_copy"), ("restore", "bring_back")])
def test_a_timer_may_go_on_calling_the_older_names(name, older):
    now = type(load_command_class("workshop", name))
    assert isinstance(load_command_class("workshop", older), now)


# --- the owner's page ---


@on_sqlite
def test_the_owner_makes_checks_and_carries_off_a_copy(db, client, settings):
    client.force_login(make_person("owner"))
    page = client.get(reverse("workshop:copy_list"))
    assert "No copy yet" in page.content.decode()
    assert client.post(reverse("workshop:copy_list")).status_code == 302
    made = kept_copies(settings.COPIES_DIR)[0]
    whole = client.get(reverse("workshop:copy_file", args=[made.name]))
    assert b"".join(whole.streaming_content) == made.path.read_bytes()
    assert whole.headers["Content-Disposition"].startswith("attachment")
    told = client.get(reverse("workshop:copy_check", args=[made.name])).content.decode()
    assert "is whole" in told
    made.path.write_bytes(made.path.read_bytes()[:-5])
    told = client.get(reverse("workshop:copy_check", args=[made.name])).content.decode()
    assert "not whole" in told
    assert AuditEntry.objects.filter(act="keep copy", subject_ref=made.name).exists()


@pytest.mark.parametrize("name", ["..%2fsecret_key", "secret_key", "strandwork-x.copy", "%2e%2e"])
def test_v5_3_2_no_file_but_a_copy_can_be_fetched(db, client, settings, name):
    """V5.3.2: paths are made by the server."""
    settings.COPIES_DIR.mkdir(parents=True)
    (settings.COPIES_DIR / "secret_key").write_text("secret")
    client.force_login(make_person("owner"))
    assert client.get(f"/workshop/copies/{name}/").status_code == 404


def test_nobody_but_the_owner_sees_copies(db):
    for role in ("counter", "yard", "kiln", "bench"):
        client = Client()
        client.force_login(make_person(role))
        assert client.get(reverse("workshop:copy_list")).status_code == 404
        assert client.post(reverse("workshop:copy_list")).status_code == 404


# --- the drill, with writers at work ---

WRITER = """
import os, sys, time
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
import django; django.setup()
from tests.builders import make_person, make_collector, make_colour
from stock.services.sacks import weigh_in_sack
person, collector, colour = make_person("yard"), make_collector(), make_colour()
while not os.path.exists(sys.argv[1]):
    sack = weigh_in_sack(collector, colour=colour, gross_g=10_000, person=person)
    print(sack.number, flush=True)
    time.sleep(0.03)  # leaves the cores to those who copy
"""


def run(environment: dict, *command: str, **options) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, *command],
        env=environment, cwd=ROOT, capture_output=True, text=True, timeout=120, **options,
    )  # fmt: skip


def wait_for(done: Callable[[], bool], writers: list[subprocess.Popen]) -> None:
    """Until it is done; a writer that ended by itself is a failure of its own."""
    while not done():
        assert all(writer.poll() is None for writer in writers), "a writer gave up"
        time.sleep(0.02)


@on_sqlite
def test_the_drill_copies_taken_under_load_restore_whole(tmp_path):
    """Two writers at work, copies one after another; each restores with every sack of its moment.

    Recovery point: every sack acknowledged before the copy began is in it. The time to recover
    is printed.
    """
    url = f"sqlite:///{tmp_path}/live/book.sqlite3"
    (tmp_path / "live").mkdir()
    environment = {**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "workshop.settings",
                   "PYTHONPATH": str(ROOT), "COPIES_DIR": str(tmp_path / "kept")}  # fmt: skip
    assert run(environment, "-m", "django", "migrate", "-v0").returncode == 0
    ready = "from tests.builders import *; make_person('yard'); make_collector(); make_colour()"
    run(environment, "-m", "django", "shell", "-v0", "-c", ready)
    acknowledged: list[tuple[float, int]] = []

    def listen(writer):
        for line in writer.stdout:
            acknowledged.append((time.monotonic(), int(line)))

    options = {"env": environment, "cwd": ROOT, "stdout": subprocess.PIPE, "text": True}
    evening = tmp_path / "evening"  # the writers work until it is there
    command = [sys.executable, "-c", WRITER, str(evening)]
    writers = [subprocess.Popen(command, **options) for _writer in range(2)]
    listeners = [threading.Thread(target=listen, args=(writer,)) for writer in writers]
    for listener in listeners:
        listener.start()
    began: list[float] = []
    try:
        # However busy the machine is: some sacks before each copy, and some after the last.
        while len(began) < 3:
            wait_for(lambda: len(acknowledged) > 7 * (len(began) + 1), writers)
            began.append(time.monotonic())
            done = run(environment, "-m", "django", "backup")
            assert done.returncode == 0, done.stderr
        wait_for(lambda: acknowledged[-1][0] > began[-1], writers)
    finally:
        evening.touch()
        for writer, listener in zip(writers, listeners, strict=True):
            writer.wait(timeout=60)
            listener.join()
    for number, copy in enumerate(reversed(kept_copies(tmp_path / "kept"))):
        folder = tmp_path / f"back{number}"
        at = time.monotonic()
        done = run(environment, "-m", "django", "restore", str(copy.path), str(folder))
        assert done.returncode == 0, done.stderr
        took = time.monotonic() - at
        with closing(sqlite3.connect(folder / SQLITE_PART)) as book:
            sacks = [n for (n,) in book.execute("SELECT number FROM stock_sack ORDER BY number")]
        before = {sack for moment, sack in acknowledged if moment < began[number]}
        assert before <= set(sacks)
        assert sacks == list(range(1, len(sacks) + 1)), "a number is missing or came twice"
        back = {**environment, "DATABASE_URL": f"sqlite:///{folder}/{SQLITE_PART}"}
        assert run(back, "-m", "django", "check_book").returncode == 0
        print(f"copy {number}: {len(sacks)} sacks, back in {took:.1f} s")
