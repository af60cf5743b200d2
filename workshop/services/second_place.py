"""Copies in a second place: a folder on another disk, or wherever rclone reaches.

Each nightly copy is sent there locked. Once a month the newest is fetched back and restored for a
trial, and the owner is told how that went.
"""

import shutil
import subprocess
import tempfile
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from django.conf import settings
from django.db import DatabaseError, connection
from django.utils import timezone
from django.utils.translation import gettext as _

from workshop.environment import address_of
from workshop.models import AuditEntry
from workshop.services.copies import NAME, SQLITE_PART, KeptCopy, check_copy
from workshop.services.copy_file import CopyRefused
from workshop.services.restoring import restore
from workshop.services.running import run_manage

SENT, TRIED = "send copy away", "restore copy for a trial"
TRY_EVERY = timedelta(days=30)
# A night missed is forgiven, for the machine may have been off.
SENT_WITHIN = timedelta(hours=60)
LONGEST_S = 3600
PART = ".part"


class SecondPlace(Protocol):
    """Where copies are carried; each act raises CopyRefused with a sentence."""

    def put(self, file: Path) -> None: ...
    def names(self) -> list[str]: ...
    def get(self, name: str, into: Path) -> Path: ...
    def forget(self, name: str) -> None: ...


class Folder:
    """A folder of another disk. It must be there: made anew it would lie on the wrong disk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, file: Path) -> None:
        try:
            shutil.copyfile(file, self.folder / (file.name + PART))
            (self.folder / (file.name + PART)).rename(self.folder / file.name)
        except OSError as error:
            raise CopyRefused(self._not_there(error)) from error

    def names(self) -> list[str]:
        try:
            return [path.name for path in self.folder.iterdir()]
        except OSError as error:
            raise CopyRefused(self._not_there(error)) from error

    def get(self, name: str, into: Path) -> Path:
        try:
            return Path(shutil.copyfile(self.folder / name, into / name))
        except OSError as error:
            raise CopyRefused(self._not_there(error)) from error

    def forget(self, name: str) -> None:
        (self.folder / name).unlink(missing_ok=True)

    def _not_there(self, error: OSError) -> str:
        return _("%(folder)s cannot be used (%(why)s). Is the disk there?") % {
            "folder": self.folder,
            "why": error.strerror or error,
        }


class Remote:
    """A place that rclone knows: SFTP, another computer's share, rented storage."""

    def __init__(self, remote: str) -> None:
        self.remote = remote.rstrip("/")

    def put(self, file: Path) -> None:
        self._run("copyto", str(file), f"{self.remote}/{file.name}")

    def names(self) -> list[str]:
        return self._run("lsf", "--files-only", self.remote).split()

    def get(self, name: str, into: Path) -> Path:
        self._run("copyto", f"{self.remote}/{name}", str(into / name))
        return into / name

    def forget(self, name: str) -> None:
        self._run("deletefile", f"{self.remote}/{name}")

    def _run(self, *words: str) -> str:
        found = shutil.which("rclone")
        if found is None:
            raise CopyRefused(_("rclone is missing; install it, or name a folder."))
        limits = ("--contimeout", "30s", "--timeout", "5m", "--retries", "2")
        try:
            done = subprocess.run(
                [found, *limits, *words],
                capture_output=True, text=True, check=False, timeout=LONGEST_S,
            )  # fmt: skip
        except subprocess.TimeoutExpired as error:
            raise CopyRefused(_("rclone was not done within an hour.")) from error
        if done.returncode:
            why = (done.stderr.strip().splitlines() or ["?"])[-1]
            raise CopyRefused(_("rclone says: %(why)s") % {"why": why})
        return done.stdout


def second_place() -> SecondPlace | None:
    """The place that SECOND_PLACE names, if it names one."""
    named = settings.SECOND_PLACE
    if not named:
        return None
    return (
        Remote(named.removeprefix("rclone:"))
        if named.startswith("rclone:")
        else Folder(Path(named))
    )


def send_away(copy: KeptCopy, *, keep: int) -> None:
    """Carry a locked copy to the second place, and let go of the oldest there; written down.

    Raises CopyRefused, written down too, when the place cannot be used.
    """
    place = second_place()
    if place is None:
        return
    try:
        if not copy.locked:
            raise CopyRefused(_("A copy without COPY_PASSPHRASE is not carried to another place."))
        place.put(copy.path)
        for name in _copies(place)[keep:]:
            place.forget(name)
    except CopyRefused as error:
        _write_down(SENT, copy.name, why=str(error))
        raise
    _write_down(SENT, copy.name)


def try_if_due() -> bool:
    """Once a month restore the newest copy of the second place; whether it was tried now."""
    place = second_place()
    if place is None:
        return False
    lately = AuditEntry.objects.filter(act=TRIED, at__gt=timezone.now() - TRY_EVERY)
    if lately.filter(after__has_key="rows").exists():
        return False
    name = ""
    try:
        name = next(iter(_copies(place)), "")
        if not name:
            raise CopyRefused(_("There is no copy in the second place yet."))
        with tempfile.TemporaryDirectory(prefix="strandwork-trial-") as work:
            rows = restore_for_a_trial(place.get(name, Path(work)), Path(work) / "back")
    except CopyRefused as error:
        _write_down(TRIED, name, why=str(error))
        raise
    _write_down(TRIED, name, rows=rows)
    return True


def restore_for_a_trial(file: Path, folder: Path) -> int:
    """Bring a copy back beside the book, let its glass book be checked; how many rows came."""
    phrase = settings.COPY_PASSPHRASE
    if connection.vendor == "sqlite":
        rows = sum(restore(file, folder, phrase=phrase).rows.values())
        run_manage("check_book", DATABASE_URL=f"sqlite:///{folder / SQLITE_PART}")
        return rows
    copy = check_copy(file, phrase=phrase)
    name = f"strandwork_trial_{uuid.uuid4().hex[:8]}"
    quoted = connection.ops.quote_name(name)
    try:
        with connection.cursor() as cursor:
            cursor.execute("CREATE DATABASE " + quoted)
    except DatabaseError as error:
        raise CopyRefused(
            _("No database may be made for the trial: %(why)s") % {"why": str(error).strip()}
        ) from error
    try:
        there = {"DATABASE_URL": address_of(connection.settings_dict, name)}
        run_manage("restore", str(file), "--no-papers", **there)
        run_manage("check_book", **there)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP DATABASE IF EXISTS " + quoted)
    return sum(copy.rows.values())


@dataclass(frozen=True)
class SecondPlaceNews:
    """How copies fare in the second place, for the owner's home."""

    tried_at: datetime | None
    rows: int
    why: str
    """What went wrong last, or nothing."""
    late: bool
    """Nothing was carried there for two nights and more."""


def second_place_news() -> SecondPlaceNews | None:
    """What the owner is told of the second place; None where there is none (2 queries)."""
    if not settings.SECOND_PLACE:
        return None
    tried = AuditEntry.objects.filter(act=TRIED).order_by("-at").first()
    sent = AuditEntry.objects.filter(act=SENT).order_by("-at").first()
    told = [dict(each.after or {}) if each else {} for each in (tried, sent)]
    good = tried if "rows" in told[0] else None
    return SecondPlaceNews(
        tried_at=good.at if good else None,
        rows=told[0].get("rows", 0),
        why=next((each["why"] for each in told if "why" in each), ""),
        late=sent is None or sent.at < timezone.now() - SENT_WITHIN,
    )


def _copies(place: SecondPlace) -> list[str]:
    """The copies in a place, the newest first."""
    return sorted((name for name in place.names() if NAME.fullmatch(name)), reverse=True)


def _write_down(act: str, name: str, **told: Any) -> None:
    AuditEntry.objects.create(act=act, subject_kind="copy", subject_ref=name[:80], after=told)
