"""Where the glass of a period went, stage by stage and colour by colour, read from the book."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Case, F, Sum, When

from stock.models import BeadColour, ItemKind, LocationKind, LossName, PostingKind
from stock.trail import standing


@dataclass
class ColourFlow:
    """Glass of one colour at a stage, milligrams."""

    reached_mg: float = 0.0
    went_on_mg: float = 0.0
    lost_mg: float = 0.0

    @property
    def stays_mg(self) -> float:
        return self.reached_mg - self.went_on_mg - self.lost_mg


@dataclass(frozen=True)
class FlowStep:
    """One stage of the glass in a period, milligrams: what reached it, went on, and was lost.

    colours  the same by the key of the colour; None is glass of which none is known
    """

    name: str
    reached_mg: int
    went_on_mg: int
    lost: dict[str, int]
    colours: dict[int | None, ColourFlow]

    @property
    def lost_mg(self) -> int:
        return sum(self.lost.values())

    @property
    def stays_mg(self) -> int:
        """What neither went on nor was lost; below nothing when older stock was used."""
        return self.reached_mg - self.went_on_mg - self.lost_mg


# stage, what reaches it, what is taken from it into the next work
STAGES = (
    ("sacks", {PostingKind.SACK}, {PostingKind.PREPARATION}),
    ("ready", {PostingKind.PREPARATION}, {PostingKind.MOULDING}),
    ("beads", {PostingKind.FINISHING}, {PostingKind.STRINGING}),
    ("strands", {PostingKind.STRINGING}, {PostingKind.COLLECTION}),
    ("sold", {PostingKind.COLLECTION}, set()),
)
LOST_AFTER = {
    "sacks": {PostingKind.PREPARATION, PostingKind.SORTING},
    "ready": {PostingKind.MOULDING, PostingKind.FINISHING},
    "beads": {PostingKind.STRINGING, PostingKind.TAKING_APART},
}


# How far back a strand that was sold is looked for, to know the colours it was strung of.
STRUNG_SINCE = timedelta(days=365)


def glass_flow(start: date, end: date) -> list[FlowStep]:
    """Sacks, ready glass, beads, strands, sold, with what was lost in between (3 queries).

    Mistakes taken back are left out. Beads are the good ones that reached the shelf. A bead's glass
    is told by the colours of its kind, a strand's by the beads its design was strung of.
    """
    rows = (
        standing()
        .filter(posting__on__gte=start, posting__on__lte=end)
        .annotate(strand=Case(When(item__kind=ItemKind.STRANDS, then=F("item"))))
        .values_list(
            "posting__kind", "from_place__kind", "to_place__kind", "to_place__inside",
            "item__kind", "item__colour", "item__batch__bead", "strand", "loss",
        )
        .annotate(mg=Sum("glass_mg"))
        .order_by()
    )  # fmt: skip
    reached: dict[str, dict[_Of, int]] = defaultdict(lambda: defaultdict(int))
    lost: dict[str, dict[_Of, int]] = defaultdict(lambda: defaultdict(int))
    losses: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    sorted_mg: dict[_Of, int] = defaultdict(int)
    for kind, source, target, inside, item_kind, colour, bead, strand, loss, mg in rows:
        of = _Of(colour, bead, strand)
        came_in = kind == PostingKind.SACK and inside
        sold = kind == PostingKind.COLLECTION and target == LocationKind.SOLD
        made = source == LocationKind.IN_WORK and inside and _is_the_point(kind, item_kind, target)
        if target == LocationKind.LOST:
            losses[kind][loss] += mg
            lost[kind][of] += mg
        elif kind == PostingKind.RETURN and source == LocationKind.SOLD:
            reached[PostingKind.COLLECTION][of] -= mg
        elif kind == PostingKind.SORTING and source == LocationKind.IN_WORK and inside:
            sorted_mg[of] += mg
        elif came_in or sold or made:
            reached[kind][of] += mg
    _sort_out(reached[PostingKind.SACK], sorted_mg)
    told = _ColoursOf(
        {of for found in (*reached.values(), *lost.values()) for of in found}, start, end
    )
    return [_step(place, reached, lost, losses, told) for place in range(len(STAGES))]


@dataclass(frozen=True)
class _Of:
    """What glass is part of: its colour, or the bead or the strand that holds it."""

    colour: int | None = None
    bead: int | None = None
    strand: int | None = None


class _ColoursOf:
    """The colours that glass is of, by their shares (2 queries, fewer where nothing asks)."""

    def __init__(self, things: Iterable[_Of], start: date, end: date) -> None:
        strands = {of.strand for of in things if of.strand}
        strung = _beads_strung(strands, start - STRUNG_SINCE, end) if strands else {}
        beads = {of.bead for of in things if of.bead}.union(*strung.values())
        rows = BeadColour.objects.filter(bead__in=beads).order_by() if beads else ()
        of_bead: dict[int, dict[int, float]] = defaultdict(dict)
        for row in rows:
            of_bead[row.bead_id][row.colour_id] = float(row.share)
        self.of_bead = {bead: _shares(found) for bead, found in of_bead.items()}
        self.of_strand = {strand: _shares(self.of_beads(mg)) for strand, mg in strung.items()}

    def of_beads(self, masses: Mapping[int, float]) -> dict[int | None, float]:
        return self.of({_Of(bead=bead): mg for bead, mg in masses.items()})

    def of(self, masses: Mapping[_Of, float]) -> dict[int | None, float]:
        """Milligrams by colour."""
        found: dict[int | None, float] = defaultdict(float)
        for of, mg in masses.items():
            for colour, share in self._shares_of(of).items():
                found[colour] += mg * share
        return found

    def _shares_of(self, of: _Of) -> Mapping[int | None, float]:
        if of.strand:
            return self.of_strand.get(of.strand) or {None: 1.0}
        if of.bead:
            return self.of_bead.get(of.bead) or {None: 1.0}
        return {of.colour: 1.0}


def _step(
    place: int,
    reached: Mapping[str, dict[_Of, int]],
    lost_of: Mapping[str, dict[_Of, int]],
    losses: Mapping[str, dict[str, int]],
    told: _ColoursOf,
) -> FlowStep:
    name, comes, _taken = STAGES[place]
    after = STAGES[place + 1][1] if place + 1 < len(STAGES) else set()
    lost: dict[str, int] = defaultdict(int)
    colours: dict[int | None, ColourFlow] = defaultdict(ColourFlow)
    for kind in LOST_AFTER.get(name, ()):
        for loss, mg in losses[kind].items():
            lost[loss] += mg
        for colour, part in told.of(lost_of[kind]).items():
            colours[colour].lost_mg += part
    for kind in comes:
        for colour, part in told.of(reached[kind]).items():
            colours[colour].reached_mg += max(0.0, part)
    for kind in after:
        for colour, part in told.of(reached[kind]).items():
            colours[colour].went_on_mg += max(0.0, part)
    return FlowStep(
        name,
        sum(max(0, sum(reached[kind].values())) for kind in comes),
        sum(max(0, sum(reached[kind].values())) for kind in after),
        lost,
        dict(colours),
    )


def _sort_out(sacks: dict[_Of, int], sorted_mg: dict[_Of, int]) -> None:
    """Mixed glass that came in these days counts by the colours it was sorted into."""
    mixed, whole = sacks.get(_Of(), 0), sum(sorted_mg.values())
    for of, mg in sorted_mg.items():
        part = mg * min(mixed, whole) // whole
        sacks[of] += part
        sacks[_Of()] -= part


def _shares(parts: Mapping) -> dict:
    whole = sum(parts.values())
    return {key: part / whole for key, part in parts.items()} if whole else {}


def _beads_strung(strands: set[int], start: date, end: date) -> dict[int, dict[int, int]]:
    """Glass by bead that went into strands, by the strands' item (1 query)."""
    rows = (
        standing()
        .filter(
            posting__kind=PostingKind.STRINGING,
            posting__on__gte=start,
            posting__on__lte=end,
            posting__movements__item__in=strands,
            to_place__kind=LocationKind.IN_WORK,
            item__kind=ItemKind.BEADS,
        )
        .values_list("posting__movements__item", "item__batch__bead")
        .annotate(mg=Sum("glass_mg"))
        .order_by()
    )
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for strand, bead, mg in rows:
        found[strand][bead] = mg
    return found


def _is_the_point(kind: str, item_kind: str, target: str) -> bool:
    """Whether an output is what the work was for, and not what fell off on the way."""
    if kind == PostingKind.FINISHING:
        return item_kind == ItemKind.BEADS and target == LocationKind.BEAD_SHELF
    return kind in {PostingKind.PREPARATION, PostingKind.STRINGING}


def loss_words(lost: dict[str, int]) -> list[tuple[str, int]]:
    """Losses with their names in words, the largest first."""
    named = [(str(LossName(name).label), mg) for name, mg in lost.items() if mg]
    return sorted(named, key=lambda pair: -pair[1])
