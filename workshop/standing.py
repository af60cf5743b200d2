"""What changes seldom and is asked for all day: kept in memory under a mark that the book moves.

The book holds one mark. The database itself draws a new one, in the same transaction, whenever a
row of a standing table (`standing` of each app's config) is written, by whatever program and from
whatever host. A worker keeps what it worked out under the mark it read first, and looks the mark
up again each time: what was worked out from rows that have changed since is never found again.
Marks are drawn by lot: one that was rolled back never comes again with other rows behind it.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Mapping
from threading import Lock
from typing import Any, TypeVar
from zlib import crc32

from django.apps import AppConfig
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Model
from django.utils.translation import get_language

from workshop.replica import read_from

TABLE = "workshop_standingmark"
# By process; the ones asked for longest ago go first.
MOST_KEPT, MOST_OF_EACH = 128, 1024
DRAWN = {"sqlite": "lower(hex(randomblob(16)))", "postgresql": "gen_random_uuid()"}

Key = TypeVar("Key", bound=Hashable)
Found = TypeVar("Found")

_kept: OrderedDict[Hashable, Any] = OrderedDict()
_kept_of_each: OrderedDict[Hashable, Any] = OrderedDict()
_lock = Lock()


def mark() -> str:
    """The mark of the standing tables as this transaction sees them, read from where their rows
    are read (1 query)."""
    with connections[read_from()].cursor() as cursor:
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
    if place in (found := _looked_up(_kept, [place])):
        return found[place]
    made = make()
    # Read over a change, it is part old and part new: good enough for now, not to be kept.
    if mark() == read_under:
        _put_by(_kept, {place: made}, MOST_KEPT)
    return made


def kept_each(
    name: str, keys: Iterable[Key], make: Callable[[list[Key]], Mapping[Key, Found]]
) -> dict[Key, Found]:
    """The same of many things, each kept by itself: `make` finds those that are not there yet
    (1 query, or `make`'s and 2 more). What it does not find is left out."""
    read_under = mark()
    places = {key: (read_under, name, key, get_language()) for key in keys}
    there = _looked_up(_kept_of_each, places.values())
    found = {key: there[place] for key, place in places.items() if place in there}
    if missing := [key for key in places if key not in found]:
        made = make(missing)
        found.update(made)
        if mark() == read_under:
            _put_by(_kept_of_each, {places[key]: one for key, one in made.items()}, MOST_OF_EACH)
    return found


def _looked_up(kept: OrderedDict[Hashable, Any], places: Iterable[Hashable]) -> dict[Any, Any]:
    with _lock:
        found = {place: kept[place] for place in places if place in kept}
        for place in found:
            kept.move_to_end(place)
    return found


def _put_by(kept: OrderedDict[Hashable, Any], made: Mapping[Any, Any], most: int) -> None:
    with _lock:
        kept.update(made)
        while len(kept) > most:
            kept.popitem(last=False)


def watch(sender: AppConfig, using: str = DEFAULT_DB_ALIAS, **kwargs: Any) -> None:
    """After a migration: every standing table of an app moves the mark (a table that SQLite makes
    anew loses its triggers), and what was migrated is read anew."""
    models = [sender.get_model(name) for name in getattr(sender, "standing", ())]
    book = connections[using]
    if not models or TABLE not in book.introspection.table_names():
        return
    passing = getattr(sender, "passing", {})
    with book.cursor() as cursor:
        cursor.execute(f"UPDATE {TABLE} SET key = {DRAWN[book.vendor]}")
        known = _triggers(cursor, book.vendor)
        for model in models:
            table = model._meta.db_table
            wanted = dict(_wanted(model, passing.get(model.__name__, ()), book.vendor))
            for name in known - wanted.keys():
                if name.startswith(f"{table}_moves_mark"):
                    on = f" ON {table}" if book.vendor == "postgresql" else ""
                    cursor.execute(f"DROP TRIGGER {name}{on}")
            for name in wanted.keys() - known:
                cursor.execute(wanted[name])


def _triggers(cursor: Any, vendor: str) -> set[str]:
    if vendor == "sqlite":
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    else:
        cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
    return {name for (name,) in cursor.fetchall()}


def _wanted(model: type[Model], passing: Iterable[str], vendor: str) -> Iterable[tuple[str, str]]:
    """The name and the statement of every trigger of a table.

    passing  fields whose change changes nothing that is kept; the name then tells which others
             there are, so that a column that comes or goes makes the trigger anew
    """
    table = model._meta.db_table
    own = [field.column for field in model._meta.concrete_fields if field.name not in passing]
    update = "UPDATE" + (" OF " + ", ".join(f'"{column}"' for column in own) if passing else "")
    told = f"_{crc32(update.encode()):08x}" if passing else ""
    if vendor == "postgresql":
        name = f"{table}_moves_mark{told}"
        acts = " OR ".join(("INSERT", update, "DELETE", "TRUNCATE"))
        yield (
            name,
            f"CREATE TRIGGER {name} AFTER {acts} ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION workshop_move_mark()",
        )
        return
    for act, when in (("insert", "INSERT"), (f"update{told}", update), ("delete", "DELETE")):
        name = f"{table}_moves_mark_{act}"
        yield (
            name,
            f"CREATE TRIGGER {name} AFTER {when} ON {table} "
            f"BEGIN UPDATE {TABLE} SET key = {DRAWN[vendor]}; END",
        )
