"""Where stock came from and where it went, read from the book.

Glass of one colour and form lies in one heap, and beads of a batch in one tray; the book says
that the oldest leaves first (the same convention as netting). So the k-th milligram taken from a
place is the k-th that was put there, and each taking has exact layers behind it. Work mixes: each
output holds every input of its colour (or, where the colours are mixed, of all) in proportion to
its glass. Postings that were reversed, and their reversals, cancel and are left out.

Both directions use the same cuts, so a milligram followed from a sack to a strand is found again
when the strand is followed back. Masses are kept as fractions and never rounded on the way.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import QuerySet

from stock.models import Balance, ItemKind, Movement, PlaceKind


def standing() -> QuerySet[Movement]:
    """Movements that were not taken back."""
    return Movement.objects.filter(
        posting__reverses__isnull=True, posting__reversed_by__isnull=True
    )


class _Line:
    """Movements into (or out of) one heap in the order of the book, with running sums."""

    def __init__(self) -> None:
        self.keys: list[int] = []
        self.starts: list[int] = []
        self.whole = 0

    def add(self, key: int, quantity: int) -> None:
        self.keys.append(key)
        self.starts.append(self.whole)
        self.whole += quantity

    def start_of(self, key: int) -> int:
        return self.starts[bisect_left(self.keys, key)]

    def cut(self, start: Fraction, end: Fraction) -> Iterator[tuple[int, Fraction, Fraction]]:
        """(movement, from, to) of each movement within [start, end), counted in the movement."""
        place = max(0, bisect_right(self.starts, start) - 1)
        while place < len(self.keys) and self.starts[place] < end:
            begin = Fraction(self.starts[place])
            stop = Fraction(self.starts[place + 1] if place + 1 < len(self.keys) else self.whole)
            low, high = max(start, begin), min(end, stop)
            if low < high:
                yield self.keys[place], low - begin, high - begin
            place += 1


@dataclass
class Trail:
    """Milligrams of glass by the posting they passed through, and where they ended."""

    by_posting: dict[int, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    ends: dict[tuple[str, str, int], Fraction] = field(
        default_factory=lambda: defaultdict(Fraction)
    )
    """By (place kind, name of the loss, posting); posting 0 is what still lies there."""

    @property
    def whole_mg(self) -> Fraction:
        return sum(self.ends.values(), Fraction(0))


class Tracker:
    """Follows glass through the book and remembers what it read.

    1 query for each item met, 1 for each cut through a heap and 1 for the work behind the cut.
    """

    def __init__(self) -> None:
        self._lines: dict[int, dict[tuple[int, str], _Line]] = {}
        self._movements: dict[int, Movement] = {}
        self._work: dict[int, list[Movement]] = {}

    def back(self, movement: Movement, quantity: int | None = None) -> Trail:
        """What a movement took, followed back to the sacks (or the opening stock)."""
        trail = Trail()
        whole = Fraction(movement.quantity if quantity is None else quantity)
        mg = Fraction(movement.glass_mg) * whole / movement.quantity
        self._behind(movement, Fraction(0), whole, mg, trail)
        return trail

    def back_from_work(self, movement: Movement) -> Trail:
        """What came out of work, followed back from its posting on."""
        trail = Trail()
        trail.by_posting[movement.posting_id] += movement.glass_mg
        whole = Fraction(movement.quantity)
        self._into(movement, Fraction(0), whole, Fraction(movement.glass_mg), trail)
        return trail

    def forward(self, movement: Movement) -> Trail:
        """What a movement put somewhere, followed on to where it is now."""
        trail = Trail()
        whole = Fraction(movement.quantity)
        self._after(movement, Fraction(0), whole, Fraction(movement.glass_mg), trail)
        return trail

    def _behind(
        self, m: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail
    ) -> None:
        outs = self._line(m.item_id, m.from_place_id, "out")
        ins = self._line(m.item_id, m.from_place_id, "in")
        start = outs.start_of(m.pk)
        for layer, begin, end in self._cut(ins, start + low, start + high):
            part = mg * (end - begin) / (high - low)
            trail.by_posting[layer.posting_id] += part
            if layer.from_place.inside:
                self._behind(layer, begin, end, part, trail)
            elif layer.from_place.kind == PlaceKind.IN_WORK:
                self._into(layer, begin, end, part, trail)
            else:
                trail.ends[layer.from_place.kind, "", layer.posting_id] += part

    def _into(
        self, made: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail
    ) -> None:
        taken, given = self._sides(made)
        at, whole = self._span(made, given)
        begin = (at + made.glass_mg * low / made.quantity) / whole
        end = (at + made.glass_mg * high / made.quantity) / whole
        all_in = sum(m.glass_mg for m in taken)
        for m in taken:
            if m.glass_mg:
                share = mg * m.glass_mg / all_in
                self._behind(m, m.quantity * begin, m.quantity * end, share, trail)

    def _after(
        self, m: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail
    ) -> None:
        ins = self._line(m.item_id, m.to_place_id, "in")
        outs = self._line(m.item_id, m.to_place_id, "out")
        start = ins.start_of(m.pk)
        gone = Fraction(0)
        for onward, begin, end in self._cut(outs, start + low, start + high):
            part = mg * (end - begin) / (high - low)
            gone += end - begin
            trail.by_posting[onward.posting_id] += part
            if onward.to_place.inside:
                self._after(onward, begin, end, part, trail)
            elif onward.to_place.kind == PlaceKind.IN_WORK:
                self._out_of(onward, begin, end, part, trail)
            else:
                trail.ends[onward.to_place.kind, onward.loss, onward.posting_id] += part
        if gone < high - low:
            left = mg * (high - low - gone) / (high - low)
            trail.ends[m.to_place.kind, "", 0] += left

    def _out_of(
        self, taken: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail
    ) -> None:
        begin, end = low / taken.quantity, high / taken.quantity
        _taken, given = self._sides(taken)
        whole = sum(m.glass_mg for m in given)
        at = Fraction(0)
        for m in given:
            span = Fraction(m.glass_mg) / whole
            a, b = max(begin, at), min(end, at + span)
            at += span
            if a >= b:
                continue
            part = mg * (b - a) / (end - begin)
            if m.to_place.inside:
                inner = at - span
                scale = m.quantity / span
                self._after(m, (a - inner) * scale, (b - inner) * scale, part, trail)
            else:
                trail.ends[m.to_place.kind, m.loss, m.posting_id] += part

    def _sides(self, m: Movement) -> tuple[list[Movement], list[Movement]]:
        """What went into the work and what came out of it; of the same colour where that tells."""
        moves = self._posting(m)
        taken = [each for each in moves if each.to_place.kind == PlaceKind.IN_WORK]
        given = [each for each in moves if each.from_place.kind == PlaceKind.IN_WORK]
        of_glass = all(each.item.kind == ItemKind.GLASS for each in moves)
        colours = {each.item.colour_id for each in taken}
        if of_glass and {each.item.colour_id for each in given} <= colours:
            mine = m.item.colour_id
            taken = [each for each in taken if each.item.colour_id == mine]
            given = [each for each in given if each.item.colour_id == mine]
        return taken, given

    @staticmethod
    def _span(made: Movement, given: list[Movement]) -> tuple[int, int]:
        """Where the glass of an output begins among all that came out, and how much that is."""
        at = sum(m.glass_mg for m in given if m.pk < made.pk)
        return at, sum(m.glass_mg for m in given)

    def _line(self, item_id: int, place_id: int, way: str) -> _Line:
        if item_id not in self._lines:
            self._lines[item_id] = lines_of(item_id)
        return self._lines[item_id].setdefault((place_id, way), _Line())

    def _cut(
        self, line: _Line, start: Fraction, end: Fraction
    ) -> list[tuple[Movement, Fraction, Fraction]]:
        """The movements of a cut with their parts, read together with the work around them."""
        cuts = list(line.cut(start, end))
        unread = [key for key, _begin, _end in cuts if key not in self._movements]
        if unread:
            rows = Movement.objects.select_related("item", "from_place", "to_place")
            found = rows.in_bulk(unread)
            self._movements |= found
            self._read_work(found.values())
        return [(self._movements[key], begin, end) for key, begin, end in cuts]

    def _read_work(self, movements: Iterable[Movement]) -> None:
        kinds = {PlaceKind.IN_WORK}
        postings = {
            m.posting_id
            for m in movements
            if {m.from_place.kind, m.to_place.kind} & kinds and m.posting_id not in self._work
        }
        if postings:
            rows = Movement.objects.filter(posting_id__in=postings).order_by("pk")
            for m in rows.select_related("item", "from_place", "to_place"):
                self._work.setdefault(m.posting_id, []).append(m)

    def _posting(self, movement: Movement) -> list[Movement]:
        if movement.posting_id not in self._work:
            self._read_work([movement])
        return self._work[movement.posting_id]


def lines_of(item_id: int) -> dict[tuple[int, str], _Line]:
    """What went into and out of every place of an item, by (place, "in" or "out") (1 query)."""
    lines: dict[tuple[int, str], _Line] = {}
    rows = standing().filter(item_id=item_id).order_by("pk")
    for key, quantity, source, target in rows.values_list(
        "pk", "quantity", "from_place_id", "to_place_id"
    ):
        lines.setdefault((source, "out"), _Line()).add(key, quantity)
        lines.setdefault((target, "in"), _Line()).add(key, quantity)
    return lines


def slices_behind(balance: Balance, quantity: int) -> list[tuple[int, int, int]]:
    """What the next `quantity` to leave a balance was put there by: (posting, part, whole)."""
    lines = lines_of(balance.item_id)
    outs = lines.get((balance.place_id, "out"), _Line())
    ins = lines.get((balance.place_id, "in"), _Line())
    start = Fraction(outs.whole)
    cuts = {key: int(end - begin) for key, begin, end in ins.cut(start, start + quantity)}
    found = Movement.objects.in_bulk(cuts)
    return [(found[key].posting_id, part, found[key].quantity) for key, part in cuts.items()]
