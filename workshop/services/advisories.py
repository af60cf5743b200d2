"""Known weaknesses of the locked packages, looked up in a list that lies at hand.

The list is of the Open Source Vulnerability form (OSV schema 1.x), as the Python Packaging
Advisory Database is published: one JSON document for each advisory, in a folder or a ZIP archive.
Nothing is asked of the network.
"""

import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _
from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

PINNED = re.compile(r"^([A-Za-z0-9][\w.-]*)(?:\[[^\]]*\])?==([^\s;\\]+)", re.MULTILINE)
# One advisory is a few kilobytes; whatever is larger is none.
MOST_BYTES = 4 << 20


class NoList(Exception):
    """There is no list of advisories there; the text says why."""


@dataclass(frozen=True)
class Weakness:
    """One advisory that holds for one locked package."""

    package: str
    version: str
    name: str
    summary: str
    mended_in: str


@dataclass(frozen=True)
class Audit:
    """How many packages were held against how many advisories, and what was found."""

    packages: int
    advisories: int
    found: list[Weakness]


def audit(lock: Path, at: Path) -> Audit:
    """Hold every package of a lock file against the advisories in a file, folder or ZIP.

    Raises NoList when there is not one advisory about a Python package.
    """
    locked = locked_packages(lock)
    read, found = 0, []
    for advisory in _advisories(at):
        affected = [each for each in advisory.get("affected", []) if _about_python(each)]
        read += bool(affected)
        if advisory.get("withdrawn"):
            continue
        for each in affected:
            name = canonicalize_name(each["package"]["name"])
            if (version := locked.get(name)) and _is_affected(version, each):
                found.append(_weakness(name, version, advisory, each))
    if not read:
        raise NoList(_("%(at)s holds no advisories about Python packages.") % {"at": at})
    kept = {(each.package, each.name): each for each in found}
    return Audit(len(locked), read, [kept[key] for key in sorted(kept)])


def locked_packages(lock: Path) -> dict[str, str]:
    """Name and version of every package of a lock file."""
    text = lock.read_text(encoding="utf-8")
    return {canonicalize_name(name): version for name, version in PINNED.findall(text)}


def _advisories(at: Path) -> Iterator[dict[str, Any]]:
    try:
        for text in _documents(at):
            try:
                said = json.loads(text)
            except ValueError:
                continue
            for each in said if isinstance(said, list) else [said]:
                if isinstance(each, dict) and isinstance(each.get("affected", []), list):
                    yield each
    except (OSError, zipfile.BadZipFile) as error:
        raise NoList(_("%(at)s cannot be read: %(why)s.") % {"at": at, "why": error}) from error


def _documents(at: Path) -> Iterator[bytes]:
    if at.is_dir():
        for path in sorted(at.rglob("*.json")):
            if path.stat().st_size <= MOST_BYTES:
                yield path.read_bytes()
    elif zipfile.is_zipfile(at):
        with zipfile.ZipFile(at) as archive:
            for part in archive.infolist():
                if part.filename.endswith(".json") and part.file_size <= MOST_BYTES:
                    yield archive.read(part)
    else:
        yield at.read_bytes()


def _about_python(affected: Any) -> bool:
    package = affected.get("package") if isinstance(affected, dict) else None
    return (
        isinstance(package, dict)
        and str(package.get("ecosystem", "")).split(":")[0] == "PyPI"
        and isinstance(package.get("name"), str)
    )


def _is_affected(version: str, affected: Mapping[str, Any]) -> bool:
    """The rule of the OSV schema: listed by name, or inside one of the ranges."""
    if version in affected.get("versions", []):
        return True
    return any(
        _in_range(Version(version), each.get("events", []))
        for each in affected.get("ranges", [])
        if each.get("type") in {"ECOSYSTEM", "SEMVER"}
    )


def _in_range(version: Version, events: list[Mapping[str, str]]) -> bool:
    told = sorted(filter(None, map(_event, events)), key=lambda each: (each[0], each[1] == "fixed"))
    inside = False
    for at, kind in told:
        if kind == "introduced" and version >= at:
            inside = True
        elif (kind == "fixed" and version >= at) or (kind == "last_affected" and version > at):
            inside = False
    return inside


def _event(event: Mapping[str, str]) -> tuple[Version, str] | None:
    for kind in ("introduced", "fixed", "last_affected"):
        if kind in event:
            try:
                return Version(event[kind]), kind
            except InvalidVersion:
                return None
    return None


def _weakness(
    name: str, version: str, advisory: Mapping[str, Any], affected: Mapping[str, Any]
) -> Weakness:
    fixes = [
        event["fixed"]
        for each in affected.get("ranges", [])
        for event in each.get("events", [])
        if "fixed" in event and each.get("type") != "GIT"
    ]
    summary = str(advisory.get("summary") or advisory.get("details") or "").strip()
    return Weakness(
        name, version, str(advisory.get("id", "?")), summary.split("\n")[0][:200],
        min((fix for fix in fixes if _later(fix, version)), key=Version, default=""),
    )  # fmt: skip


def _later(fix: str, version: str) -> bool:
    try:
        return Version(fix) > Version(version)
    except InvalidVersion:
        return False
