"""Where stock came from and where it went, read from the book.

Glass of one colour and form lies in one heap, and beads of a batch in one tray; the book says
that the oldest leaves first (the same convention as netting). So the k-th milligram taken from a
place is the k-th that was put there, and each taking has exact layers behind it. Work mixes: each
output holds every input of its colour (or, where the colours are mixed, of all) in proportion to
its glass. Postings that were reversed, and their reversals, cancel and are left out.

Both directions use the same cuts, so a milligram followed from a sack to a strand is found again
when the strand is followed back. Masses are kept as fractions and never rounded on the way.

A trail is followed step by step of the trade, all its branches at once: three queries for each
step (what does not stand of new items, the layers, the work behind them), however long the book.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import QuerySet

from stock.heaps import IN, OUT, Heaps, Part, Passing, passing
from stock.models import Balance, Item, ItemKind, LocationKind, Movement, StockLocation


def standing(rows: QuerySet[Movement] | None = None) -> QuerySet[Movement]:
    """Movements, all or some, that were not taken back."""
    return (Movement.objects.all() if rows is None else rows).filter(
        posting__reverses__isnull=True, posting__reversed_by__isnull=True
    )


@dataclass
class Trail:
    """Milligrams of glass by the posting they passed through, and where they ended."""

    by_posting: dict[int, Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    ends: dict[tuple[str, str, int], Fraction] = field(
        default_factory=lambda: defaultdict(Fraction)
    )
    """By (place kind, name of the loss, posting); posting 0 is what still lies there."""
    cords: dict[tuple[int, int], Fraction] = field(default_factory=lambda: defaultdict(Fraction))
    """From the posting that laid the glass somewhere to the one that took it from there."""

    @property
    def whole_mg(self) -> Fraction:
        return sum(self.ends.values(), Fraction(0))


@dataclass(frozen=True)
class Strip:
    """A part of a movement, from `low` to `high` of its quantity, and the glass followed in it."""

    m: Passing
    low: Fraction
    high: Fraction
    mg: Fraction

    def share(self, begin: Fraction, end: Fraction) -> Fraction:
        """The glass followed in a part of this part."""
        return self.mg * (end - begin) / (self.high - self.low)


class Tracker:
    """Follows glass through the book, all branches of a trail together."""

    def __init__(self) -> None:
        self.heaps = Heaps()

    def back(self, movement: Movement) -> Trail:
        """What a movement took, followed back to the sacks (or the opening stock)."""
        trail = Trail()
        m = passing(movement)
        whole = Fraction(m.quantity)
        self._follow_back([Strip(m, Fraction(0), whole, Fraction(m.glass_mg))], trail)
        return trail

    def back_from_work(self, movement: Movement) -> Trail:
        """What came out of work, followed back from its posting on."""
        trail = Trail()
        trail.by_posting[movement.posting_id] += movement.glass_mg
        made = _whole(passing(movement))
        self._follow_back(self._into_work([made]), trail)
        return trail

    def forward(self, movement: Movement) -> Trail:
        """What a movement put somewhere, followed on to where it is now."""
        trail = Trail()
        strips = [_whole(passing(movement))]
        while strips:
            strips = self._onward(strips, trail)
        return trail

    def _follow_back(self, strips: list[Strip], trail: Trail) -> None:
        while strips:
            strips = self._behind(strips, trail)

    def _behind(self, strips: list[Strip], trail: Trail) -> list[Strip]:
        """One step back: the layers that each strip was taken from, and what went into them."""
        self.heaps.meet(strip.m.item for strip in strips)
        parts = [_part(strip, strip.m.source, self.heaps.start_out(strip.m)) for strip in strips]
        further, from_work = [], []
        for strip, cut in zip(strips, self.heaps.cut(IN, parts), strict=True):
            for layer, begin, end in cut:
                mg = strip.share(begin, end)
                trail.by_posting[layer.posting] += mg
                trail.cords[layer.posting, strip.m.posting] += mg
                source = self.heaps.places[layer.source]
                behind = Strip(layer, begin, end, mg)
                if _passed_on(source):
                    further.append(behind)
                elif source.kind == LocationKind.IN_WORK:
                    from_work.append(behind)
                else:
                    trail.ends[source.kind, "", layer.posting] += mg
        return further + self._into_work(from_work)

    def _into_work(self, strips: list[Strip]) -> list[Strip]:
        """What went into the work that gave these strips."""
        found = []
        work = self.heaps.of_postings(strip.m.posting for strip in strips)
        for strip in strips:
            made = strip.m
            taken, given = self._sides(made, work[made.posting])
            at = sum(m.glass_mg for m in given if m.pk < made.pk)
            whole = sum(m.glass_mg for m in given)
            begin = (at + made.glass_mg * strip.low / made.quantity) / whole
            end = (at + made.glass_mg * strip.high / made.quantity) / whole
            all_in = sum(m.glass_mg for m in taken)
            for m in taken:
                if m.glass_mg and begin < end:
                    mg = strip.mg * m.glass_mg / all_in
                    found.append(Strip(m, m.quantity * begin, m.quantity * end, mg))
        return found

    def _onward(self, strips: list[Strip], trail: Trail) -> list[Strip]:
        """One step on: what took each strip, and what became of it there."""
        self.heaps.meet(strip.m.item for strip in strips)
        parts = [_part(strip, strip.m.target, self.heaps.start_in(strip.m)) for strip in strips]
        further, to_work = [], []
        for strip, cut in zip(strips, self.heaps.cut(OUT, parts), strict=True):
            gone = Fraction(0)
            for taking, begin, end in cut:
                mg = strip.share(begin, end)
                gone += end - begin
                trail.by_posting[taking.posting] += mg
                trail.cords[strip.m.posting, taking.posting] += mg
                target = self.heaps.places[taking.target]
                onward = Strip(taking, begin, end, mg)
                # What a customer took may come back; it ends there only if it did not.
                if _passed_on(target):
                    further.append(onward)
                elif target.kind == LocationKind.IN_WORK:
                    to_work.append(onward)
                else:
                    trail.ends[target.kind, taking.loss, taking.posting] += mg
            if gone < strip.high - strip.low:
                left = strip.mg * (strip.high - strip.low - gone) / (strip.high - strip.low)
                place = self.heaps.places[strip.m.target]
                posting = 0 if place.inside else strip.m.posting
                trail.ends[place.kind, strip.m.loss, posting] += left
        return further + self._out_of_work(to_work, trail)

    def _out_of_work(self, strips: list[Strip], trail: Trail) -> list[Strip]:
        """What the work that took these strips made of them; what it lost ends here."""
        found = []
        work = self.heaps.of_postings(strip.m.posting for strip in strips)
        for strip in strips:
            taken = strip.m
            begin, end = strip.low / taken.quantity, strip.high / taken.quantity
            _taken, given = self._sides(taken, work[taken.posting])
            whole = sum(m.glass_mg for m in given)
            at = Fraction(0)
            for m in given:
                span = Fraction(m.glass_mg, whole)
                low, high = max(begin, at), min(end, at + span)
                if low < high:
                    mg = strip.mg * (high - low) / (end - begin)
                    target = self.heaps.places[m.target]
                    if _passed_on(target):
                        scale = m.quantity / span
                        found.append(Strip(m, (low - at) * scale, (high - at) * scale, mg))
                    else:
                        trail.ends[target.kind, m.loss, m.posting] += mg
                at += span
        return found

    def _sides(self, m: Passing, moves: Iterable[Passing]) -> tuple[list[Passing], list[Passing]]:
        """What went into the work and what came out of it; of the same colour where that tells."""
        moves, places = list(moves), self.heaps.places
        taken = [each for each in moves if places[each.target].kind == LocationKind.IN_WORK]
        given = [each for each in moves if places[each.source].kind == LocationKind.IN_WORK]
        of_glass = all(each.kind == ItemKind.GLASS for each in moves)
        if of_glass and {each.colour for each in given} <= {each.colour for each in taken}:
            taken = [each for each in taken if each.colour == m.colour]
            given = [each for each in given if each.colour == m.colour]
        return taken, given


def way_of_batch(item: Item) -> Trail:
    """Both ways from where a batch's beads came into being: to the sacks, and to where they are."""
    made = (
        standing(Movement.objects.filter(item=item))
        .filter(from_place__inside=False)
        .exclude(from_place__kind=LocationKind.SOLD)
        .select_related("from_place", "item")
        .order_by("pk")
        .first()
    )
    if made is None:
        return Trail()
    tracker = Tracker()
    way = tracker.forward(made)
    if made.from_place.kind == LocationKind.IN_WORK:
        back = tracker.back_from_work(made)
        for key, mg in back.by_posting.items():
            way.by_posting[key] += mg
        way.cords |= back.cords
    return way


def _whole(m: Passing) -> Strip:
    return Strip(m, Fraction(0), Fraction(m.quantity), Fraction(m.glass_mg))


def _part(strip: Strip, place: int, start: int) -> Part:
    return Part(strip.m.item, place, start + strip.low, start + strip.high)


def made_by(balance: Balance, quantity: int) -> list[tuple[int, int, int]]:
    """What the next `quantity` to leave a balance was made by: (posting, part, whole).

    Whoever carried it here meanwhile is passed over: a move, a day at a stall, a customer.
    """
    heaps = Heaps()
    start = heaps.gone(balance.item_id, balance.place_id, balance.come - balance.quantity)
    parts = [Part(balance.item_id, balance.place_id, Fraction(start), Fraction(start + quantity))]
    found = []
    while parts:
        further = []
        for layer, begin, end in (each for cut in heaps.cut(IN, parts) for each in cut):
            if _passed_on(heaps.places[layer.source]):
                at = heaps.start_out(layer)
                further.append(Part(layer.item, layer.source, at + begin, at + end))
            else:
                found.append((layer.posting, int(end - begin), layer.quantity))
        parts = further
    return found


def _passed_on(place: StockLocation) -> bool:
    """Whether what comes from a place lay there as it is: on a shelf, or with a customer."""
    return place.inside or place.kind == LocationKind.SOLD


def slices_behind_each(
    parts: Sequence[tuple[Balance, int]],
) -> list[list[tuple[int, int, int]]]:
    """The same of several balances (3 queries, and 1 more for every 100 of them)."""
    heaps = Heaps()
    heaps.meet(balance.item_id for balance, _quantity in parts)
    wanted = []
    for balance, quantity in parts:
        start = heaps.gone(balance.item_id, balance.place_id, balance.come - balance.quantity)
        ends = Fraction(start), Fraction(start + quantity)
        wanted.append(Part(balance.item_id, balance.place_id, *ends))
    return [
        [(layer.posting, int(end - begin), layer.quantity) for layer, begin, end in cut]
        for cut in heaps.cut(IN, wanted)
    ]
