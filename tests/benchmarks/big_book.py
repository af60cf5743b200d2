"""A sound book of any length, written straight into the tables.

Each round is one small life of glass: a sack, its preparation, a batch moulded and sorted, a
strand strung and sold. It is what the services would have written, only faster.
`python -m tests.benchmarks.big_book 100000` writes one into the database of DATABASE_URL.
"""

import os
import sys
from datetime import date, timedelta

if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
    django.setup()

from django.core.management.color import no_style
from django.db import connection, transaction
from django.utils import timezone

from stock.models import Balance, BeadBatch, Item, Movement, Posting
from stock.services.places import glass_item, strand_item, usual_place
from tests.builders import make_bead, make_colour, make_person
from workshop.query_plans import look_at_tables

PER_ROUND = 14
RAW_MG, POWDER_MG, BEADS, BEAD_MG, GOOD = 10_000, 9_000, 8, 1_000, 7
FIRST_DAY = date(2020, 1, 1)


def fill_book(movements: int) -> None:
    """Write at least `movements` movements, with their balances."""
    rounds = -(-movements // PER_ROUND)
    _Writer(rounds).write()
    look_at_tables()


class _Writer:
    def __init__(self, rounds: int) -> None:
        self.rounds = rounds
        self.person = make_person().pk
        self.bead = make_bead("Long-lived")
        colours = [make_colour(name) for name in ("green", "amber", "cobalt", "clear")]
        forms = ("raw", "powder", "rejects")
        self.glass = [{form: glass_item(c, form).pk for form in forms} for c in colours]
        self.strands = [strand_item(f"Strand {n}").pk for n in range(20)]
        kinds = ("collectors", "yard", "glass", "work", "lost", "bench", "beads", "strands", "sold")
        self.at = {kind: usual_place(kind) for kind in kinds}
        self.posting = Posting.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        self.item = Item.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        self.sums: dict[tuple[int, str], list[int]] = {}

    @transaction.atomic
    def write(self) -> None:
        for start in range(0, self.rounds, 2000):
            self._chunk(range(start, min(start + 2000, self.rounds)))
        outside = {"collectors", "work", "lost", "sold"}
        Balance.objects.bulk_create(
            (
                Balance(
                    item_id=item, place=self.at[kind], inside=kind not in outside,
                    quantity=come - gone, glass_mg=glass, come=come,
                )
                for (item, kind), (come, gone, glass) in self.sums.items()
            ),
            batch_size=2000,
        )  # fmt: skip
        _go_on_counting_from_here()

    def _chunk(self, rounds: range) -> None:
        now = timezone.now()
        batches, items, postings, moves = [], [], [], []
        for n in rounds:
            self.item += 1
            day = FIRST_DAY + timedelta(days=n * 2000 // self.rounds)
            number = 1_000_000 + n
            batches.append((number, number, self.bead.pk, day, BEADS, GOOD, 1, ""))
            items.append((self.item, "beads", f"batch {number}", "", "", "", number))
            for kind, lines in self._life(n):
                self.posting += 1
                key = f"{self.posting:032x}"
                postings.append((self.posting, key, kind, day, now, self.person, "a round", "", ""))
                for item, source, target, quantity, glass, loss in lines:
                    ids = (self.at[source].pk, self.at[target].pk)
                    before = (
                        self._leave(item, source, quantity, glass),
                        self._come(item, target, quantity, glass),
                    )
                    moves.append(
                        (self.posting, item, *ids, quantity, glass, 0, loss, *before, False)
                    )
        _insert("stock_beadbatch", "id number bead_id made_on started good rejected note", batches)
        _insert("stock_item", "id kind name form mark use batch_id", items)
        columns = "id key kind on posted_at person_id why belongs_kind belongs_ref"
        _insert("stock_posting", columns, postings)
        columns = "posting_id item_id from_place_id to_place_id quantity glass_mg value loss"
        columns += " cumulative_out cumulative_in undoing"
        _insert("stock_movement", columns, moves)

    def _leave(self, item: int, kind: str, quantity: int, glass: int) -> int:
        """All that had left before; then this has left too."""
        row = self.sums.setdefault((item, kind), [0, 0, 0])
        row[1] += quantity
        row[2] -= glass
        return row[1] - quantity

    def _come(self, item: int, kind: str, quantity: int, glass: int) -> int:
        row = self.sums.setdefault((item, kind), [0, 0, 0])
        row[0] += quantity
        row[2] += glass
        return row[0] - quantity

    def _life(self, n: int):
        """Posting kinds with their movements: item, from, to, quantity, glass, loss."""
        glass, beads = self.glass[n % 4], self.item
        raw, powder, rejects = glass["raw"], glass["powder"], glass["rejects"]
        lost, filled = RAW_MG - POWDER_MG, BEADS * BEAD_MG
        spilt, each = POWDER_MG - filled, BEAD_MG
        good_mg = GOOD * each - 70
        strand = self.strands[n % 20]
        yield "sack", [(raw, "collectors", "yard", RAW_MG, RAW_MG, "")]
        yield (
            "preparation",
            [
                (raw, "yard", "work", RAW_MG, RAW_MG, ""),
                (powder, "work", "glass", POWDER_MG, POWDER_MG, ""),
                (raw, "work", "lost", lost, lost, "dust"),
            ],
        )
        yield (
            "moulding",
            [
                (powder, "glass", "work", POWDER_MG, POWDER_MG, ""),
                (beads, "work", "bench", BEADS, filled, ""),
                (powder, "work", "lost", spilt, spilt, "spill"),
            ],
        )
        yield (
            "finishing",
            [
                (beads, "bench", "work", BEADS, filled, ""),
                (beads, "work", "beads", GOOD, good_mg, ""),
                (rejects, "work", "glass", each, each, ""),
                (powder, "work", "lost", 70, 70, "polishing"),
            ],
        )
        yield (
            "stringing",
            [
                (beads, "beads", "work", GOOD, good_mg, ""),
                (strand, "work", "strands", 1, good_mg, ""),
            ],
        )
        yield "collection", [(strand, "strands", "sold", 1, good_mg, "")]


def _insert(table: str, columns: str, rows: list[tuple]) -> None:
    names = ", ".join(f'"{name}"' for name in columns.split())
    marks = ", ".join(["%s"] * len(columns.split()))
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)


def _go_on_counting_from_here() -> None:
    """Rows written with a number of their own leave PostgreSQL's counters behind."""
    statements = connection.ops.sequence_reset_sql(no_style(), (BeadBatch, Item, Posting, Movement))
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def count_movements() -> int:
    return Movement.objects.count()


if __name__ == "__main__":
    from django.core.management import call_command

    call_command("migrate", verbosity=0, skip_checks=True)
    fill_book(int(sys.argv[1]))
