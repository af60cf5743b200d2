"""Every page and act asks a long book as little as a short one.

The owner walks every address of the project over a book of a year and one of seven, and does the
acts of a day in both. A page or act may not ask the database more often for the second, nor may a
page read through a table that grows; on SQLite the steps of the database's own machine are counted
too, for an index can be read through as well. What may grow with the past, and why, stands in
`GROWS`.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orders.models import Order, Sale
from orders.papers import press
from tests.benchmarks.acts import MOST, acts
from tests.benchmarks.ten_years import (
    Rows,
    Size,
    lived_through,
    unknown_to_seasons,
    write_ten_years,
)
from tests.hard.world import OWN_APPS, Address, body_of, every_address, paths_of
from workshop.models import Person

pytestmark = pytest.mark.django_db

SHORT = Size(seasons=12, present=1)
LONG = Size(seasons=84, present=1)
TIMES = LONG.seasons // SHORT.seasons
# Steps of SQLite's machine that a page may take beside those it takes in a short book: lists and
# the choices above them count to a thousand, and a short book has fewer.
FEW_STEPS = 120_000
GROWS = {
    "workshop:metrics": "counts every table, for the machine that asks once in a while",
}


@pytest.fixture(autouse=True, scope="module")
def swept(django_db_setup, django_db_blocker) -> Iterator[None]:
    """Rolled-back rows lie on in PostgreSQL's files, and every later test would read past them."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute("VACUUM")


def test_a_long_book_asks_no_more_of_a_page_than_a_short_one(monkeypatch):
    monkeypatch.setattr(press, "_press", _NoPress)
    assert not unknown_to_seasons()
    lived = lived_through(timezone.localdate())
    short, done, rows = walk_through(SHORT, lived)
    long, done_long, more_rows = walk_through(LONG, lived, known=short)
    growing = {table for table, count in more_rows.items() if count > TIMES / 2 * rows[table]}
    assert {"orders_order", "stock_movement", "orders_paper", "workshop_act"} <= growing
    assert len(long) > 150
    found = [
        f"{name} ({page.path}): {trouble}"
        for name, page in long.items()
        if name not in GROWS and name in short
        for trouble in troubles(short[name], page, growing)
    ]
    found += [
        f"{name}: {len(done[name])} → {len(asked)} statements, {MOST[name]} at most; "
        f"{(Counter(map(form_of, asked)) - Counter(map(form_of, done[name]))).most_common(2)}"
        for name, asked in done_long.items()
        if not len(asked) == len(done[name]) <= MOST[name]
    ]
    assert not found, "\n".join(found)
    assert done_long.keys() == MOST.keys()


def walk_through(
    size: Size, lived: tuple[Rows, Rows], known: dict[str, "Page"] | None = None
) -> tuple[dict[str, "Page"], dict[str, list[str]], Counter[str]]:
    """Every page of a book of this size, what acts ask of it, and how many rows its tables have."""
    with transaction.atomic():
        write_ten_years(size, lived=lived)
        pages, done, rows = walk(known), dict(acts()), count_rows()
        if known is not None:
            for page in pages.values():
                page.scans = list(scans_of(page.queries))
        transaction.set_rollback(True)
    return pages, done, rows


# --- the walk -----------------------------------------------------------------------------------


@dataclass
class Page:
    """What one page asked of the database, and where that reads through a table."""

    path: str
    tries: int  # so many paths of its address had no page
    queries: list[str]
    steps: int
    scans: list[tuple[str, str]] = field(default_factory=list)


def walk(known: dict[str, Page] | None = None) -> dict[str, Page]:
    """Every page that a GET opens, as the owner sees it; of those known, by the same way again."""
    client = Client()
    client.force_login(Person.objects.get(role="owner"))
    keys, pages = Keys(), {}
    for address in every_address():
        if known is None or address.name in known:
            tries = known[address.name].tries if known else 0
            if page := _page(client, address, keys, tries):
                pages[address.name] = page
    return pages


def _page(client: Client, address: Address, keys: "Keys", tries: int) -> Page | None:
    paths = list(paths_of(address, keys.for_address(address)))
    for path in paths[tries:]:
        connection.queries_log.clear()  # it forgets the first where it grows too long
        with transaction.atomic():
            steps = Steps()
            with CaptureQueriesContext(connection) as asked, steps:
                answer = client.get(path)
                found = answer.status_code == 200 and bool(body_of(answer))
            if found:
                # What is asked, and not what is written: now and then a sign-in is prolonged.
                queries = [query["sql"] for query in asked.captured_queries]
                queries = [query for query in queries if query.startswith("SELECT")]
                return Page(path, tries, queries, steps.count)
            transaction.set_rollback(True)
        if answer.status_code == 405:
            return None
        tries += 1
    return None


class Keys:
    """Values for the open pieces of a path; those first whose model the address is named after."""

    def __init__(self) -> None:
        self.latest = {
            model: list(model._default_manager.order_by("-pk").values_list("pk", flat=True)[:2])
            for app in OWN_APPS
            for model in apps.get_app_config(app).get_models()
            if model._meta.pk.get_internal_type() == "BigAutoField"
        }
        self.numbers = list(Sale.objects.values_list("order__number", flat=True)[:1])
        self.keys = list(Order.objects.order_by("-pk").values_list("key", flat=True)[:2])
        for state in ("confirmed", "collected", "draft"):
            orders = Order.objects.filter(state=state).order_by("-pk")
            self.numbers += orders.values_list("number", flat=True)[:2]

    def for_address(self, address: Address) -> dict[str, list[Any]]:
        words = set(re.split("[:_]", address.name))
        nearest = sorted(self.latest, key=lambda model: -len(words & words_of(model)))
        return {
            "pk": list(dict.fromkeys(pk for model in nearest for pk in self.latest[model])),
            "number": self.numbers,
            "key": self.keys,
            "day": [timezone.localdate().isoformat()],
            "figure": ["price"],
            "kind": ["payment", "credit", "invoice"],
        }


def words_of(model: Any) -> set[str]:
    return {word.casefold() for word in re.findall("[A-Z][a-z]+", model.__name__)}


def count_rows() -> Counter[str]:
    counts: Counter[str] = Counter()
    for app in OWN_APPS:
        for model in apps.get_app_config(app).get_models():
            counts[model._meta.db_table] = model._default_manager.count()
    return counts


class Steps:
    """Counts steps of SQLite's machine, the same on every computer; PostgreSQL tells none."""

    EVERY = 100

    def __init__(self) -> None:
        self.count = 0

    def __enter__(self) -> None:
        self._listen(self._more, self.EVERY)

    def __exit__(self, *_error: Any) -> None:
        self._listen(None, 0)

    def _more(self) -> int:
        self.count += self.EVERY
        return 0

    def _listen(self, hear: Any, every: int) -> None:
        if connection.vendor == "sqlite":
            connection.connection.set_progress_handler(hear, every)


class _NoPress:
    """Prints nothing: what a paper asks of the book is known before it is printed."""

    anchors = {"end": (0, 10)}
    fonts = fetcher = style = None

    def html(self, **_page: Any) -> "_NoPress":
        return self

    css = attachment = render = html

    @property
    def pages(self) -> list["_NoPress"]:
        return [self]

    @property
    def metadata(self) -> "_NoPress":
        return self

    def generate_rdf_metadata(self, *_told: Any) -> bytes:
        return b"</rdf:RDF>"

    def write_pdf(self, **_how: Any) -> bytes:
        return b"%PDF-"


# --- what is wrong with a page --------------------------------------------------------------------


def troubles(short: Page, long: Page, growing: set[str]) -> Iterator[str]:
    if len(long.queries) > len(short.queries):
        more = Counter(map(form_of, long.queries)) - Counter(map(form_of, short.queries))
        most = more.most_common(1)
        yield f"{len(short.queries)} → {len(long.queries)} queries, most of all {most}"
    if long.steps > 1.5 * short.steps + FEW_STEPS:
        yield f"{short.steps} → {long.steps} steps"
    for table, query in long.scans:
        if table in growing:
            yield f"reads through {table}: {query}"


def form_of(query: str) -> str:
    """A query without its values."""
    return re.sub(r"'[^']*'|\d+", "#", re.sub(r"\((?:#, )+#\)", "(#)", query))[:400]


def scans_of(queries: list[str]) -> Iterator[tuple[str, str]]:
    """Tables that are read through from one end to the other, with the query."""
    for query in dict.fromkeys(queries):
        if query.startswith("SELECT"):
            plan = sqlite_scans if connection.vendor == "sqlite" else postgres_scans
            for table in plan(query):
                yield table, query


def sqlite_scans(query: str) -> Iterator[str]:
    """By an index of some of the rows it is no table; with a limit, and in order, it ends early."""
    plan = [row[3] for row in connection.connection.execute("EXPLAIN QUERY PLAN " + query)]
    ends_early = " LIMIT " in query and not any("TEMP B-TREE" in step for step in plan)
    for step in plan:
        scan = re.match(r"SCAN (\w+)(?:.* INDEX (\w+))?", step)
        if scan and scan[2] not in _partial() and not ends_early:
            named = re.search(rf'"(\w+)" (?:AS )?"?{scan[1]}"?\b', query)
            yield named[1] if named else scan[1]


@cache
def _partial() -> set[str]:
    found = "SELECT name FROM sqlite_master WHERE type = 'index' AND sql LIKE '% WHERE %'"
    return {name for (name,) in connection.connection.execute(found)}


def postgres_scans(query: str) -> Iterator[str]:
    """What is read through though reading through is forbidden: nothing else would find it."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute("EXPLAIN (FORMAT JSON) " + query.replace("%", "%%"), [])
        plan = cursor.fetchone()[0]
        cursor.execute("SET LOCAL enable_seqscan = on")
    yield from _seq_scans(plan[0]["Plan"], ends_early=False)


def _seq_scans(node: dict[str, Any], *, ends_early: bool) -> Iterator[str]:
    kind = node["Node Type"]
    ends_early = kind == "Limit" or (ends_early and kind not in {"Sort", "Aggregate", "Hash"})
    if kind == "Seq Scan" and not ends_early:
        yield node["Relation Name"]
    for inner in node.get("Plans", []):
        yield from _seq_scans(inner, ends_early=ends_early)
