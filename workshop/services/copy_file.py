"""The file that a copy is: a ZIP with a manifest, and a hash over all of it at its very end.

Any ZIP program can open it. The manifest names every part with its size and SHA-256; the ZIP's
comment is the SHA-256 of everything before it, so that no changed bit goes unnoticed.
"""

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _

from workshop.services.copy_lock import WrongPhrase, is_locked, lock, unlock

FORM = "strandwork copy 1"
MANIFEST = "manifest.json"
DIGEST_CHARACTERS = 64
READ_BYTES = 1 << 20
# A book of this size would be stranger than a file made to fill the disk.
MOST_BYTES = 1 << 40
# A line for each table, each change of the book and each paper kept as a file.
MOST_MANIFEST_BYTES = 1 << 25


# What reading a file says that was put together by somebody else than us. RuntimeError stands for
# a locked entry, a kind of packing that is not known, and lists in lists in lists.
_NOT_A_COPY = (
    *(zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError, RuntimeError),
    *(FileExistsError, IsADirectoryError, NotADirectoryError),
)


class CopyRefused(Exception):
    """A whole sentence: why this copy is not made or not taken."""


@dataclass(frozen=True)
class Copy:
    """What a copy says about itself, once it was read and found whole."""

    made_at: str
    version: str
    database: str
    migrations: tuple[str, ...]
    rows: Mapping[str, int]
    parts: Mapping[str, Mapping[str, Any]]


def write_copy(target: Path, parts: Mapping[str, Path], facts: dict[str, Any], phrase: str) -> None:
    """Write the parts, by their names in the copy, into `target`, which appears whole or not."""
    listed = {
        name: {"bytes": path.stat().st_size, "sha256": sha256_of(path)}
        for name, path in parts.items()
    }
    manifest = json.dumps({"form": FORM, **facts, "parts": listed}, indent=1, sort_keys=True)
    unfinished = target.with_name(f".{target.name}.unfinished")
    plain = unfinished.with_suffix(".plain") if phrase else unfinished
    try:
        with zipfile.ZipFile(plain, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
            archive.writestr(MANIFEST, manifest)
            for name, path in parts.items():
                archive.write(path, name)
            archive.comment = b"0" * DIGEST_CHARACTERS
        _seal(plain)
        if phrase:
            lock(plain, unfinished, phrase)
        unfinished.chmod(0o600)
        unfinished.replace(target)
        _flush_folder(target.parent)
    finally:
        plain.unlink(missing_ok=True)
        unfinished.unlink(missing_ok=True)


def read_copy(path: Path, into: Path, phrase: str = "") -> Copy:
    """Check a copy from end to end and lay its parts into the folder `into`.

    Raises CopyRefused for a file that is no copy, is not whole, or needs another phrase.
    """
    if not path.is_file():
        raise CopyRefused(_("There is no file %(name)s.") % {"name": path.name})
    if is_locked(path):
        path = _unlocked(path, into, phrase)
    _check_seal(path)
    try:
        with zipfile.ZipFile(path) as archive:
            if archive.getinfo(MANIFEST).file_size > MOST_MANIFEST_BYTES:
                raise CopyRefused(_not_whole())
            copy = _copy_of(json.loads(archive.read(MANIFEST)))
            for name, part in copy.parts.items():
                _take_out(archive, name, part, into)
    except _NOT_A_COPY as error:
        raise CopyRefused(_not_whole()) from error
    return copy


def sha256_of(path: Path, *, without_last: int = 0) -> str:
    """The SHA-256 of a file, or of all but its last bytes, in hexadecimal."""
    digest, left = hashlib.sha256(), path.stat().st_size - without_last
    with path.open("rb") as file:
        while left > 0 and (piece := file.read(min(READ_BYTES, left))):
            digest.update(piece)
            left -= len(piece)
    return digest.hexdigest()


def _seal(path: Path) -> None:
    """Put the hash of everything before it into the comment that the ZIP ends with."""
    digest = sha256_of(path, without_last=DIGEST_CHARACTERS)
    with path.open("r+b") as file:
        file.seek(-DIGEST_CHARACTERS, os.SEEK_END)
        file.write(digest.encode())
        file.flush()
        os.fsync(file.fileno())


def _check_seal(path: Path) -> None:
    with path.open("rb") as file:
        looks_like_one = file.read(4) == b"PK\x03\x04"
        file.seek(-min(DIGEST_CHARACTERS, path.stat().st_size), os.SEEK_END)
        said = file.read()
    if not looks_like_one:
        raise CopyRefused(
            _("This file is no copy of a Strandwork book, or its beginning is damaged.")
        )
    if said != sha256_of(path, without_last=DIGEST_CHARACTERS).encode():
        raise CopyRefused(_not_whole())


def _not_whole() -> str:
    return _(
        "This copy is not whole: it was cut short or changed since it was made. Take another copy."
    )


def _unlocked(path: Path, into: Path, phrase: str) -> Path:
    if not phrase:
        raise CopyRefused(
            _("This copy is locked. Give the phrase it was locked with (COPY_PASSPHRASE).")
        )
    plain = into / ".unlocked"
    try:
        unlock(path, plain, phrase)
    except WrongPhrase as error:
        raise CopyRefused(
            _(
                "This copy does not open: the phrase is not the one it was locked with, or the "
                "file was cut short or changed since it was made."
            )
        ) from error
    return plain


def _copy_of(said: Any) -> Copy:
    if not isinstance(said, dict) or not isinstance(said.get("form"), str):
        raise CopyRefused(_not_whole())
    if said["form"] != FORM:
        raise CopyRefused(
            _(
                "This copy has the form “%(found)s”, and this Strandwork reads “%(known)s”. "
                "Bring the program to the version that made the copy."
            )
            % {"found": said["form"][:60], "known": FORM}
        )
    made_at, version, database, changes, rows, parts = (
        said[name] for name in ("made_at", "version", "database", "migrations", "rows", "parts")
    )
    if not (
        _all_are(str, [made_at, version, database])
        and isinstance(changes, list)
        and _all_are(str, changes)
        and isinstance(rows, dict)
        and _all_are(int, rows.values())
        and isinstance(parts, dict)
        and all(isinstance(part, dict) and _describes(part) for part in parts.values())
    ):
        raise CopyRefused(_not_whole())
    return Copy(made_at, version, database, tuple(changes), rows, parts)


def _all_are(kind: type, things: Iterable[Any]) -> bool:
    # True is a whole number to Python, and none to anybody else.
    return all(isinstance(thing, kind) and not isinstance(thing, bool) for thing in things)


def _describes(part: Mapping[str, Any]) -> bool:
    return _all_are(int, [part.get("bytes")]) and _all_are(str, [part.get("sha256")])


def _take_out(archive: zipfile.ZipFile, name: str, part: Mapping[str, Any], into: Path) -> None:
    target = (into / name).resolve()
    if not target.is_relative_to(into.resolve()) or part["bytes"] > MOST_BYTES:
        raise CopyRefused(_not_whole())
    info = archive.getinfo(name)
    packed_as_ours = info.compress_type in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
    if info.file_size != part["bytes"] or not packed_as_ours:
        raise CopyRefused(_not_whole())
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(name) as source, target.open("wb") as file:
        while piece := source.read(READ_BYTES):
            file.write(piece)
        file.flush()
        os.fsync(file.fileno())
    if sha256_of(target) != part["sha256"]:
        raise CopyRefused(_not_whole())


def _flush_folder(folder: Path) -> None:
    """A renamed file survives a power cut only once its folder is on the disk."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
