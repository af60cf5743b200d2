"""What a day's work is charged at: pay, minutes, workshop costs, moulds and kilns at standard."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property

from django.db.models import F, Sum
from django.utils import timezone

from stock.models import (
    STARTING_FACTORS,
    Bead,
    BeadMinutes,
    Charge,
    ChargeName,
    KilnLoad,
    MonthFigure,
    PatternFactor,
    WorkTicket,
)
from stock.runs import piercing_hands, usual_runs
from stock.services.moves import Cost
from workshop.costs.amounts import MINUTES_AN_HOUR, ONE, ZERO, six
from workshop.costs.kiln import EndedLoad, UsualFill, usual_fill
from workshop.costs.kiln_share import UsualRun
from workshop.costs.minutes import (
    CLOSED_MONTHS,
    minute_pay,
    minutes_each,
    mould_wear,
    piece_each,
    usual_life,
    workshop_minute,
)
from workshop.days import day_begins
from workshop.models import (
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Role,
    Skill,
    StandingCost,
    WorkingHours,
)
from workshop.rates import Amount, Rates

# Steps of finishing that are paid by the piece are paid for what came good.
PAID_FOR_GOOD = (Skill.PIERCING, Skill.POLISHING, Skill.PAINTING)
NOT_IN_GOODS = (LabourRate.Basis.ORDER,)


class Standards:
    """Rates, employer's share, workshop costs and minutes by bead, as they hold on a day."""

    def __init__(self, on: date) -> None:
        self.on = on

    @cached_property
    def rates(self) -> Rates:
        return Rates.in_force(self.on)

    @cached_property
    def standing(self) -> StandingCost:
        """The newest standing costs by the day; none written cost nothing (1 query)."""
        held = StandingCost.objects.filter(valid_from__lte=self.on).order_by("-valid_from")
        return held.first() or StandingCost(valid_from=self.on)

    @cached_property
    def figures(self) -> dict[int | None, MonthFigure]:
        """What is kept of the day's month: by kiln, and for the workshop under None (1 query)."""
        month = MonthFigure.objects.filter(month=self.on.replace(day=1))
        return {figure.kiln_id: figure for figure in month}

    def standing_parts(self) -> dict[str, object]:
        """All that is written down of the day, to be put into others (5 queries)."""
        parts = ("rates", "standing", "_factors", "_own", "figures")
        return {name: getattr(self, name) for name in parts}

    @cached_property
    def workshop_minute(self) -> Decimal:
        """Workshop costs of a standard minute (w); holds for the month."""
        return self._workshop_minute(keep=True)

    @cached_property
    def workshop_minute_read(self) -> Decimal:
        """The same for who only looks: nothing is kept for the month (1 query, or 3 more)."""
        return self._workshop_minute(keep=False)

    def _workshop_minute(self, *, keep: bool) -> Decimal:
        costs = self.standing
        if not costs.workshop_month:
            return ZERO
        figure = self.figures.get(None) or minutes_figure(self.on, keep=keep)
        closed = [figure.minutes / figure.months] * figure.months if figure.months else []
        opening = ZERO if len(closed) >= 3 or costs.usual_minutes else opening_minutes(self.on)
        owner = Decimal(costs.usual_minutes) if costs.usual_minutes else None
        return workshop_minute(
            costs.workshop_month, closed, owner_minutes=owner, open_minutes=opening
        )

    @cached_property
    def _factors(self) -> dict[tuple[str, str], Decimal]:
        rows = PatternFactor.objects.values_list("pattern", "skill", "factor")
        return STARTING_FACTORS | {(pattern, skill): factor for pattern, skill, factor in rows}

    @cached_property
    def _own(self) -> dict[tuple[int, str], BeadMinutes]:
        return {(row.bead_id, row.skill): row for row in BeadMinutes.objects.all()}

    @cached_property
    def _runs(self) -> dict[int, UsualRun]:
        return {}

    def usual_run(self, kiln: Kiln) -> UsualRun | None:
        """How the runs of a kiln kept hot usually go; closed ones have none (1 query a kiln)."""
        if kiln.is_kept_hot and kiln.pk not in self._runs:
            self._runs |= usual_runs([kiln])
        return self._runs.get(kiln.pk)

    @cached_property
    def piercing_hands(self) -> int:
        """Bench hands who can pierce, at least one (1 query, once)."""
        return piercing_hands()

    def minutes_each(self, rate: LabourRate, bead: Bead | None = None) -> Decimal:
        """Standard minutes of one unit of a step (t), for a bead by its own or its pattern."""
        if bead is None:
            return minutes_each(rate.minutes_each, rate.allowance)
        own = self._own.get((bead.pk, rate.skill))
        return minutes_each(
            rate.minutes_each,
            rate.allowance,
            factor=self._factors.get((bead.pattern, rate.skill), ONE),
            own_min=own.minutes if own else None,
        )

    def minute_pay(self, rate: LabourRate) -> Decimal:
        """Pay of a minute of a step, with the employer's share (m)."""
        return minute_pay(rate.hourly, self.standing.employer_share)

    def earned(self, ticket: WorkTicket) -> tuple[LabourRate, Decimal, Decimal] | None:
        """What a ticket earns by its day's rate: the rate, pay of a unit or hour, and in all.

        By the piece it follows the bead's own pay or its pattern. None where no rate holds.
        """
        bead = ticket.bead
        rate = self.rates.of_step(ticket.step_id, bead.kind if bead else "")
        if rate is None:
            return None
        if rate.piece is None:
            return rate, rate.hourly, Decimal(ticket.minutes) * rate.hourly / MINUTES_AN_HOUR
        piece = rate.piece
        if bead is not None:
            own = self._own.get((bead.pk, rate.skill))
            piece *= self._factors.get((bead.pattern, rate.skill), ONE)
            piece = own.piece if own is not None and own.piece is not None else piece
        return rate, piece, ticket.pieces * piece

    def piece_each(self, rate: LabourRate, bead: Bead | None = None) -> Decimal:
        """What one piece costs where the step is paid by the piece."""
        assert rate.piece is not None
        if bead is None:
            return piece_each(rate.piece, self.standing.employer_share)
        own = self._own.get((bead.pk, rate.skill))
        return piece_each(
            rate.piece,
            self.standing.employer_share,
            factor=self._factors.get((bead.pattern, rate.skill), ONE),
            own_piece=own.piece if own else None,
        )

    def steps(
        self,
        skill: str,
        amount: Amount,
        *,
        bead: Bead | None = None,
        form: str = "",
        good: Amount | None = None,
        set_up: set[str] | None = None,
        bare: bool = False,
    ) -> list[Cost]:
        """Hands and workshop of a skill's steps for so much work.

        good    what came good of it, where a step paid by the piece counts only that
        set_up  steps whose set-up is borne already; those borne here are put in
        bare    no set-up at all, as a standard cost counts it
        """
        found = []
        for rate in self.rates.of(skill, bead.kind if bead is not None else "", form):
            units = amount.units(rate.basis)
            if not units or rate.basis in NOT_IN_GOODS:
                continue
            borne = bare or (set_up is not None and rate.step_id in set_up)
            setup = ZERO if borne else Decimal(rate.setup_min)
            if set_up is not None:
                set_up.add(rate.step_id)
            pieces = good.units(rate.basis) if good and skill in PAID_FOR_GOOD else units
            found += self._step(rate, units, pieces, setup, bead)
        return found

    def _step(
        self, rate: LabourRate, units: Decimal, pieces: Decimal, setup: Decimal, bead: Bead | None
    ) -> list[Cost]:
        minutes = units * self.minutes_each(rate, bead) + setup
        pay = self.minute_pay(rate)
        if rate.piece is None:
            hands, each = minutes * pay, pay
        else:
            each = self.piece_each(rate, bead)
            hands = pieces * each + setup * pay
        w = self.workshop_minute
        costs = [Cost(ChargeName.HANDS, six(hands), rate.step_id, units, setup, minutes, each)]
        if w:
            costs.append(
                Cost(ChargeName.WORKSHOP, six(minutes * w), rate.step_id, units, setup, minutes, w)
            )
        return costs

    def fills(self, mould: Mould, fills: int) -> list[Cost]:
        """What filling a mould so often wears off it, and its kiln wash."""
        wear = mould_wear(mould.price, life_of(mould))
        return [
            Cost(ChargeName.MOULDS, six(fills * each), step, Decimal(fills), rate=each)
            for step, each in (("wear", wear), ("wash", mould.wash_per_fill))
            if each
        ]

    def fill_cost(self, mould: Mould) -> Decimal:
        """Wear and wash of one filling, exact."""
        return mould_wear(mould.price, life_of(mould)) + mould.wash_per_fill

    @cached_property
    def usual_fills(self) -> dict[int, UsualFill]:
        return {}

    def usual_fill(self, kiln: Kiln) -> UsualFill:
        """How full a usual load of a kiln is; holds for the month, the owner's word first."""
        if kiln.pk not in self.usual_fills:
            self.usual_fills[kiln.pk] = fill_of_month(kiln, self.on)
        return self.usual_fills[kiln.pk]

    def fills_read(self, kilns: Sequence[Kiln]) -> dict[int, UsualFill]:
        """The usual fill of many kilns for who only looks: nothing is kept (2 queries at most)."""
        month, kept = self.on.replace(day=1), self.figures
        loads = ended_loads(month) if any(kiln.pk not in kept for kiln in kilns) else []
        return {
            kiln.pk: fill_of_figure(kiln, kept[kiln.pk])
            if kiln.pk in kept
            else usual_fill(loads, month, kiln=kiln.pk, owner=kiln.usual_fill)
            for kiln in kilns
        }


class StandardsOfDays:
    """Standards of many days, all read at once (6 queries, whatever the days).

    What a month has not kept yet is worked out once more (3 queries a kiln).
    """

    def __init__(self) -> None:
        self.rates = list(LabourRate.objects.order_by("valid_from", "pk"))
        self.standing = list(StandingCost.objects.order_by("valid_from"))
        self.figures: dict[tuple[date, int | None], MonthFigure] = {
            (figure.month, figure.kiln_id): figure for figure in MonthFigure.objects.all()
        }
        some_day = Standards(timezone.localdate())
        shared = ("_factors", "_own", "_runs", "piercing_hands")
        self._shared = {name: getattr(some_day, name) for name in shared}
        self._days: dict[date, Standards] = {}
        self._fills: dict[tuple[date, int], UsualFill] = {}

    def on(self, day: date) -> Standards:
        """The standards of a day."""
        if day not in self._days:
            self._days[day] = self._made(day)
        return self._days[day]

    def standing_on(self, day: date) -> StandingCost:
        """The standing costs of a day; none written cost nothing."""
        held = [each for each in self.standing if each.valid_from <= day]
        return held[-1] if held else StandingCost(valid_from=day)

    def _made(self, day: date) -> Standards:
        made = Standards(day)
        known: dict[str, object] = dict(self._shared)
        known["rates"] = Rates.newest(rate for rate in self.rates if rate.valid_from <= day)
        known["standing"] = self.standing_on(day)
        month = day.replace(day=1)
        known["figures"] = {kiln: each for (of, kiln), each in self.figures.items() if of == month}
        vars(made).update(known)
        return made

    def fill(self, kiln: Kiln, day: date) -> UsualFill:
        """The usual fill of a kiln on a day, out of what is kept; worked out where it is not."""
        of = (day.replace(day=1), kiln.pk)
        if of not in self._fills:
            kept = self.figures.get(of)
            found = fill_of_month(kiln, day) if kept is None else fill_of_figure(kiln, kept)
            self._fills[of] = found
        return self._fills[of]


@dataclass(frozen=True)
class OwnTimes:
    """How the steps of a bead differ from the usual: times longer, or minutes of its own."""

    times_longer: tuple[tuple[str, Decimal], ...] = ()
    own_minutes: tuple[tuple[str, Decimal], ...] = ()
    own_pieces: tuple[tuple[str, Decimal], ...] = ()


class MinutesByBead:
    """Factors by pattern, minutes and pay by bead, for any number of beads (2 queries)."""

    def __init__(self, standards: Standards) -> None:
        self._factors, self._own = standards._factors, standards._own

    def of(self, bead: Bead) -> OwnTimes:
        """How this bead's steps differ from the usual."""
        longer = [(s, f) for (pattern, s), f in self._factors.items() if pattern == bead.pattern]
        own = [
            (skill, row.minutes)
            for (key, skill), row in self._own.items()
            if key == bead.pk and row.minutes is not None
        ]
        pay = [
            (skill, row.piece)
            for (key, skill), row in self._own.items()
            if key == bead.pk and row.piece is not None
        ]
        return OwnTimes(tuple((str(s), f) for s, f in longer), tuple(own), tuple(pay))


def set_up_borne(belongs: tuple[str, str]) -> set[str] | None:
    """Steps whose set-up an order's standing postings bear already; None for no order (1 query)."""
    if belongs[0] != "order":
        return None
    borne = Charge.objects.filter(
        posting__belongs_kind="order",
        posting__belongs_ref=belongs[1],
        posting__reverses__isnull=True,
        posting__reversed_by__isnull=True,
        setup_min__gt=0,
    )
    return set(borne.values_list("step", flat=True))


def life_of(mould: Mould) -> Decimal:
    """Fillings that a mould usually lasts: the owner's word, else the starting figure."""
    return usual_life(0, 0, owner=mould.usual_life)


def minutes_figure(day: date, *, keep: bool) -> MonthFigure:
    """Standard minutes that went into goods in the closed months before a day's month.

    Worked out when the month is first asked for, and kept (1 query, or 3 the first time).
    """
    month = day.replace(day=1)
    kept = MonthFigure.objects.filter(month=month, kiln=None).first()
    if kept is not None:
        return kept
    since = _months_before(month, CLOSED_MONTHS)
    hands = Charge.objects.filter(name=ChargeName.HANDS, on__lt=month)
    first = hands.order_by("on").values_list("on", flat=True).first()
    months = 0
    if first is not None:
        begun = max(first.replace(day=1), since)
        months = (month.year - begun.year) * 12 + month.month - begun.month
    minutes = hands.filter(on__gte=since).aggregate(sum=Sum("minutes"))["sum"] or ZERO
    found = {"minutes": minutes, "months": months, "source": "closed months"}
    return _kept(month, None, **found) if keep else MonthFigure(month=month, **found)


def _months_before(month: date, count: int) -> date:
    back = month.year * 12 + month.month - 1 - count
    return date(back // 12, back % 12 + 1, 1)


def fill_of_month(kiln: Kiln, day: date) -> UsualFill:
    """The usual fill of a kiln in a day's month: the owner's word, else as measured on the 1st.

    Worked out when the month is first asked for, and kept (1 query, or 3 the first time).
    """
    month = day.replace(day=1)
    kept = MonthFigure.objects.filter(month=month, kiln=kiln).first()
    if kept is None:
        loads = ended_loads(month)
        found = usual_fill(loads, month, kiln=kiln.pk)
        counted = [each for each in loads if found.source == "workshop" or each.kiln == kiln.pk]
        counted = sorted((e for e in counted if e.filled), key=lambda e: e.on)[-50:]
        measured = found.measured is not None
        kept = _kept(
            month, kiln, loads=found.loads, source=found.source,
            filled=sum(each.filled for each in counted) if measured else 60,
            places=sum(each.places for each in counted) if measured else 100,
        )  # fmt: skip
    return fill_of_figure(kiln, kept)


def fill_of_figure(kiln: Kiln, kept: MonthFigure) -> UsualFill:
    """A kiln's usual fill out of what was kept for the month."""
    share = Decimal(kept.filled) / kept.places
    measured_share = None if kept.source == "starting figure" else share
    if kiln.usual_fill is not None:
        return UsualFill(Decimal(kiln.usual_fill), measured_share, kept.loads, "owner")
    return UsualFill(share, measured_share, kept.loads, kept.source)


def _kept(month: date, kiln: Kiln | None, **figures: object) -> MonthFigure:
    """Keep a figure of a month; of two that work it out at once, the first is kept."""
    return MonthFigure.objects.get_or_create(month=month, kiln=kiln, defaults=figures)[0]


def ended_loads(month: date) -> list[EndedLoad]:
    """Loads that ended in the 365 days before a month, with the places they filled (1 query)."""
    zone = timezone.get_current_timezone()
    rows = (
        KilnLoad.objects.filter(
            state__in=[KilnLoad.State.COOLED, KilnLoad.State.SPOILED],
            ended_at__gte=day_begins(month - timedelta(days=365)),
            ended_at__lt=day_begins(month),
        )
        .annotate(filled=Sum(F("trays__moulds") * F("trays__bead__mould__places")))
        .order_by("ended_at", "pk")
        .values_list("ended_at", "filled", "kiln__places", "kiln")
    )
    return [
        EndedLoad(ended.astimezone(zone).date(), filled or 0, places, kiln)
        for ended, filled, places, kiln in rows
        if ended is not None
    ]


def opening_minutes(day: date) -> Decimal:
    """Opening minutes of a day's month × bench hands: the ground of the starting figure."""
    first = day.replace(day=1)
    after = _months_before(first, -1)
    closed = set(
        ClosedDay.objects.filter(day__gte=first, day__lt=after).values_list("day", flat=True)
    )
    by_weekday: dict[int, int] = {}
    for hours in WorkingHours.objects.all():
        minutes = (hours.closes.hour - hours.opens.hour) * 60
        minutes += hours.closes.minute - hours.opens.minute
        by_weekday[hours.weekday] = by_weekday.get(hours.weekday, 0) + minutes
    days = [first + timedelta(days=n) for n in range((after - first).days)]
    open_min = sum(by_weekday.get(each.weekday(), 0) for each in days if each not in closed)
    hands = Person.objects.filter(role=Role.BENCH, is_active=True).count()
    return Decimal(open_min * hands)


def total_of(costs: Sequence[Cost]) -> Decimal:
    """What some charges come to."""
    return sum((cost.amount for cost in costs), ZERO)
