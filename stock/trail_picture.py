"""A trail as a picture: the postings that glass passed through, step by step of the trade."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from stock.models import Posting, PostingKind, Sack
from stock.trail import Trail
from workshop import formats
from workshop.drawing import TrailStop, trail_svg

WIDE_PX, NARROW_PX = 680, 332
MG_PER_G = 1000

# The steps in the order of the trade; a bead that is painted or remade goes through some again.
STEPS = (
    PostingKind.SORTING,
    PostingKind.PREPARATION,
    PostingKind.MOULDING,
    PostingKind.FIRING,
    PostingKind.FINISHING,
    PostingKind.PAINTING,
    PostingKind.STRINGING,
    PostingKind.COLLECTION,
)
SOURCES = (
    PostingKind.SACK,
    PostingKind.OPENING,
    PostingKind.PURCHASE,
    PostingKind.COUNT,
)
AGAIN = len(STEPS) + 1


@dataclass(frozen=True)
class TrailPicture:
    """The picture for a wide screen and for a phone."""

    wide: str
    narrow: str


Cords = dict[tuple[int, int], Fraction]


def trail_picture(
    trail: Trail,
    *,
    title: str,
    page_of: Callable[[Posting, Sack | None], str] = lambda _posting, _sack: "",
    named: bool = True,
) -> TrailPicture | None:
    """The path drawn, or None where nothing led anywhere (2 queries).

    page_of  where a stop leads
    named    whether sacks, loads and orders are told by their numbers
    """
    keys = set(trail.by_posting) | {key for pair in trail.cords for key in pair}
    postings = Posting.objects.in_bulk(keys)
    sacks = {
        sack.posting_id: sack
        for sack in Sack.objects.filter(posting__in=keys).select_related("colour")
    }
    shown = {key for key, posting in postings.items() if posting.kind in (*STEPS, *SOURCES)}
    cords = _between(trail.cords, shown)
    if not cords:
        return None
    ranks = _ranks({key: postings[key].kind for key in shown}, cords)
    rows = sorted({ranks[key] for pair in cords for key in pair})
    stops = []
    for key in {key for pair in cords for key in pair}:
        posting, sack = postings[key], sacks.get(key)
        stops.append(
            TrailStop(
                key,
                rows.index(ranks[key]),
                float(_passed(cords, key)) / MG_PER_G,
                _lines(posting, sack, named=named),
                sack.colour.swatch if sack and sack.colour else "",
                page_of(posting, sack),
            )
        )
    stops.sort(key=lambda stop: stop.key)
    names = [_row_name(rank) for rank in rows]
    grams = {pair: float(mg) / MG_PER_G for pair, mg in cords.items()}
    drawn = [
        trail_svg(names, stops, grams, more=_more, width=width, title=title)
        for width in (WIDE_PX, NARROW_PX)
    ]
    return TrailPicture(*drawn)


def _between(cords: Mapping[tuple[int, int], Fraction], shown: set[int]) -> Cords:
    """Cords between stops that are shown; what merely carried glass on is passed through.

    A posting comes after what it takes from, so one pass from the oldest on is enough.
    """
    into: dict[int, dict[int, Fraction]] = defaultdict(lambda: defaultdict(Fraction))
    after: dict[int, dict[int, Fraction]] = defaultdict(lambda: defaultdict(Fraction))
    for (start, end), mg in cords.items():
        into[end][start] += mg
        after[start][end] += mg
    for key in sorted({*into, *after} - shown):
        whole = sum(after[key].values(), Fraction(0))
        for start, came in into[key].items():
            after[start].pop(key, None)
            for end, went in after[key].items():
                part = came * went / whole
                after[start][end] += part
                into[end][start] += part
        for end in after.pop(key, {}):
            into[end].pop(key, None)
        into.pop(key, None)
    return {(start, end): mg for start, ends in after.items() for end, mg in ends.items()}


def _ranks(kinds: Mapping[int, str], cords: Iterable[tuple[int, int]]) -> dict[int, int]:
    """How far down each stop stands: by its step, and below everything that led to it."""
    before: dict[int, set[int]] = defaultdict(set)
    for start, end in cords:
        before[end].add(start)
    ranks: dict[int, int] = {}
    for key in sorted(kinds):
        kind = kinds[key]
        rank = 0 if kind in SOURCES else STEPS.index(PostingKind(kind)) + 1
        above = max((ranks[start] for start in before[key] if start in ranks), default=-1)
        while rank <= above:
            rank += AGAIN
        ranks[key] = rank
    return ranks


def _row_name(rank: int) -> str:
    step = rank % AGAIN
    return _("Sacks") if step == 0 else str(STEPS[step - 1].label).capitalize()


def _passed(cords: Cords, key: int) -> Fraction:
    came = sum((mg for (_start, end), mg in cords.items() if end == key), Fraction(0))
    went = sum((mg for (start, _end), mg in cords.items() if start == key), Fraction(0))
    return max(came, went)


def _lines(posting: Posting, sack: Sack | None, *, named: bool) -> tuple[str, ...]:
    day = formats.date_short(posting.on)
    if sack is None and posting.kind in SOURCES:
        return (_("here before"), day)
    if not named:
        return (day,)
    if sack is not None:
        return (_("sack %(n)s") % {"n": sack.number}, day)
    if posting.belongs_kind == "load":
        return (_("load %(n)s") % {"n": posting.belongs_ref}, day)
    if posting.belongs_kind in {"order", "sale"}:
        return (_("order %(n)s") % {"n": posting.belongs_ref}, day)
    return (day,)


def _more(count: int) -> str:
    return ngettext("%(n)s more", "%(n)s more", count) % {"n": formats.count(count)}
