"""Minutes as the hands logged them, by step, and by step and hand."""

from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.floor.labour import Labour
from orders.learning.queries.row import Kind, LearnedRow, four_places
from orders.learning.sums import Learned, ratio
from stock.models import Bead, LocationKind, Movement, WorkTicket
from stock.services.standards import Standards
from workshop.models import LabourRate, Person, Skill
from workshop.money import ZERO

MG_PER_KG = Decimal(1_000_000)
ALL_PREPARING = 0  # the subject of the minutes of preparing, which are logged for all its steps
LATEST = 10  # tickets, or preparations, that say whether a standard is near what work takes
ENOUGH_TICKETS = 5  # of a bead, before its own minutes are measured: our choice
SKILLS = tuple(Skill)


@dataclass(frozen=True)
class HandRow:
    """One step in one hand, beside the standard; only to look at.

    learned  minutes a unit, with in how many orders (or preparations) and the 90 % interval
    """

    step: str
    hand: Person
    standard: Decimal
    learned: Learned

    @property
    def agrees(self) -> bool:
        return self.learned.agrees_with(self.standard)


@dataclass(slots=True)
class _Work:
    """What one hand did on one step of one order: minutes by the clock, and units."""

    spent: Decimal = ZERO
    units: Decimal = ZERO


@dataclass(frozen=True)
class _Step:
    """One step as it is measured: what the row is called, and its work by order and hand."""

    subject_id: int
    subject: str
    standard: Decimal
    setup_min: Decimal
    work: dict[str, dict[Person, _Work]]

    def lately(self, standards: Standards) -> Decimal | None:
        """By what share the last LATEST preparations took longer than the standard."""
        latest = list(self.work.values())[-LATEST:]
        done = [own for by_hand in latest for own in by_hand.values()]
        usual = sum((own.units for own in done), ZERO) * self.standard + len(done) * self.setup_min
        return _beyond(done, usual) if len(latest) == LATEST else None

    def all_hands(self) -> LearnedRow:
        pairs = []
        for of_order in self.work.values():
            spent = sum((own.spent for own in of_order.values()), ZERO)
            units = sum((own.units for own in of_order.values()), ZERO)
            pairs.append((max(ZERO, spent - self.setup_min), units))
        found = four_places(ratio(pairs))
        return LearnedRow(
            Kind.MINUTES, self.subject_id, self.subject, self.standard, found, len(pairs), "min"
        )

    def by_hand(self) -> Iterable[HandRow]:
        """Each hand bears the set-up of an order by its part of the minutes spent on it."""
        pairs: dict[Person, list[tuple[Decimal, Decimal]]] = defaultdict(list)
        for of_order in self.work.values():
            whole = sum((own.spent for own in of_order.values()), ZERO)
            left = max(ZERO, whole - self.setup_min) / whole
            for hand, own in of_order.items():
                pairs[hand].append((own.spent * left, own.units))
        for hand, own_pairs in pairs.items():
            yield HandRow(self.subject, hand, self.standard, four_places(ratio(own_pairs)))


@dataclass(frozen=True)
class _Ticketed(_Step):
    """A step that tickets tell of: its work by order and bead too, and how many tickets each."""

    rate: LabourRate
    of_beads: dict[str, dict[Bead, _Work]]
    tickets: dict[Bead, int]
    latest: deque[tuple[str, Bead | None, _Work]]

    def lately(self, standards: Standards) -> Decimal | None:
        """By what share the last LATEST tickets took longer than the standard of their beads.

        The set-up is borne once by each order among them.
        """
        usual = len({order for order, _bead, _own in self.latest}) * self.setup_min
        for _order, bead, own in self.latest:
            usual += own.units * standards.minutes_each(self.rate, bead)
        done = [own for _order, _bead, own in self.latest]
        return _beyond(done, usual) if len(done) == LATEST else None


def _beyond(done: Iterable[_Work], usual: Decimal) -> Decimal | None:
    spent = sum((own.spent for own in done), ZERO)
    return spent / usual - 1 if usual else None


def bead_subject(bead: int, skill: str) -> int:
    """One number for a bead and a skill; `bead_and_skill` reads it.

    >>> bead_and_skill(bead_subject(12, "moulding"))
    (12, 'moulding')
    """
    return bead * 100 + SKILLS.index(Skill(skill))


def bead_and_skill(subject: int) -> tuple[int, str]:
    bead, place = divmod(subject, 100)
    return bead, SKILLS[place].value


@dataclass(frozen=True)
class Minutes:
    """Minutes of each step: all hands together, each hand, and each bead.

    of_beads  where a bead has tickets enough of its own
    """

    rows: list[LearnedRow]
    by_hand: list[HandRow]
    of_beads: list[LearnedRow]


def minutes(since: date | None = None) -> list[LearnedRow]:
    """Minutes of each step as the hands logged them (3 queries)."""
    return minutes_measured(since).rows


def minutes_measured(since: date | None = None) -> Minutes:
    """Minutes of each step, by hand and by bead too (6 queries).

    The set-up of a step is taken off once for each order, and rest and interruptions (the
    allowance) are in the clock's minutes, so both sides are standard minutes.
    """
    labour = Labour.in_force()
    ticketed = _ticketed(labour, since)
    steps = [*ticketed, *_preparing(labour, since)]
    standards = Standards(timezone.localdate())
    hands = [row for step in steps for row in step.by_hand()]
    rows = [replace(step.all_hands(), lately=step.lately(standards)) for step in steps]
    return Minutes(
        sorted(rows, key=lambda row: row.subject),
        sorted(hands, key=lambda row: (row.step, str(row.hand))),
        sorted(_of_beads(ticketed, labour, standards), key=lambda row: row.subject),
    )


def _of_beads(
    steps: Iterable[_Ticketed], labour: Labour, standards: Standards
) -> Iterable[LearnedRow]:
    """Minutes of each bead at each skill, beside its own or those of its pattern (3 queries).

    A bead bears the set-up of an order by its part of the minutes spent on it. Where a skill is
    several steps, a bead's own minutes would be those of each of them: nothing is learned.
    """
    for step in steps:
        pairs: dict[Bead, list[tuple[Decimal, Decimal]]] = defaultdict(list)
        for name, of_order in step.of_beads.items():
            whole = sum((own.spent for own in step.work[name].values()), ZERO)
            left = max(ZERO, whole - step.setup_min) / whole
            for bead, own in of_order.items():
                pairs[bead].append((own.spent * left, own.units))
        for bead, own_pairs in pairs.items():
            alone = len(labour.of(step.rate.skill, bead.kind)) == 1
            if step.tickets[bead] < ENOUGH_TICKETS or not alone:
                continue
            yield LearnedRow(
                Kind.BEAD_MINUTES,
                bead_subject(bead.pk, step.rate.skill),
                f"{bead.name}: {step.subject}",
                standards.minutes_each(step.rate, bead).normalize(),
                four_places(ratio(own_pairs)),
                len(own_pairs),
                "min",
            )


def _ticketed(labour: Labour, since: date | None) -> list[_Ticketed]:
    """Steps that tickets tell of; those by the kilogram are told by the preparations."""
    tickets = WorkTicket.objects.filter(minutes__gt=0).select_related("bead", "hand")
    tickets = tickets.order_by("on", "pk")
    if since is not None:
        tickets = tickets.filter(on__gte=since)
    found: dict[int, _Ticketed] = {}
    for ticket in tickets:
        rate = _rate_of(ticket, labour)
        units = ticket.pieces + ticket.rejected
        if rate is None or not units or rate.basis == LabourRate.Basis.KG:
            continue
        step = found.setdefault(rate.pk, _step(rate))
        order = ticket.belongs_ref or f"ticket {ticket.pk}"
        told = [step.work[order].setdefault(ticket.hand, _Work())]
        if ticket.bead is not None:
            told.append(step.of_beads[order].setdefault(ticket.bead, _Work()))
            step.tickets[ticket.bead] += 1
        for work in told:
            work.spent += ticket.minutes
            work.units += units
        step.latest.append((order, ticket.bead, _Work(Decimal(ticket.minutes), Decimal(units))))
    return list(found.values())


def _step(rate: LabourRate) -> _Ticketed:
    return _Ticketed(
        rate.pk,
        f"{rate.step_id} ({rate.get_basis_display()})",
        (rate.minutes_each * (1 + rate.allowance)).normalize(),
        rate.setup_min,
        defaultdict(dict),
        rate,
        defaultdict(dict),
        defaultdict(int),
        deque(maxlen=LATEST),
    )


def _by_preparation(done: QuerySet[Movement]) -> list[dict[str, Any]]:
    """What came of each preparation, with its minutes and its hand (1 query).

    Added up here: grouped by posting, the database would read every movement in that order.
    """
    found: dict[int, dict[str, Any]] = {}
    for row in done.order_by().values(
        "posting",
        "posting__preparation__minutes",
        "posting__preparation__hand",
        mg=F("quantity"),
    ):
        known = found.setdefault(row["posting"], row | {"mg": 0})
        known["mg"] += row["mg"]
    return list(found.values())


def _rate_of(ticket: WorkTicket, labour: Labour) -> LabourRate | None:
    kind = ticket.bead.kind if ticket.bead else ""
    own = [r for r in labour.rates if r.step_id == ticket.step_id and r.kind in {"", kind}]
    return max(own, key=lambda rate: bool(rate.kind), default=None)


def _preparing(labour: Labour, since: date | None) -> list[_Step]:
    """All steps of preparing together, a kilogram: their minutes are logged in one figure."""
    rates = [r for r in labour.of(Skill.PREPARING) if r.basis == LabourRate.Basis.KG]
    done = Movement.objects.filter(
        posting__preparation__minutes__gt=0,
        posting__reversed_by__isnull=True,
        to_place__kind=LocationKind.GLASS_SHELF,
    )
    if since is not None:
        done = done.since(since).filter(posting__preparation__done_on__gte=since)
    told = _by_preparation(done)
    if not rates or not told:
        return []
    hands = Person.objects.in_bulk({row["posting__preparation__hand"] for row in told})
    standard = sum((rate.minutes_each * (1 + rate.allowance) for rate in rates), ZERO)
    setup_min = sum((rate.setup_min for rate in rates), ZERO)
    work = {
        str(row["posting"]): {
            hands[row["posting__preparation__hand"]]: _Work(
                Decimal(row["posting__preparation__minutes"]), row["mg"] / MG_PER_KG
            )
        }
        for row in sorted(told, key=lambda row: row["posting"])
    }
    name = _("Preparing glass, all steps (per kg of glass)")
    return [_Step(ALL_PREPARING, name, standard.normalize(), setup_min, work)]
