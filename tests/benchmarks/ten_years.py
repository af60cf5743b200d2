"""A sound book of any length: some weeks of a workshop, lived through once and written many times.

The weeks are the demo's own, so every row is one that the services wrote. As they stand on their
last day they are the book's present; brought to an end by the services (what is strung is handed
over and paid, what is not is cancelled, what lies about is counted off) they are a season of its
past. Seasons follow one another with keys, numbers and days of their own; in the database, so that
ten years take minutes. `check_book` proves what comes out.
`python -m tests.benchmarks.ten_years 5000` writes one into the database of DATABASE_URL.
"""

import os
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any

if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    django.setup()

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.utils import timezone

from orders import models as orders
from orders.counter.services.collecting import collect_order
from orders.counter.services.ordering import cancel_order
from orders.demo.curves import write_curves
from orders.demo.history import finish, live_days
from orders.demo.money import pay_the_hands
from orders.demo.ready_made import begin
from orders.demo.tickets import write_tickets
from orders.models import Customer, Document, Order, Purchase, Stage, keep_accounts
from orders.money.services.invoices import issue_invoice
from orders.money.services.payment_allocations import spendable
from orders.money.services.payments import free_credits, record_payment, refund
from orders.supplies.services import call_off
from stock import models as stock
from stock.models import Balance, Collector, ItemKind, KilnLoad, Sack, StockLocation
from stock.services.counting import count_shelf
from stock.services.payouts import pay_collector
from workshop.models import AuditEntry, NumberPattern, NumberSequence, Person
from workshop.query_plans import look_at_tables
from workshop.ready_made import OWN_APPS
from workshop.search import find_all_anew

DAYS_LIVED = 24
TEN_YEARS = 3650
# Season after season, keys and printed numbers go up by this; more than a season ever takes.
KEYS, NUMBERS = 20_000, 1_000

# What every season has of its own: all that happened.
LIFE = {
    AuditEntry,
    *(
        stock.Sack, stock.BeadBatch, stock.BeadBatch.remade_from.through, stock.Posting,
        stock.Movement, stock.Charge, stock.StockCount, stock.StrandTag, stock.Payout,
        stock.Preparation, stock.KilnLoad, stock.LoadTray, stock.RejectTally, stock.WorkTicket,
        stock.MouldGone,
    ),
    *(
        orders.FiringCurve, orders.Order, orders.KeptWorking, orders.OrderLine, orders.WorkOrder,
        orders.GlassNeed, orders.StockReservation, orders.LoadShare, orders.Document,
        orders.PassedPaper, orders.DocumentLine, orders.Payment, orders.PaymentAllocation,
        orders.DocumentFile, orders.DrawerCount, orders.PaySlip, orders.PaidWork,
        orders.FiringPlan, orders.FiringSearch, orders.LongPaper, orders.BenchShare,
        orders.StandingTaken,
        orders.StallDay, orders.Sale, orders.SaleReturn, orders.FindingNeed, orders.Purchase,
        orders.BoughtTogether, orders.ShelfTag,
    ),
}  # fmt: skip
# What a growing workshop has more and more of, season by season in turn.
KINDS = {
    stock.Bead, stock.BeadColour, stock.BeadMinutes, orders.StrandDesign, orders.DesignPart,
    orders.DesignPrice,
}  # fmt: skip
# Names and codes that stand once in the book.
NAMED = {
    (stock.Bead, "name"), (stock.Bead, "sorts_as"), (orders.StrandDesign, "name"),
    (orders.StrandDesign, "sorts_as"), (orders.StrandDesign, "code"),
}  # fmt: skip
PRINTED = {
    (orders.Document, "number"), (orders.PaySlip, "number"), (stock.Payout, "number"),
    (orders.Payment, "reference"), (stock.StrandTag, "token"),
}  # fmt: skip
# References by printed number, in words.
NUMBERED = ("order", "batch", "load", "sack", "beadbatch", "kilnload", "preparation")
Rows = dict[type[models.Model], list[tuple]]


@dataclass(frozen=True)
class Size:
    """How much there is of everything: seasons gone by, present weeks, and sets of names."""

    seasons: int
    present: int = 1
    people: int = 1
    kinds: int = 1

    @property
    def days_between(self) -> float:
        """Seasons follow one another, or run side by side where there are too many."""
        return min(DAYS_LIVED + 4, TEN_YEARS / max(1, self.seasons))


TEN_YEARS_SIZE = Size(seasons=5000, present=20, people=48, kinds=18)


def write_ten_years(size: Size, *, lived: tuple[Rows, Rows] | None = None) -> None:
    """Write a book of this size into an empty, migrated one."""
    with transaction.atomic():
        now, season = lived or lived_through(timezone.localdate())
        _Writer(size, now, season).write()
        look_at_tables()


def lived_through(today: date) -> tuple[Rows, Rows]:
    """Every row of the present and of a season that is over; nothing of it stays in the book."""
    with transaction.atomic():
        first = today - timedelta(days=DAYS_LIVED)
        story = begin(first, today)
        live_days(story, first, today)
        finish(story)
        write_tickets(today)
        write_curves()
        pay_the_hands(today + timedelta(days=31), owner=story.owner)
        now = dict(_all_rows())
        _bring_to_an_end()
        season = dict(_all_rows())
        transaction.set_rollback(True)
    return now, season


def _bring_to_an_end() -> None:
    """Nothing is open, planned, owed or left about when a season is over."""
    owner = Person.objects.get(role="owner")
    for order in Order.objects.filter(state=Order.State.CONFIRMED, stage=Stage.STRUNG):
        collect_order(order, person=owner)
        issue_invoice(order, person=owner)
    for order in Order.objects.exclude(state__in=["collected", "cancelled"]):
        cancel_order(order, person=owner, why="The season is over.")
    for paper in Document.objects.open().select_related("customer"):
        record_payment(
            paper.customer, paper.open_amount, person=owner, papers=[(paper, paper.open_amount)]
        )
    for customer in Customer.objects.all():
        if credit := sum(map(spendable, free_credits(customer)), Decimal(0)):
            refund(customer, credit, person=owner)
    for collector in Collector.objects.filter(
        pk__in=Sack.objects.filter(paid_on=None, amount__gt=0).values("collector")
    ):
        pay_collector(collector, person=owner)
    KilnLoad.objects.filter(state=KilnLoad.State.PLANNED).delete()
    for purchase in Purchase.objects.on_their_way():
        call_off(purchase, person=owner)
    for place in StockLocation.objects.filter(inside=True):
        left = Balance.objects.filter(place=place, quantity__gt=0, item__kind=ItemKind.BEADS)
        if found := {row.item: 0 for row in left.select_related("item")}:
            count_shelf(place, found, person=owner, why="The season is over.")


def unknown_to_seasons() -> list[str]:
    """Models that hang on what happened, and that no season takes along: name them in `LIFE`."""
    known = LIFE | {Balance, stock.Item}
    return [
        model.__name__
        for model in _own_models()
        if model not in known
        and any(field.related_model in LIFE for field in model._meta.concrete_fields)
    ]


def _own_models() -> Iterator[type[models.Model]]:
    for app in OWN_APPS:
        yield from apps.get_app_config(app).get_models(include_auto_created=True)


def _all_rows() -> Iterator[tuple[type[models.Model], list[tuple]]]:
    with connection.cursor() as cursor:
        for model in _own_models():
            cursor.execute(f'SELECT {_columns(model)} FROM "{model._meta.db_table}"')
            yield model, [tuple(map(_bound, row)) for row in cursor.fetchall()]


def _bound(value: Any) -> Any:
    """As the database takes it back: SQLite's driver reads an hour, and does not write one."""
    return value.isoformat() if isinstance(value, time) else value


def _columns(model: type[models.Model]) -> str:
    return ", ".join(f'"{field.column}"' for field in model._meta.concrete_fields)


class _Writer:
    """The statements that write a season, or a present, as often as it is wanted."""

    def __init__(self, size: Size, now: Rows, season: Rows) -> None:
        self.size, self.now, self.season = size, now, season
        self.sqlite = connection.vendor == "sqlite"
        items = [field.attname for field in stock.Item._meta.concrete_fields].index("kind")
        self.items = {
            kind: [row[0] for row in now[stock.Item] + season[stock.Item] if row[items] == kind]
            for kind in ItemKind.values
        }

    def write(self) -> None:
        with connection.cursor() as cursor:
            self.cursor = cursor
            self._lay_out_copies()
            for model in _own_models():
                self._write_model(model)
            self._write_balances()
            self._keep_sums()
            find_all_anew()
            self._go_on_counting()

    def _lay_out_copies(self) -> None:
        """Which copy has which names, how long ago it was, and how many went before it.

        Copies of the present stand in the book behind all seasons.
        """
        size = self.size
        self.cursor.execute(
            "CREATE TEMP TABLE copies (n integer, past integer, people integer, kinds integer, "
            "days integer, ahead integer, seasons integer, seasons_kind integer, "
            "presents integer, presents_kind integer)"
        )
        rows = []
        for n in range(size.seasons):
            days = round((size.seasons - n) * size.days_between)
            kinds = n % size.kinds
            rows.append((n, 1, n % size.people, kinds, days, 0, n, n // size.kinds, 0, 0))
        for n in range(size.present):
            kinds = n % size.kinds
            went = len(range(kinds, size.seasons, size.kinds))
            rows.append(
                (size.seasons + n, 0, n % size.people, kinds, 0, 14 * n)
                + (size.seasons, went, n, n // size.kinds)
            )
        self._put("copies", 10, rows)
        for name in ("people", "kinds"):
            self.cursor.execute(
                f"CREATE TEMP TABLE sets_of_{name} (n integer, people integer, kinds integer)"
            )
            sets = range(getattr(size, name))
            rows = [(n, n * (name == "people"), n * (name == "kinds")) for n in sets]
            self._put(f"sets_of_{name}", 3, rows)

    def _put(self, table: str, width: int, rows: Iterable[tuple]) -> None:
        marks = ", ".join(["%s"] * width)
        self.cursor.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)

    def _write_model(self, model: type[models.Model]) -> None:
        if model in {Balance, orders.StockReservation}:
            return  # the one is worked out; the other hangs on it
        if model is stock.Item:
            self._insert(model, self.now[model], "", "kind IN ('glass', 'supply')")
            self._insert(model, self.now[model], "sets_of_kinds", "kind = 'strands'")
        if model in LIFE or model is stock.Item:
            beads = "AND kind = 'beads'" if model is stock.Item else ""
            self._insert(model, self.season[model], "copies", f"past = 1 {beads}")
            self._insert(model, self.now[model], "copies", f"past = 0 {beads}")
        elif model in KINDS:
            self._insert(model, self.now[model], "sets_of_kinds")
        elif model is Customer:
            self._insert(model, self.now[model], "", "nameless")
            self._insert(model, self.now[model], "sets_of_people", "NOT nameless")
        else:
            self._insert(model, self.now[model], "")

    def _insert(
        self, model: type[models.Model], rows: list[tuple], sets: str, where: str = "1 = 1"
    ) -> None:
        table, fields = model._meta.db_table, model._meta.concrete_fields
        self.cursor.execute("DROP TABLE IF EXISTS lived")
        self.cursor.execute(
            f'CREATE TEMP TABLE lived AS SELECT {_columns(model)} FROM "{table}" WHERE 1 = 0'
        )
        if model is stock.Movement:
            for column in ("season_in", "season_out", "present_in", "present_out"):
                self.cursor.execute(f"ALTER TABLE lived ADD COLUMN {column} bigint")
            rows = [(*row, *told) for row, told in zip(rows, self._layers(rows), strict=True)]
        self._put("lived", len(fields) + 4 * (model is stock.Movement), rows)
        values = ", ".join(self._value(model, field, sets) for field in fields)
        source = f"lived, {sets}" if sets else "lived"
        # Seasons side by side have days in common, and a standing order is due once a day; patterns
        # of numbers lie in a book since it was migrated.
        there = model in {orders.StandingTaken, NumberPattern}
        once = " ON CONFLICT DO NOTHING" if there else ""
        self.cursor.execute(
            f'INSERT INTO "{table}" ({_columns(model)}) SELECT {values} FROM {source} '
            f"WHERE {where}" + (f" ORDER BY n, {fields[0].column}" if sets else "") + once
        )

    def _layers(self, rows: list[tuple]) -> Iterator[tuple[int, int, int, int]]:
        """What a season, and a present, adds to the heap a movement goes to and comes from."""
        names = [field.attname for field in stock.Movement._meta.concrete_fields]
        item, went, came, quantity = (
            names.index(n) for n in ("item_id", "from_place_id", "to_place_id", "quantity")
        )
        sums: list[Counter[tuple[int, int, str]]] = []
        for lived in (self.season, self.now):
            sums.append(Counter())
            for row in lived[stock.Movement]:
                sums[-1][row[item], row[came], "in"] += row[quantity]
                sums[-1][row[item], row[went], "out"] += row[quantity]
        for row in rows:
            into, out = (row[item], row[came], "in"), (row[item], row[went], "out")
            yield sums[0][into], sums[0][out], sums[1][into], sums[1][out]

    # --- what stands in a column -----------------------------------------------------------------

    def _value(self, model: type[models.Model], field: models.Field, sets: str) -> str:
        column, key = f'lived."{field.column}"', (model, field.name)
        if not sets:
            return self._standing(model, field, column)
        if model is Customer and field.name in {"name", "sorts_as"}:
            return f"{column} || CASE n WHEN 0 THEN '' ELSE ' ' || n END"
        if key in NAMED or (model is stock.Item and field.name == "name"):
            return (
                f"{column} || CASE kinds WHEN 0 THEN '' ELSE ' ' || kinds END"
                if sets != "copies"
                else column
            )
        if key in PRINTED:
            return f"CASE {column} WHEN '' THEN '' ELSE {column} || '.' || n END"
        if isinstance(field, models.UUIDField):
            return "lower(hex(randomblob(16)))" if self.sqlite else "gen_random_uuid()"
        if field.is_relation:
            return self._way(field.related_model, column)  # type: ignore[arg-type]
        if field.primary_key:
            return self._way(model, column)
        if sets == "copies":
            return self._of_a_copy(model, field, column)
        return column

    def _of_a_copy(self, model: type[models.Model], field: models.Field, column: str) -> str:
        if isinstance(field, models.DateField):  # a moment is one too
            days = "days"
            if model is KilnLoad:
                days = "CASE lived.state WHEN 'planned' THEN days - ahead ELSE days END"
            return self._earlier(field, column, days)
        if field.name in {"number", "sequence"} and isinstance(field, models.IntegerField):
            return f"{column} + n * {NUMBERS}"
        if field.name in {"belongs_ref", "subject_ref"}:
            return self._reference(model, column)
        if model is stock.Movement and field.name.startswith("cumulative"):
            way = field.name.removeprefix("cumulative")
            shared, strands = self._are("glass", "supply"), self._are("strands")
            return (
                f"{column} + CASE "
                f"WHEN {shared} THEN seasons * season{way} + presents * present{way} "
                f"WHEN {strands} THEN seasons_kind * season{way} + presents_kind * present{way} "
                "ELSE 0 END"
            )
        return column

    def _are(self, *kinds: str, column: str = 'lived."item_id"') -> str:
        items = {0, *(item for kind in kinds for item in self.items[kind])}
        return f"{column} IN ({', '.join(map(str, items))})"

    def _way(self, model: type[models.Model], column: str) -> str:
        """A key, as it is in this copy."""
        if model is stock.Item:
            strands = self._are("strands", column=column)
            shared = self._are("glass", "supply", column=column)
            return (
                f"CASE WHEN {shared} THEN {column} "
                f"WHEN {strands} THEN {column} + kinds * {KEYS} ELSE {column} + n * {KEYS} END"
            )
        if model is Balance:
            return (
                f"(SELECT b.id FROM stock_balance AS b, lived_balances AS l WHERE l.id = {column} "
                f"AND b.item_id = {self._way(stock.Item, 'l.item_id')} AND b.place_id = l.place_id)"
            )
        if model in LIFE:
            return f"{column} + n * {KEYS}"
        if model in KINDS:
            return f"{column} + kinds * {KEYS}"
        if model is Customer:
            nameless = self._nameless()
            return (
                f"CASE {column} WHEN {nameless} THEN {column} ELSE {column} + people * {KEYS} END"
            )
        return column

    def _nameless(self) -> int:
        at = [field.name for field in Customer._meta.concrete_fields].index("nameless")
        return next((row[0] for row in self.now[Customer] if row[at]), 0)

    def _earlier(self, field: models.Field, column: str, days: str) -> str:
        if not self.sqlite:
            moment = isinstance(field, models.DateTimeField)
            return f"{column} - ({days})" + (" * interval '1 day'" if moment else "")
        return f"date(substr({column}, 1, 10), -({days}) || ' days') || substr({column}, 11)"

    def _standing(self, model: type[models.Model], field: models.Field, column: str) -> str:
        """Rates and prices have stood since the first season."""
        if field.name == "valid_from":
            return self._earlier(
                field, column, str(round(self.size.seasons * self.size.days_between))
            )
        last = (self.size.seasons + self.size.present - 1) * NUMBERS
        return (
            f"{column} + {last}"
            if (model, field.name) == (NumberSequence, "next_number")
            else column
        )

    def _reference(self, model: type[models.Model], column: str) -> str:
        numbered = ", ".join(f"'{word}'" for word in NUMBERED)
        if model is stock.WorkTicket:  # "batch 12"
            space = f"instr({column}, ' ')" if self.sqlite else f"strpos({column}, ' ')"
            number = f"CAST(substr({column}, {space} + 1) AS integer) + n * {NUMBERS}"
            return (
                f"CASE {column} WHEN '' THEN '' ELSE substr({column}, 1, {space}) || ({number}) END"
            )
        kind = 'lived."belongs_kind"' if model is stock.Posting else 'lived."subject_kind"'
        digits = f"{column} GLOB '[0-9]*'" if self.sqlite else f"{column} ~ '^[0-9]+$'"
        number = f"CAST(CAST({column} AS integer) + n * {NUMBERS} AS text)"
        return f"CASE WHEN {kind} IN ({numbered}) AND {digits} THEN {number} ELSE {column} END"

    # --- what is kept beside the rows ------------------------------------------------------------

    def _write_balances(self) -> None:
        """Balances are worked out from the movements, as `check_book` does."""
        self.cursor.execute(
            """
            INSERT INTO stock_balance
                (item_id, place_id, inside, quantity, reserved, come, glass_mg, value)
            SELECT item_id, place_id, p.inside, SUM(quantity), 0, SUM(come), SUM(glass_mg),
                   SUM(value)
            FROM (
                SELECT item_id, to_place_id AS place_id, quantity, quantity AS come, glass_mg, value
                FROM stock_movement
                UNION ALL
                SELECT item_id, from_place_id, -quantity, 0, -glass_mg, -value FROM stock_movement
                UNION ALL
                SELECT item_id, place_id, 0, 0, 0, amount FROM stock_charge
                WHERE item_id IS NOT NULL
            ) AS sides JOIN stock_place AS p ON p.id = place_id
            GROUP BY item_id, place_id, p.inside
            """
        )
        self.cursor.execute(
            "CREATE TEMP TABLE lived_balances (id bigint, item_id bigint, place_id bigint)"
        )
        names = [field.attname for field in Balance._meta.concrete_fields]
        item, place = names.index("item_id"), names.index("place_id")
        held = [(row[0], row[item], row[place]) for row in self.now[Balance]]
        self._put("lived_balances", 3, held)
        self._insert(
            orders.StockReservation, self.now[orders.StockReservation], "copies", "past = 0"
        )
        self.cursor.execute(
            "UPDATE stock_balance SET reserved = (SELECT SUM(quantity) FROM orders_allocation "
            "WHERE balance_id = stock_balance.id) "
            "WHERE id IN (SELECT balance_id FROM orders_allocation)"
        )

    def _keep_sums(self) -> None:
        """What is kept of people, as the acts would have left it."""
        keep_accounts(Customer.objects.values_list("pk", flat=True))
        for field in ("brought", "owed", "paid"):
            at = [each.name for each in Collector._meta.concrete_fields].index(field)
            for now, season in zip(self.now[Collector], self.season[Collector], strict=True):
                kept = now[at] * self.size.present + season[at] * self.size.seasons
                self.cursor.execute(
                    f'UPDATE stock_collector SET "{field}" = %s WHERE id = %s', [kept, now[0]]
                )

    def _go_on_counting(self) -> None:
        """Rows written with keys of their own leave PostgreSQL's counters behind."""
        for statement in connection.ops.sequence_reset_sql(no_style(), list(_own_models())):
            self.cursor.execute(statement)
        for table in ("lived", "lived_balances", "copies", "sets_of_people", "sets_of_kinds"):
            self.cursor.execute(f"DROP TABLE {table}")


if __name__ == "__main__":
    from django.core.management import call_command

    call_command("migrate", verbosity=0, skip_checks=True)
    seasons = int(sys.argv[1])
    share = seasons / TEN_YEARS_SIZE.seasons
    given: dict[str, Any] = {
        name: max(1, round(getattr(TEN_YEARS_SIZE, name) * share)) for name in ("people", "kinds")
    }
    write_ten_years(Size(seasons, present=int((sys.argv[2:] or ["1"])[0]), **given))
