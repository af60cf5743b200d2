"""Layers of a heap, found by the running sums that every movement carries.

All glass of one colour and form in a place is one heap, and so are a batch's beads on a tray. The
book says that the oldest leaves first, so a part of a heap is told by two positions along all that
ever came there (or ever left). Each movement keeps its own position, and an index finds the layers
between two positions without reading what lies before or after them.

Movements that were taken back, and those that took them back, are left out: positions are counted
along the movements that stand. There are few of the others, and they are read by item.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import accumulate
from math import ceil, floor
from typing import Any, NamedTuple

from django.db import connection

from stock.models import Movement, StockLocation

IN, OUT = "in", "out"
# The end of a movement that lies in the heap, and its position along all that came or went there.
COLUMNS = {IN: ("to_place_id", "cumulative_in"), OUT: ("from_place_id", "cumulative_out")}
AT_ONCE = 100  # ranges in one statement; SQLite takes 500


class Passing(NamedTuple):
    """A movement as the trails read it."""

    pk: int
    posting: int
    item: int
    source: int
    target: int
    quantity: int
    glass_mg: int
    loss: str
    cumulative_out: int
    cumulative_in: int
    kind: str
    colour: int | None


class Part(NamedTuple):
    """A part of a heap: from one position to another along all that came (or left) and stands."""

    item: int
    place: int
    start: Fraction
    end: Fraction


Cut = list[tuple[Passing, Fraction, Fraction]]
"""Movements of a part, each with where the part begins and ends within the movement."""

FIELDS = """m.id, m.posting_id, m.item_id, m.from_place_id, m.to_place_id, m.quantity,
    m.glass_mg, m.loss, m.cumulative_out, m.cumulative_in, i.kind, i.colour_id"""
LAYERS = """
    SELECT {fields} FROM stock_movement AS m JOIN stock_item AS i ON i.id = m.item_id
    WHERE m.item_id = %s AND m.{place} = %s AND m.{before} < %s AND m.{before} >= COALESCE(
        (SELECT MAX(x.{before}) FROM stock_movement AS x
         WHERE x.item_id = %s AND x.{place} = %s AND x.{before} <= %s), 0)
"""
# CROSS JOIN keeps SQLite to this order: from the few that undo to what they undid.
UNDONE = """
    SELECT {fields} FROM stock_movement AS m JOIN stock_item AS i ON i.id = m.item_id
    WHERE m.undoing AND m.item_id IN ({items})
    UNION
    SELECT {fields} FROM stock_movement AS r CROSS JOIN stock_posting AS p
    CROSS JOIN stock_movement AS m JOIN stock_item AS i ON i.id = m.item_id
    WHERE r.undoing AND r.item_id IN ({items})
      AND p.id = r.posting_id AND m.posting_id = p.reverses_id AND m.item_id = r.item_id
"""
OF_POSTINGS = """
    SELECT {fields} FROM stock_movement AS m JOIN stock_item AS i ON i.id = m.item_id
    WHERE m.posting_id IN ({postings}) ORDER BY m.id
"""


def passing(movement: Movement) -> Passing:
    """A movement in hand, with its item, as the trails read it."""
    return Passing(
        movement.pk,
        movement.posting_id,
        movement.item_id,
        movement.from_place_id,
        movement.to_place_id,
        movement.quantity,
        movement.glass_mg,
        movement.loss,
        movement.cumulative_out,
        movement.cumulative_in,
        movement.item.kind,
        movement.item.colour_id,
    )


class _Gaps:
    """Positions of one heap that movements took which do not stand."""

    def __init__(self, spans: Iterable[tuple[int, int]]) -> None:
        spans = sorted(spans)
        self.starts = [start for start, _width in spans]
        self.before = [0, *accumulate(width for _start, width in spans)]
        # Where each gap lies when the gaps before it are left out.
        self.closed = [
            start - gone for start, gone in zip(self.starts, self.before[:-1], strict=True)
        ]

    def closed_up(self, position: int) -> int:
        """A position of the book along the movements that stand."""
        return position - self.before[bisect_left(self.starts, position)]

    def first_of_book(self, position: Fraction) -> int:
        return floor(position) + self.before[bisect_right(self.closed, position)]

    def last_of_book(self, position: Fraction) -> int:
        return ceil(position) + self.before[bisect_left(self.closed, position)]

    @property
    def width(self) -> int:
        return self.before[-1]


class Heaps:
    """Reads the book by heaps, and remembers what does not stand of the items it met."""

    def __init__(self) -> None:
        self.places = StockLocation.objects.in_bulk()
        self._known: set[int] = set()
        self._undone: set[int] = set()
        self._gaps: dict[tuple[int, int, str], _Gaps] = {}

    def meet(self, items: Iterable[int]) -> None:
        """Read what does not stand of items not met before (1 query at most)."""
        new = sorted(set(items) - self._known)
        if not new:
            return
        self._known |= set(new)
        marks = ", ".join(["%s"] * len(new))
        spans: dict[tuple[int, int, str], list[tuple[int, int]]] = defaultdict(list)
        for m in _read(UNDONE.format(fields=FIELDS, items=marks), [*new, *new]):
            self._undone.add(m.pk)
            spans[m.item, m.target, IN].append((m.cumulative_in, m.quantity))
            spans[m.item, m.source, OUT].append((m.cumulative_out, m.quantity))
        self._gaps |= {heap: _Gaps(each) for heap, each in spans.items()}

    def start_in(self, m: Passing) -> int:
        """Where a movement begins along what came to the place it goes to."""
        return self._gap(m.item, m.target, IN).closed_up(m.cumulative_in)

    def start_out(self, m: Passing) -> int:
        """Where a movement begins along what left the place it comes from."""
        return self._gap(m.item, m.source, OUT).closed_up(m.cumulative_out)

    def gone(self, item: int, place: int, ever: int) -> int:
        """All that left a place and stands, of all that `ever` left it."""
        self.meet([item])
        return ever - self._gap(item, place, OUT).width

    def cut(self, way: str, parts: Sequence[Part]) -> list[Cut]:
        """The movements of each part, in or out of its heap (1 query for every 100 ranges)."""
        self.meet(part.item for part in parts)
        layers: dict[tuple[int, int], list[Passing]] = defaultdict(list)
        for m in self._layers(way, self._ranges(way, parts)):
            if m.pk not in self._undone:
                layers[m.item, m.target if way == IN else m.source].append(m)
        starts = {
            heap: [self.start_in(m) if way == IN else self.start_out(m) for m in each]
            for heap, each in layers.items()
        }
        return [
            _within(part, layers[part.item, part.place], starts.get((part.item, part.place), []))
            for part in parts
        ]

    def of_postings(self, postings: Iterable[int]) -> dict[int, list[Passing]]:
        """Every movement of some postings, in their order (1 query)."""
        wanted = sorted(set(postings))
        found: dict[int, list[Passing]] = defaultdict(list)
        if wanted:
            marks = ", ".join(["%s"] * len(wanted))
            for m in _read(OF_POSTINGS.format(fields=FIELDS, postings=marks), wanted):
                found[m.posting].append(m)
        return found

    def _gap(self, item: int, place: int, way: str) -> _Gaps:
        return self._gaps.get((item, place, way)) or _Gaps(())

    def _ranges(self, way: str, parts: Sequence[Part]) -> list[tuple[int, int, int, int]]:
        """Positions of the book that the parts lie in; parts that touch are read as one."""
        spans = sorted(
            (part.item, part.place, gap.first_of_book(part.start), gap.last_of_book(part.end))
            for part in parts
            for gap in (self._gap(part.item, part.place, way),)
        )
        found: list[tuple[int, int, int, int]] = []
        for item, place, first, last in spans:
            if found and found[-1][:2] == (item, place) and first <= found[-1][3]:
                found[-1] = (item, place, found[-1][2], max(last, found[-1][3]))
            else:
                found.append((item, place, first, last))
        return found

    def _layers(self, way: str, ranges: Sequence[tuple[int, int, int, int]]) -> list[Passing]:
        place, before = COLUMNS[way]
        one = LAYERS.format(fields=FIELDS, place=place, before=before)
        found: dict[int, Passing] = {}
        for start in range(0, len(ranges), AT_ONCE):
            some = ranges[start : start + AT_ONCE]
            params = [
                value
                for item, where, first, last in some
                for value in (item, where, last, item, where, first)
            ]
            for m in _read(" UNION ALL ".join([one] * len(some)), params):
                found[m.pk] = m
        return [found[pk] for pk in sorted(found)]


def _within(part: Part, layers: Sequence[Passing], starts: Sequence[int]) -> Cut:
    at = max(0, bisect_right(starts, part.start) - 1)
    found: Cut = []
    while at < len(layers) and starts[at] < part.end:
        begin = Fraction(starts[at])
        low = max(part.start, begin)
        high = min(part.end, begin + layers[at].quantity)
        if low < high:
            found.append((layers[at], low - begin, high - begin))
        at += 1
    return found


def _read(sql: str, params: Sequence[Any]) -> list[Passing]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return [Passing(*row) for row in cursor.fetchall()]
