"""Where stock came from and where it went, read from the book.

Glass of one colour and form lies in one heap, and beads of a batch in one tray; the book says
that the oldest leaves first (the same convention as netting). So the k-th milligram taken from a
place is the k-th that was put there, and each taking has exact layers behind it. Work mixes: each
output holds every input of its colour (or, where the colours are mixed, of all) in proportion to
its glass. Postings that were reversed, and their reversals, cancel and are left out.

Both directions use the same cuts, so a milligram followed from a sack to a strand is found again
when the strand is followed back. Masses are kept as fractions and never rounded on the way.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import QuerySet

from stock.models import Balance, ItemKind, Movement, PlaceKind

NUMBERS = ("pk", "quantity")


def standing() -> QuerySet[Movement]:
    """Movements that were not taken back."""
    return Movement.objects.filter(
        posting__reverses__isnull=True, posting__reversed_by__isnull=True
    )


class _Line:
    """Movements into (or out of) one heap in the order of the book, with running sums."""

    def __init__(self, movements: QuerySet[Movement]) -> None:
        self.keys: list[int] = []
        self.starts: list[int] = []
        self.whole = 0
        for key, quantity in movements.order_by("pk").values_list(*NUMBERS):
            self.keys.append(key)
            self.starts.append(self.whole)
            self.whole += quantity

    def start_of(self, key: int) -> int:
        return self.starts[self.keys.index(key)]

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
    """Follows glass through the book and remembers what it read: 2 queries a heap, 1 a posting."""

    def __init__(self) -> None:
        self._lines: dict[tuple[int, int, str], _Line] = {}
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

    def _behind(self, m: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail):
        outs = self._line(m.item_id, m.from_place_id, "out")
        ins = self._line(m.item_id, m.from_place_id, "in")
        start = outs.start_of(m.pk)
        for key, begin, end in ins.cut(start + low, start + high):
            layer = self._movement(key)
            part = mg * (end - begin) / (high - low)
            trail.by_posting[layer.posting_id] += part
            if layer.from_place.inside:
                self._behind(layer, begin, end, part, trail)
            elif layer.from_place.kind == PlaceKind.IN_WORK:
                self._into(layer, begin, end, part, trail)
            else:
                trail.ends[layer.from_place.kind, "", layer.posting_id] += part

    def _into(self, made: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail):
        taken, given = self._sides(made)
        at, whole = self._span(made, given)
        begin = (at + made.glass_mg * low / made.quantity) / whole
        end = (at + made.glass_mg * high / made.quantity) / whole
        all_in = sum(m.glass_mg for m in taken)
        for m in taken:
            if m.glass_mg:
                share = mg * m.glass_mg / all_in
                self._behind(m, m.quantity * begin, m.quantity * end, share, trail)

    def _after(self, m: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail):
        ins = self._line(m.item_id, m.to_place_id, "in")
        outs = self._line(m.item_id, m.to_place_id, "out")
        start = ins.start_of(m.pk)
        gone = Fraction(0)
        for key, begin, end in outs.cut(start + low, start + high):
            onward = self._movement(key)
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

    def _out_of(self, taken: Movement, low: Fraction, high: Fraction, mg: Fraction, trail: Trail):
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
        moves = self._posting(m.posting_id)
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
        key = (item_id, place_id, way)
        if key not in self._lines:
            field_name = "to_place_id" if way == "in" else "from_place_id"
            rows = standing().filter(item_id=item_id, **{field_name: place_id})
            self._lines[key] = _Line(rows)
        return self._lines[key]

    def _movement(self, key: int) -> Movement:
        if key not in self._movements:
            found = Movement.objects.select_related("item", "from_place", "to_place").get(pk=key)
            self._movements[key] = found
        return self._movements[key]

    def _posting(self, posting_id: int) -> list[Movement]:
        if posting_id not in self._work:
            rows = Movement.objects.filter(posting_id=posting_id).order_by("pk")
            self._work[posting_id] = list(rows.select_related("item", "from_place", "to_place"))
        return self._work[posting_id]


def slices_behind(balance: Balance, quantity: int) -> list[tuple[int, int, int]]:
    """What the next `quantity` to leave a balance was put there by: (posting, part, whole)."""
    at = standing().filter(item_id=balance.item_id)
    outs = _Line(at.filter(from_place_id=balance.place_id))
    ins = _Line(at.filter(to_place_id=balance.place_id))
    start = Fraction(outs.whole)
    cuts = {key: int(end - begin) for key, begin, end in ins.cut(start, start + quantity)}
    found = Movement.objects.in_bulk(cuts)
    return [(found[key].posting_id, part, found[key].quantity) for key, part in cuts.items()]
