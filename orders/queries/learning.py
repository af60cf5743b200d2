"""What the records say beside the standard in use, one row for each standard.

Rejects by bead and firing, yields of preparation by colour, minutes by step, fuel by kiln. All of
it in 10 queries, however many records there are. How each is worked out and where the formulas
are from: orders/costing/learned.py.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db.models import Sum
from django.utils.translation import gettext as _

from orders.costing.learned import Learned, Scatter, fit_scatter, mean, ratio, wilson
from orders.models import AcceptedStandard
from orders.queries.labour import Labour
from orders.queries.reject_records import RejectRecord, by_load, reject_records
from stock.models import (
    Bead,
    GlassColour,
    GlassForm,
    KilnLoad,
    Movement,
    PlaceKind,
    WorkTicket,
)
from workshop import formats
from workshop.models import Kiln, LabourRate, Skill

Kind = AcceptedStandard.Kind
MG_PER_KG = Decimal(1_000_000)
ALL_PREPARING = 0  # the subject of the minutes of preparing, which are logged for all its steps


@dataclass(frozen=True)
class LearnedRow:
    """One standard beside what was measured.

    standard   in use now; None where there is none (fuel that is worked out from the heat)
    learned    measured, with how many it rests on and its 90 % interval
    loads      in how many loads, preparations or days it was measured
    scatter    how rejects scatter from load to load, where the records show that they do
    unit       "share", "min", or the unit of the fuel
    """

    kind: str
    subject_id: int
    subject: str
    standard: Decimal | None
    learned: Learned
    loads: int
    unit: str
    scatter: Scatter | None = None

    @property
    def can_accept(self) -> bool:
        """Whether there is an interval, a difference, and a value that can be a standard."""
        fits = self.learned.value < 1 if self.unit == "share" else self.learned.value > 0
        if self.is_yield:
            fits = 0 < self.learned.value <= 1
        return fits and self.learned.low is not None and self.learned.value != self.standard

    @property
    def is_yield(self) -> bool:
        return self.kind in {Kind.POWDER_YIELD, Kind.CHUNK_YIELD}

    @property
    def agrees(self) -> bool:
        return self.standard is not None and self.learned.agrees_with(self.standard)


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
                _five_places(wilson(sum(r.rejected for r in own), sum(r.beads for r in own))),
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


def _five_places(found: Learned) -> Learned:
    """As a share is kept, so that what is shown is what is accepted."""
    return replace(found, value=found.value.quantize(Decimal("0.00001")).normalize())


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
                _five_places(_scaled(ratio(measured), 1 / colour.washing_yield)),
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
        rows = rows.filter(posting__preparation__done_on__gte=since)
    raw: dict[int, dict[int, int]] = defaultdict(dict)
    out: dict[int, dict[int, int]] = defaultdict(dict)
    forms: dict[int, str] = {}
    sums = rows.order_by().values(
        "posting", "posting__preparation__form", "item__colour", "item__form",
        "from_place__kind", "to_place__kind",
    )  # fmt: skip
    for row in sums.annotate(mg=Sum("quantity")):
        posting, colour = row["posting"], row["item__colour"] or 0
        forms[posting] = row["posting__preparation__form"]
        if row["to_place__kind"] == PlaceKind.IN_WORK and row["item__form"] == GlassForm.RAW:
            raw[posting][colour] = raw[posting].get(colour, 0) + row["mg"]
        elif row["to_place__kind"] == PlaceKind.GLASS_SHELF:
            out[posting][colour] = out[posting].get(colour, 0) + row["mg"]
    return [(raw[posting], out[posting], form) for posting, form in forms.items()]


def _scaled(found: Learned, factor: Decimal) -> Learned:
    return replace(
        found,
        value=found.value * factor,
        low=None if found.low is None else found.low * factor,
        high=None if found.high is None else found.high * factor,
    )


# --- minutes ----------------------------------------------------------------------------------


def minutes(since: date | None = None) -> list[LearnedRow]:
    """Minutes of each step as the hands logged them (3 queries).

    The set-up of a step is taken off once for each order, and rest and interruptions (the
    allowance) are in the clock's minutes, so both sides are standard minutes.
    """
    labour = Labour.in_force()
    by_rate: dict[int, dict[str, list[Decimal]]] = defaultdict(dict)
    rates = {rate.pk: rate for rate in labour.rates}
    tickets = WorkTicket.objects.filter(minutes__gt=0).select_related("bead")
    if since is not None:
        tickets = tickets.filter(on__gte=since)
    for ticket in tickets:
        rate = _rate_of(ticket, labour)
        units = ticket.pieces + ticket.rejected
        if rate is None or not units or rate.basis == LabourRate.Basis.KG:
            continue
        told = by_rate[rate.pk].setdefault(
            ticket.belongs_ref or f"ticket {ticket.pk}", [Decimal(0), Decimal(0)]
        )
        told[0] += ticket.minutes
        told[1] += units
    rows = [_minutes_row(rates[pk], list(told.values())) for pk, told in by_rate.items()]
    preparing = _preparing(labour, since)
    return sorted([*rows, *([preparing] if preparing else [])], key=lambda row: row.subject)


def _rate_of(ticket: WorkTicket, labour: Labour) -> LabourRate | None:
    kind = ticket.bead.kind if ticket.bead else ""
    own = [r for r in labour.rates if r.step == ticket.step and r.kind in {"", kind}]
    return max(own, key=lambda rate: bool(rate.kind), default=None)


def _minutes_row(rate: LabourRate, told: Sequence[Sequence[Decimal]]) -> LearnedRow:
    pairs = [(max(Decimal(0), spent - rate.setup_min), units) for spent, units in told]
    return LearnedRow(
        Kind.MINUTES,
        rate.pk,
        f"{rate.step} ({rate.get_basis_display()})",
        (rate.minutes_each * (1 + rate.allowance)).normalize(),
        _four_places(ratio(pairs)),
        len(pairs),
        "min",
    )


def _four_places(found: Learned) -> Learned:
    return replace(found, value=found.value.quantize(Decimal("0.0001")).normalize())


def _preparing(labour: Labour, since: date | None) -> LearnedRow | None:
    """All steps of preparing together, a kilogram: their minutes are logged in one figure."""
    rates = [r for r in labour.of(Skill.PREPARING) if r.basis == LabourRate.Basis.KG]
    done = Movement.objects.filter(
        posting__preparation__minutes__gt=0,
        posting__reversed_by__isnull=True,
        to_place__kind=PlaceKind.GLASS_SHELF,
    )
    if since is not None:
        done = done.filter(posting__preparation__done_on__gte=since)
    setup = sum((rate.setup_min for rate in rates), Decimal(0))
    pairs = [
        (max(Decimal(0), row["posting__preparation__minutes"] - setup), row["mg"] / MG_PER_KG)
        for row in done.order_by()
        .values("posting", "posting__preparation__minutes")
        .annotate(mg=Sum("quantity"))
    ]
    if not rates or not pairs:
        return None
    standard = sum((rate.minutes_each * (1 + rate.allowance) for rate in rates), Decimal(0))
    return LearnedRow(
        Kind.MINUTES,
        ALL_PREPARING,
        _("Preparing glass, all steps (per kg of glass)"),
        standard.normalize(),
        _four_places(ratio(pairs)),
        len(pairs),
        "min",
    )


# --- fuel -------------------------------------------------------------------------------------


def fuel(since: date | None = None) -> list[LearnedRow]:
    """Fuel of a load by kiln, weighed (1 query)."""
    loads = KilnLoad.objects.filter(fuel_used__gt=0, state=KilnLoad.State.COOLED)
    if since is not None:
        loads = loads.filter(starts_at__date__gte=since)
    used: dict[Kiln, list[Decimal]] = defaultdict(list)
    for load in loads.select_related("kiln").order_by("starts_at"):
        used[load.kiln].append(load.fuel_used)
    rows = []
    for kiln, amounts in used.items():
        found = mean(amounts)
        rows.append(
            LearnedRow(
                Kind.FUEL,
                kiln.pk,
                kiln.name,
                None if kiln.fuel_per_load is None else kiln.fuel_per_load.normalize(),
                replace(found, value=found.value.quantize(Decimal("0.001")).normalize()),
                len(amounts),
                "kWh" if kiln.fuel == "electricity" else "kg",
            )
        )
    return sorted(rows, key=lambda row: row.subject)


def said(value: Decimal | None, unit: str) -> str:
    """A standard in words."""
    if value is None:
        return _("worked out from the heat")
    if unit == "share":
        return formats.percent(value)
    if unit == "min":
        return _("%(number)s min") % {"number": formats.decimal(value, 2)}
    return f"{formats.decimal(value, 1)} {unit}"


# --- all of it --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lessons:
    """Everything the records teach, and what was accepted of it."""

    rejects: list[LearnedRow]
    yields: list[LearnedRow]
    minutes: list[LearnedRow]
    fuel: list[LearnedRow]
    by_kiln: list[ShareOf]
    by_mould: list[ShareOf]
    by_keeper: list[ShareOf]

    @property
    def rows(self) -> list[LearnedRow]:
        return [*self.rejects, *self.yields, *self.minutes, *self.fuel]

    def row(self, kind: str, subject_id: int) -> LearnedRow | None:
        """The row of one standard, if there are records of it."""
        found = (r for r in self.rows if r.kind == kind and r.subject_id == subject_id)
        return next(found, None)


def lessons(since: date | None = None) -> Lessons:
    """Every standard that records speak of (9 queries)."""
    records = reject_records(since)
    return Lessons(
        rejects(records),
        yields(since),
        minutes(since),
        fuel(since),
        rejects_by(records, "kiln"),
        rejects_by(records, "mould"),
        rejects_by(records, "keeper"),
    )


def accepted(limit: int = 30) -> list[AcceptedStandard]:
    """The standards accepted last (1 query)."""
    rows = AcceptedStandard.objects.select_related("accepted_by", "undone_by")
    return list(rows[:limit])
