"""What changes seldom and is asked for all day: kept in memory under a mark that the book moves.

The book holds one mark. The database itself draws a new one, in the same transaction, whenever a
row of a standing table (`standing` of each app's config) is written, by whatever program and from
whatever host. A worker keeps what it worked out under the mark it read first, and looks the mark
up again each time: what was worked out from rows that have changed since is never found again.
Marks are drawn by lot: one that was rolled back never comes again with other rows behind it.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from threading import Lock
from typing import Any, TypeVar

from django.apps import AppConfig
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.utils.translation import get_language

TABLE = "workshop_standingmark"
MOST_KEPT = 128  # by process; the ones asked for longest ago go first
DRAWN = {"sqlite": "lower(hex(randomblob(16)))", "postgresql": "gen_random_uuid()"}
ACTS = ("INSERT", "UPDATE", "DELETE")

Found = TypeVar("Found")

_kept: OrderedDict[Hashable, Any] = OrderedDict()
_lock = Lock()


def mark() -> str:
    """The mark of the standing tables as this transaction sees them (1 query)."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT key FROM {TABLE}")
        return str(cursor.fetchone()[0])


def kept(name: str, key: Hashable, make: Callable[[], Found]) -> Found:
    """What `make` finds, kept until a standing table changes (1 query, or `make`'s and 2 more).

    make  reads standing tables alone, and all it needs at once: nothing is fetched later
    key   whatever else it depends on; the language is known here
    What is found is shared by all threads and must not be changed.
    """
    read_under = mark()
    place = (read_under, name, key, get_language())
    with _lock:
        if place in _kept:
            _kept.move_to_end(place)
            return _kept[place]
    found = make()
    # Read over a change, it is part old and part new: good enough for now, not to be kept.
    if mark() == read_under:
        with _lock:
            _kept[place] = found
            while len(_kept) > MOST_KEPT:
                _kept.popitem(last=False)
    return found


def watch(sender: AppConfig, using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """After a migration: every standing table of an app moves the mark (a table that SQLite makes
    anew loses its triggers), and what was migrated is read anew."""
    tables = [sender.get_model(name)._meta.db_table for name in getattr(sender, "standing", ())]
    book = connections[using]
    if not tables or TABLE not in book.introspection.table_names():
        return
    with book.cursor() as cursor:
        cursor.execute(f"UPDATE {TABLE} SET key = {DRAWN[book.vendor]}")
        known = _triggers(cursor, book.vendor)
        for name, statement in _wanted(tables, book.vendor):
            if name not in known:
                cursor.execute(statement)


def _triggers(cursor: Any, vendor: str) -> set[str]:
    if vendor == "sqlite":
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    else:
        cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
    return {name for (name,) in cursor.fetchall()}


def _wanted(tables: Iterable[str], vendor: str) -> Iterable[tuple[str, str]]:
    """The name and the statement of every trigger."""
    for table in tables:
        if vendor == "postgresql":
            name = f"{table}_moves_mark"
            acts = " OR ".join((*ACTS, "TRUNCATE"))
            yield (
                name,
                (
                    f"CREATE TRIGGER {name} AFTER {acts} ON {table} "
                    f"FOR EACH STATEMENT EXECUTE FUNCTION workshop_move_mark()"
                ),
            )
            continue
        for act in ACTS:
            name = f"{table}_moves_mark_{act.lower()}"
            yield (
                name,
                (
                    f"CREATE TRIGGER {name} AFTER {act} ON {table} "
                    f"BEGIN UPDATE {TABLE} SET key = {DRAWN[vendor]}; END"
                ),
            )
