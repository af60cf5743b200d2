"""What the records say beside the standard in use, one row for each standard.

Rejects by bead and firing, yields of preparation by colour, minutes by step and hand, fuel and
efficiency by kiln, fillings that a mould lasts. All of it in 22 queries, however many records there
are. How each is worked out and where the formulas are from: orders/learning/sums.py.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import F

from orders.learning.queries.bodies import bodies
from orders.learning.queries.fuel import efficiency, fuel
from orders.learning.queries.minutes import ALL_PREPARING, HandRow, minutes, minutes_measured
from orders.learning.queries.moulds import mould_lives
from orders.learning.queries.reject_records import RejectRecord, by_load, reject_records
from orders.learning.queries.row import Kind, LearnedRow, five_places, said, scaled
from orders.learning.sums import Learned, fit_scatter, ratio, wilson
from orders.models import AcceptedStandard
from stock.models import Bead, GlassColour, GlassForm, LocationKind, Movement

__all__ = [
    "ALL_PREPARING",
    "HandRow",
    "Kind",
    "LearnedRow",
    "Lessons",
    "ShareOf",
    "accepted",
    "efficiency",
    "fuel",
    "lessons",
    "minutes",
    "rejects",
    "rejects_by",
    "said",
    "yields",
]


@dataclass(frozen=True)
class ShareOf:
    """Rejects counted by something else than the bead: a kiln, a mould, a keeper."""

    name: str
    learned: Learned
    kiln_id: int = 0


def rejects(records: Sequence[RejectRecord]) -> list[LearnedRow]:
    """Rejects of each bead and firing (1 query)."""
    beads = Bead.objects.in_bulk({record.bead for record in records})
    groups: dict[tuple[int, int], list[RejectRecord]] = defaultdict(list)
    for record in records:
        groups[record.bead, record.firing].append(record)
    rows = []
    for (bead_id, firing), own in groups.items():
        bead = beads[bead_id]
        loads = [(rejected, count) for _first, rejected, count in by_load(own)]
        scatter = fit_scatter(loads) if len(loads) > 1 else None
        rows.append(
            LearnedRow(
                Kind.SECOND_REJECTS if firing == 2 else Kind.REJECTS,
                bead_id,
                bead.name,
                (bead.second_reject_rate if firing == 2 else bead.reject_rate).normalize(),
                five_places(wilson(sum(r.rejected for r in own), sum(r.beads for r in own))),
                len(loads),
                "share",
                scatter if scatter is not None and scatter.shows else None,
            )
        )
    return sorted(rows, key=lambda row: (row.subject, row.kind))


def rejects_by(records: Iterable[RejectRecord], name: str) -> list[ShareOf]:
    """Rejects by `name`, which is "kiln", "mould" or "keeper"; only to look at."""
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    for record in records:
        if key := getattr(record, name):
            sums[key][0] += record.rejected
            sums[key][1] += record.beads
            sums[key][2] = record.kiln_id if name == "kiln" else 0
    return [ShareOf(key, wilson(out, n), kiln) for key, (out, n, kiln) in sorted(sums.items())]


# --- yields -----------------------------------------------------------------------------------


def yields(since: date | None = None) -> list[LearnedRow]:
    """Prepared glass out of raw glass, by colour and form (2 queries).

    Only preparations of one colour alone tell what became of it. Washing is measured together
    with grinding or breaking, so its own standard is divided out.
    """
    pairs: dict[tuple[int, str], list[tuple[Decimal, Decimal]]] = defaultdict(list)
    for raw, out, form in _preparations(since):
        if len(raw) != 1:
            continue
        ((colour, raw_mg),) = raw.items()
        if colour and raw_mg:
            pairs[colour, form].append((Decimal(out.get(colour, 0)), Decimal(raw_mg)))
    colours = GlassColour.objects.in_bulk({colour for colour, _form in pairs})
    rows = []
    for (colour_id, form), measured in pairs.items():
        colour = colours[colour_id]
        powder = form == GlassForm.POWDER
        rows.append(
            LearnedRow(
                Kind.POWDER_YIELD if powder else Kind.CHUNK_YIELD,
                colour_id,
                colour.name,
                (colour.powder_yield if powder else colour.chunk_yield).normalize(),
                five_places(scaled(ratio(measured), 1 / colour.washing_yield)),
                len(measured),
                "share",
            )
        )
    return sorted(rows, key=lambda row: (row.subject, row.kind))


def _preparations(since: date | None) -> Iterable[tuple[dict[int, int], dict[int, int], str]]:
    """Raw glass in and prepared glass out by colour [mg], and the form, of each preparation."""
    rows = Movement.objects.filter(
        posting__preparation__isnull=False, posting__reversed_by__isnull=True
    )
    if since is not None:
        rows = rows.since(since).filter(posting__preparation__done_on__gte=since)
    raw: dict[int, dict[int, int]] = defaultdict(dict)
    out: dict[int, dict[int, int]] = defaultdict(dict)
    forms: dict[int, str] = {}
    # Added up here: grouped by posting, the database would read every movement in that order.
    found = rows.order_by().values(
        "posting", "posting__preparation__form", "item__colour", "item__form",
        "to_place__kind", mg=F("quantity"),
    )  # fmt: skip
    for row in found:
        posting, colour = row["posting"], row["item__colour"] or 0
        forms[posting] = row["posting__preparation__form"]
        if row["to_place__kind"] == LocationKind.IN_WORK and row["item__form"] == GlassForm.RAW:
            raw[posting][colour] = raw[posting].get(colour, 0) + row["mg"]
        elif row["to_place__kind"] == LocationKind.GLASS_SHELF:
            out[posting][colour] = out[posting].get(colour, 0) + row["mg"]
    return [(raw[posting], out[posting], form) for posting, form in forms.items()]


# --- all of it --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lessons:
    """Everything the records teach, and what was accepted of it."""

    rejects: list[LearnedRow]
    yields: list[LearnedRow]
    minutes: list[LearnedRow]
    of_beads: list[LearnedRow]
    fuel: list[LearnedRow]
    efficiency: list[LearnedRow]
    bodies: list[LearnedRow]
    mould_lives: list[LearnedRow]
    by_hand: list[HandRow]
    by_kiln: list[ShareOf]
    by_mould: list[ShareOf]
    by_keeper: list[ShareOf]

    @property
    def rows(self) -> list[LearnedRow]:
        fires = [*self.fuel, *self.efficiency, *self.bodies, *self.mould_lives]
        return [*self.rejects, *self.yields, *self.minutes, *self.of_beads, *fires]

    def row(self, kind: str, subject_id: int) -> LearnedRow | None:
        """The row of one standard, if there are records of it."""
        found = (r for r in self.rows if r.kind == kind and r.subject_id == subject_id)
        return next(found, None)


def lessons(since: date | None = None) -> Lessons:
    """Every standard that records speak of (22 queries)."""
    records = reject_records(since)
    measured = minutes_measured(since)
    return Lessons(
        rejects(records),
        yields(since),
        measured.rows,
        measured.of_beads,
        fuel(since),
        efficiency(since),
        bodies(since),
        mould_lives(since),
        measured.by_hand,
        rejects_by(records, "kiln"),
        rejects_by(records, "mould"),
        rejects_by(records, "keeper"),
    )


LATEST = 30


def accepted() -> list[AcceptedStandard]:
    """The standards accepted last (1 query)."""
    rows = AcceptedStandard.objects.select_related("accepted_by", "undone_by")
    return list(rows[:LATEST])
