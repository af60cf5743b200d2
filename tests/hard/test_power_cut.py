"""The power is cut: what was acknowledged is in the book, whichever unsynced writes the disk kept.

The real server works under `strace`; then the disk is laid out as it may have been left after any
of its writes. POWER_CUTS=2000 makes the long run. That the disk keeps what it said it had synced
is its maker's word; nothing here can test it, and no block layer that drops writes is needed.
"""

import json
import os
import random
import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from tests.hard.power_cut import ANY_SECTORS, EVERYTHING, NOTHING, Call, File, calls, recorder
from tests.hard.server import Server, make_workshop
from tests.hard.traffic import FACTS, Day
from tests.patience import PATIENCE_S

CUTS = int(os.environ.get("POWER_CUTS", "120"))
ACKNOWLEDGED = 40

pytestmark = [
    pytest.mark.slow,
    pytest.mark.xdist_group("servers"),
    pytest.mark.skipif(shutil.which("strace") is None, reason="strace is missing; install strace"),
]


class Timed(list):
    """What was acknowledged, each with the moment in which the answer had come."""

    def __init__(self) -> None:
        super().__init__()
        self.keys: list[tuple[float, str]] = []

    def append(self, sent) -> None:
        super().append(sent)
        self.keys.append((time.time(), sent.key.replace("-", "")))


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """A stretch of a working day: the book before it, the calls, and what was acknowledged when."""
    folder = tmp_path_factory.mktemp("power")
    server = Server(f"sqlite:///{folder}/book.sqlite3", folder, workers=2)
    sessions = make_workshop(server)
    facts = json.loads(server.python("-c", FACTS))
    book = folder / "book.sqlite3"
    with closing(sqlite3.connect(book)) as open_book:
        open_book.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = book.read_bytes()
    server.before = recorder("strace", folder / "calls")
    server.start()
    day = Day([server], sessions, facts)
    day.sent = Timed()
    try:
        day.begin(without=("kiln",))
        give_up_at = time.monotonic() + PATIENCE_S
        while len(day.sent) < ACKNOWLEDGED and time.monotonic() < give_up_at:
            time.sleep(0.1)
        day.end()
    finally:
        server.kill_all()
    found = list(calls(folder / "calls", (book.name, book.name + "-wal")))
    return before, found, day.sent.keys


def laid_out(files: dict[str, File], how: str, chance: random.Random, folder: Path) -> Path:
    """The disk as it was left, in a folder of its own."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for end, file in files.items():
        (folder / f"book.sqlite3{end}").write_bytes(file.after_a_cut(how, chance))
    return folder / "book.sqlite3"


def keys_in(book: Path) -> set[str]:
    """Which forms the book knows, after SQLite has put it right by its log; it must be sound."""
    with closing(sqlite3.connect(book)) as opened:
        assert opened.execute("PRAGMA quick_check").fetchone()[0] == "ok"
        assert opened.execute("PRAGMA foreign_key_check").fetchone() is None
        return {row[0] for row in opened.execute("SELECT key FROM workshop_submission")}


def play(before: bytes, found: list[Call], cuts: set[int], *, syncs: bool = True):
    """Every call in turn; at the chosen ones the moment and the files as they stand."""
    files = {"": File(bytearray(before)), "-wal": File(bytearray())}
    for number, call in enumerate(found):
        files["-wal" if call.path.endswith("-wal") else ""].take(call, syncs=syncs)
        if number in cuts:
            yield call.at, files


def test_what_was_acknowledged_survives_a_power_cut_at_any_write(recorded, tmp_path):
    before, found, acknowledged = recorded
    chance = random.Random(11)
    assert len(acknowledged) >= ACKNOWLEDGED / 2
    cuts = set(chance.sample(range(len(found)), min(CUTS, len(found)))) | {len(found) - 1}
    most, tried, checked = 0, 0, []
    for at, files in play(before, found, cuts):
        for how in (NOTHING, EVERYTHING, ANY_SECTORS):
            book = laid_out(files, how, chance, tmp_path / "left")
            wanted = {key for when, key in acknowledged if when < at}
            lost = wanted - keys_in(book)
            assert not lost, f"{len(lost)} acknowledged acts lost at {at}, {how} kept"
            most, tried = max(most, len(wanted)), tried + 1
        if len(checked) < 3 and len(wanted) > len(acknowledged) * (len(checked) + 1) / 4:
            checked.append(
                Server(f"sqlite:///{book}", tmp_path).python("-m", "django", "check_book")
            )
    # Every gram is where the book says, in the middle of the day too.
    assert len(checked) == 3 and all("The book is sound" in said for said in checked)
    assert any(call.path.endswith(".sqlite3") for call in found), "the log was never taken in"
    print(f"{tried} power cuts among {len(found)} writes and syncs: up to {most} acknowledged "
          f"acts, 0 lost, every book sound")  # fmt: skip


def test_a_disk_that_ignored_the_syncs_would_be_noticed(recorded, tmp_path):
    """The same day as if nothing had been synced: the test above must be able to fail."""
    before, found, acknowledged = recorded
    ((_at, files),) = play(before, found, {len(found) - 1}, syncs=False)
    book = laid_out(files, NOTHING, random.Random(1), tmp_path / "left")
    assert {key for _when, key in acknowledged} - keys_in(book)
