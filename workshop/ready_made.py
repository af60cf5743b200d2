"""A book made beforehand: its tables and rows in one small file, laid out with its days moved.

Migrating an empty SQLite book and living through the demo's half year take most of a first start.
Both are done once, by the same migrations and services, and packed; a test makes them again and
compares. Where the file does not fit this program, it is not used.
"""

import base64
import hashlib
import importlib
import json
import re
import sqlite3
import uuid
import zlib
from collections import defaultdict
from collections.abc import Callable, Iterable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import zip_longest
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.apps import apps
from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

FORM = "strandwork ready-made book 1"
OWN_APPS = ("workshop", "stock", "orders")
# A day; with a time after it a moment, in UTC unless a T without an offset makes it a local one.
MOMENT = re.compile(
    r"(?<![\d-])(\d{4}-\d\d-\d\d)"
    r"(?:([ T])(\d\d:\d\d(?::\d\d(?:\.\d+)?)?)(Z|[+-]\d\d:\d\d)?)?(?![\d-])"
)
Table = dict[str, Any]  # {"columns": [...], "flags": [...], "rows": [[...], ...]}


# --- making ------------------------------------------------------------------------------------


def take_tables(names: Iterable[str]) -> dict[str, Table]:
    """Every committed row of the tables as SQLite keeps them, in the order of their keys."""
    flags = _flags()
    taken = {}
    # Not through Django, which would make days and moments of what is kept as text.
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as book:
        for name in sorted(names):
            found = book.execute("SELECT * FROM " + _quoted(name) + " ORDER BY 1")
            columns = [column[0] for column in found.description]
            rows = [[_plain(value) for value in row] for row in found]
            if rows:
                told = {"columns": columns, "flags": flags.get(name, []), "rows": rows}
                taken[name] = _with_steady_keys(name, told)
    return taken


def _quoted(name: str) -> str:
    """The name of a table or column of our own, as both databases read it."""
    return '"' + name.replace('"', '""') + '"'


def _with_steady_keys(name: str, table: Table) -> Table:
    """Keys that only keep an act from being done twice are drawn by lot; here by table and row."""
    drawn = [place for place, column in enumerate(table["columns"]) if column == "key"]
    for row in table["rows"]:
        for place in drawn:
            row[place] = uuid.uuid5(uuid.NAMESPACE_OID, f"{name} {row[0]}").hex
    return table


def take_schema() -> list[str]:
    """The statements that make the tables, their indexes and, last, their triggers."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' "
            "ORDER BY CASE type WHEN 'table' THEN 1 WHEN 'index' THEN 2 ELSE 3 END, name"
        )
        return [sql for (sql,) in cursor.fetchall()]


def own_tables() -> list[str]:
    """The tables of the workshop's own apps."""
    found = (
        model
        for app in OWN_APPS
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
    )
    return sorted(model._meta.db_table for model in found)


def other_tables() -> list[str]:
    """All the rest: what Django and its helpers keep."""
    return sorted(set(connection.introspection.table_names()) - set(own_tables()))


def fingerprints() -> dict[str, str]:
    """Every change of the book that this program knows; our own with a hash of their text."""
    loader = MigrationLoader(None, ignore_no_migrations=True)
    return {
        f"{app}.{name}": _hash_of(app, name) if app in OWN_APPS else ""
        for app, name in sorted(loader.disk_migrations)
    }


def packed(told: dict[str, Any]) -> bytes:
    """The file's bytes; the same for the same content."""
    import lzma

    text = json.dumps({"form": FORM, **told}, separators=(",", ":"), ensure_ascii=False)
    return lzma.compress(text.encode(), preset=9 | lzma.PRESET_EXTREME)


def difference(kept: Path, fresh: bytes) -> str:
    """Where the kept file and a fresh one first differ, in words; nothing where they do not."""
    import lzma

    try:
        old = json.loads(lzma.decompress(kept.read_bytes()))
    except (OSError, ValueError):
        return "it is not there, or cannot be unpacked"
    new = json.loads(lzma.decompress(fresh))
    for part in sorted({*old, *new} - {"tables", "others"}):
        if old.get(part) != new.get(part):
            return part
    for part in ("others", "tables"):
        for name in sorted({*old[part], *new[part]}):
            if told := _differing_row(old[part].get(name), new[part].get(name)):
                return f"{name}: {told}"
    return ""


def _differing_row(old: Table | None, new: Table | None) -> str:
    if old == new:
        return ""
    if old is None or new is None or old["columns"] != new["columns"]:
        return "other columns, or none"
    for one, other in zip_longest(old["rows"], new["rows"]):
        if one != other:
            pairs = zip(new["columns"], one or [], other or [], strict=False)
            return str([(name, a, b) for name, a, b in pairs if a != b] or [one, other])[:300]
    return "which columns are yes or no"


def _flags() -> dict[str, list[str]]:
    """Yes-or-no columns by table: PostgreSQL wants them as such, SQLite keeps numbers."""
    return {
        model._meta.db_table: [
            field.column
            for field in model._meta.concrete_fields
            if isinstance(field, models.BooleanField)
        ]
        for model in apps.get_models(include_auto_created=True)
    }


def _plain(value: Any) -> Any:
    """A value as JSON can carry it; packed text is unpacked, so that all of it packs together."""
    if not isinstance(value, bytes | memoryview):
        return value
    try:
        return {"zlib": zlib.decompress(bytes(value)).decode()}
    except (zlib.error, UnicodeDecodeError):
        return {"bytes": base64.b64encode(bytes(value)).decode()}


def _hash_of(app: str, name: str) -> str:
    module = importlib.import_module(f"{app}.migrations.{name}")
    return hashlib.sha256(Path(str(module.__file__)).read_bytes()).hexdigest()[:16]


# --- laying out --------------------------------------------------------------------------------


@cache
def ready_made() -> dict[str, Any] | None:
    """What the file holds, if it was made after the very changes of the book known here.

    None where it was not, or where this Python cannot unpack it.
    """
    told = of_some_age()
    return told if told is not None and told["changes"] == fingerprints() else None


@cache
def of_some_age() -> dict[str, Any] | None:
    """What the file holds, if every change it was made after is one that is known here."""
    try:
        import lzma

        told = json.loads(lzma.decompress(settings.READY_MADE.read_bytes()))
    except (ImportError, OSError, ValueError):
        return None
    fits = told.get("form") == FORM and told["changes"].items() <= fingerprints().items()
    return told if fits else None


def lay_out() -> bool:
    """Make the tables of an empty SQLite book at once; False where they have to be migrated.

    Changes of the book that are newer than the file are left to `migrate`.
    """
    if connection.vendor != "sqlite" or connection.introspection.table_names():
        return False
    told = of_some_age()
    if told is None:
        return False
    others = told["others"]
    applied = others["django_migrations"]
    at = applied["columns"].index("applied")
    now = timezone.now().astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")
    rows = [[*row[:at], now, *row[at + 1 :]] for row in applied["rows"]]
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in told["schema"]:
            cursor.execute(statement)
        put_rows({**others, "django_migrations": {**applied, "rows": rows}})
    return True


def is_empty_here() -> bool:
    """Whether the tables are those of the file, and nothing of the workshop is in them."""
    applied = {f"{app}.{name}" for app, name in MigrationLoader(connection).applied_migrations}
    return applied >= set(fingerprints()) and not any(
        model._default_manager.exists()
        for app in OWN_APPS
        for model in apps.get_app_config(app).get_models()
    )


def put_rows(tables: dict[str, Table]) -> None:
    """Write the rows; one that a change of the book has written already stays as it is."""
    with connection.cursor() as cursor:
        for name, table in tables.items():
            columns = ", ".join(map(_quoted, table["columns"]))
            places = ", ".join(["%s"] * len(table["columns"]))
            put = "INSERT INTO " + _quoted(name) + " (" + columns + ") VALUES (" + places + ") "
            cursor.executemany(put + "ON CONFLICT DO NOTHING", _for_this_database(table))
        if connection.vendor == "postgresql":
            ours = [model for model in apps.get_models() if model._meta.db_table in tables]
            for statement in connection.ops.sequence_reset_sql(no_style(), ours):
                cursor.execute(statement)


def _for_this_database(table: Table) -> list[list[Any]]:
    flags = [table["columns"].index(name) for name in table["flags"]]
    rows = [[_value(value) for value in row] for row in table["rows"]]
    if connection.vendor == "postgresql":
        for row in rows:
            for place in flags:
                row[place] = bool(row[place]) if row[place] is not None else None
    return rows


def _value(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    if "zlib" in value:
        return zlib.compress(value["zlib"].encode())
    return base64.b64decode(value["bytes"])


# --- moving the days ---------------------------------------------------------------------------


def moved(tables: dict[str, Table], days: int, zone: ZoneInfo) -> dict[str, Table]:
    """The same rows so many days later: every day and moment, in columns and inside of texts.

    A moment keeps its hour on the workshop's own clock. Move by whole weeks, or Sunday's work
    falls on a Monday.
    """
    seen: dict[str, str] = {}

    def later(found: re.Match[str]) -> str:
        text = found[0]
        if text not in seen:
            seen[text] = _later(found, days, zone)
        return seen[text]

    return _each_text(tables, lambda text: MOMENT.sub(later, text))


def _later(found: re.Match[str], days: int, zone: ZoneInfo) -> str:
    day, between, clock, offset = found.groups()
    try:
        if clock is None:
            return (date.fromisoformat(day) + timedelta(days)).isoformat()
        if offset is None and between == "T":
            return f"{date.fromisoformat(day) + timedelta(days)}T{clock}"
        aware = datetime.fromisoformat(
            f"{day}T{clock}{(offset or '+00:00').replace('Z', '+00:00')}"
        )
    except ValueError:
        return found[0]  # it only looks like one
    there = aware.astimezone(zone).replace(tzinfo=None) + timedelta(days)
    utc = offset in (None, "Z", "+00:00")
    then = there.replace(tzinfo=zone).astimezone(UTC if utc else zone)
    written = then.replace(tzinfo=None).isoformat(between or " ")
    # Seconds are written as they were, with or without what is smaller.
    written = written[: len(found[0]) - len(offset or "")] if "." not in clock else written
    return written + ("" if offset is None else offset if utc else then.isoformat()[-6:])


def renumbered(tables: dict[str, Table], numbered: dict[str, tuple[str, str]]) -> dict[str, Table]:
    """Papers of a series that begins anew each year get the numbers of the years they now lie in.

    `numbered` names the tables of papers: the column of the day, and that of the kind or, in
    brackets, the one kind they all are. Every text that names a paper follows.
    """
    names: dict[str, str] = {}
    counts: dict[tuple[str, int], int] = defaultdict(int)
    for table, (day_column, kind_column) in numbered.items():
        if table in tables:
            _count_anew(tables[table], day_column, kind_column, names, counts)
    series = tables["workshop_paperseries"]
    _write_series(series, counts)
    changed = {old: new for old, new in names.items() if old != new}
    if not changed:
        return tables
    pattern = re.compile(r"\b(?:" + "|".join(map(re.escape, sorted(changed))) + r")\b")
    return _each_text(tables, lambda text: pattern.sub(lambda found: changed[found[0]], text))


def _count_anew(
    table: Table,
    day_column: str,
    kind_column: str,
    names: dict[str, str],
    counts: dict[tuple[str, int], int],
) -> None:
    at = {name: place for place, name in enumerate(table["columns"])}
    for row in sorted(table["rows"], key=lambda row: (row[at["year"]], row[at["sequence"]])):
        if not row[at["year"]]:
            continue  # this series runs on for ever
        kind = kind_column.strip("()") if kind_column.startswith("(") else row[at[kind_column]]
        year, old = int(row[at[day_column]][:4]), row[at["number"]]
        counts[kind, year] += 1
        row[at["year"]], row[at["sequence"]] = year, counts[kind, year]
        prefix = old.rsplit("-", 2)[0]
        names[old] = f"{prefix}-{year}-{counts[kind, year]:04d}"


def _write_series(series: Table, counts: dict[tuple[str, int], int]) -> None:
    at = {name: place for place, name in enumerate(series["columns"])}
    kinds = {kind for kind, _year in counts}
    stays = [row for row in series["rows"] if row[at["kind"]] not in kinds]
    key = max((row[at["id"]] for row in series["rows"]), default=0)
    for (kind, year), count in sorted(counts.items()):
        key += 1
        made = {"id": key, "kind": kind, "year": year, "next_number": count + 1}
        stays.append([made[name] for name in series["columns"]])
    series["rows"] = stays


def _each_text(tables: dict[str, Table], change: Callable[[str], str]) -> dict[str, Table]:
    def changed(value: Any) -> Any:
        if isinstance(value, str):
            return change(value)
        if isinstance(value, dict) and "zlib" in value:
            return {"zlib": change(value["zlib"])}
        return value

    return {
        name: {**table, "rows": [[changed(value) for value in row] for row in table["rows"]]}
        for name, table in tables.items()
    }
