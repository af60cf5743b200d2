"""The trail worked out the long way: the whole life of every heap is read and cut in memory.

Plain and slow, written before the book kept running sums; the quick trail must agree with it to
the last fraction of a milligram.
"""

from collections import defaultdict
from fractions import Fraction

from stock.models import ItemKind, LocationKind
from stock.trail import standing


def back(movement):
    """(milligrams by posting, ends) of what a movement took, layer by layer."""
    trail = defaultdict(Fraction), defaultdict(Fraction)
    whole = Fraction(movement.quantity)
    _behind(movement, Fraction(0), whole, Fraction(movement.glass_mg), *trail)
    return trail


def forward(movement):
    trail = defaultdict(Fraction), defaultdict(Fraction)
    whole = Fraction(movement.quantity)
    _after(movement, Fraction(0), whole, Fraction(movement.glass_mg), *trail)
    return trail


def _heap(item_id, place_id, way):
    place = "to_place_id" if way == "in" else "from_place_id"
    rows = standing().filter(item_id=item_id, **{place: place_id}).order_by("pk")
    return list(rows.select_related("item", "from_place", "to_place"))


def _start(m, way):
    place_id = m.to_place_id if way == "in" else m.from_place_id
    return sum(each.quantity for each in _heap(m.item_id, place_id, way) if each.pk < m.pk)


def _cut(heap, start, end):
    at = Fraction(0)
    for m in heap:
        low, high = max(start, at), min(end, at + m.quantity)
        if low < high:
            yield m, low - at, high - at
        at += m.quantity


def _behind(m, low, high, mg, by_posting, ends):
    start = _start(m, "out")
    ins = _heap(m.item_id, m.from_place_id, "in")
    for layer, begin, end in _cut(ins, start + low, start + high):
        part = mg * (end - begin) / (high - low)
        by_posting[layer.posting_id] += part
        if _passed_on(layer.from_place):
            _behind(layer, begin, end, part, by_posting, ends)
        elif layer.from_place.kind == LocationKind.IN_WORK:
            _into(layer, begin, end, part, by_posting, ends)
        else:
            ends[layer.from_place.kind, "", layer.posting_id] += part


def _into(made, low, high, mg, by_posting, ends):
    taken, given = _sides(made)
    at, whole = sum(m.glass_mg for m in given if m.pk < made.pk), sum(m.glass_mg for m in given)
    begin = (at + made.glass_mg * low / made.quantity) / whole
    end = (at + made.glass_mg * high / made.quantity) / whole
    all_in = sum(m.glass_mg for m in taken)
    for m in taken:
        if m.glass_mg and begin < end:
            part = mg * m.glass_mg / all_in
            _behind(m, m.quantity * begin, m.quantity * end, part, by_posting, ends)


def _after(m, low, high, mg, by_posting, ends):
    start, gone = _start(m, "in"), Fraction(0)
    outs = _heap(m.item_id, m.to_place_id, "out")
    for onward, begin, end in _cut(outs, start + low, start + high):
        part = mg * (end - begin) / (high - low)
        gone += end - begin
        by_posting[onward.posting_id] += part
        if _passed_on(onward.to_place):
            _after(onward, begin, end, part, by_posting, ends)
        elif onward.to_place.kind == LocationKind.IN_WORK:
            _out_of(onward, begin, end, part, by_posting, ends)
        else:
            ends[onward.to_place.kind, onward.loss, onward.posting_id] += part
    if gone < high - low:
        posting = 0 if m.to_place.inside else m.posting_id
        ends[m.to_place.kind, "", posting] += mg * (high - low - gone) / (high - low)


def _out_of(taken, low, high, mg, by_posting, ends):
    begin, end = low / taken.quantity, high / taken.quantity
    _taken, given = _sides(taken)
    whole, at = sum(m.glass_mg for m in given), Fraction(0)
    for m in given:
        span = Fraction(m.glass_mg, whole)
        a, b = max(begin, at), min(end, at + span)
        if a < b:
            part, scale = mg * (b - a) / (end - begin), m.quantity / span
            if m.to_place.inside:
                _after(m, (a - at) * scale, (b - at) * scale, part, by_posting, ends)
            else:
                ends[m.to_place.kind, m.loss, m.posting_id] += part
        at += span


def _passed_on(place):
    return place.inside or place.kind == LocationKind.SOLD


def _sides(m):
    moves = list(
        m.posting.movements.select_related("item", "from_place", "to_place").order_by("pk")
    )
    taken = [each for each in moves if each.to_place.kind == LocationKind.IN_WORK]
    given = [each for each in moves if each.from_place.kind == LocationKind.IN_WORK]
    colours = {each.item.colour_id for each in taken}
    of_glass = all(each.item.kind == ItemKind.GLASS for each in moves)
    if of_glass and {each.item.colour_id for each in given} <= colours:
        taken = [each for each in taken if each.item.colour_id == m.item.colour_id]
        given = [each for each in given if each.item.colour_id == m.item.colour_id]
    return taken, given
