"""The account of some days, out of charges, tickets, loads and standing costs.

A fixed number of queries, and none of them reads the days before: what lay there is what lies there
now, less what has changed since.
"""

from calendar import monthrange
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Q, Sum
from django.utils import timezone

from orders.models import PaySlip
from orders.money.queries.lower_value import LowerValue, WrittenDown
from stock.measures import FUEL, KILOGRAM, SMALLEST_IN
from stock.models import (
    Balance,
    Charge,
    ChargeName,
    KilnLoad,
    Movement,
    PostingKind,
    WorkTicket,
)
from stock.runs import places_of_runs
from stock.services.load_costs import in_goods, load_cost, run_cost
from stock.services.standards import StandardsOfDays
from workshop.costs.account import Account, LoadsStandard, MonthFacts, month_account
from workshop.costs.amounts import ONE, ZERO, six
from workshop.costs.kiln import LoadCost
from workshop.days import day_begins
from workshop.models import Business, LabourRate, Skill
from workshop.money import round_half_up


@dataclass(frozen=True)
class OfDays:
    """The account of some days, and whether they are over."""

    first_day: date
    last_day: date
    account: Account
    over: bool
    written: tuple[WrittenDown, ...] = ()


def account_of(first_day: date, last_day: date) -> OfDays:
    """The account from the first day to the last, both counted (some 30 queries)."""
    business = Business.in_force()
    standards = StandardsOfDays()
    goods = _charges(on__range=(first_day, last_day))
    lower = LowerValue(business)
    written = lower.on(last_day)
    before = lower.on(first_day - timedelta(days=1))
    facts = MonthFacts(
        **_hands(first_day, last_day, standards, business),
        **_loads(first_day, last_day, standards),
        workshop=_by_month(first_day, last_day, standards, "workshop_month"),
        office=_by_month(first_day, last_day, standards, "office_month"),
        goods=goods,
        goods_after=goods_now() - sum(_charges(on__gt=last_day).values(), ZERO),
        written_before=sum((six(row.amount) for row in before), ZERO),
        written_after=sum((six(row.amount) for row in written), ZERO),
    )
    over = last_day < timezone.localdate()
    return OfDays(first_day, last_day, month_account(facts), over, tuple(written))


A_YEAR = timedelta(days=364)  # from its first day to its last


def excess_of(found: OfDays) -> Decimal:
    """What goods bore of the workshop's costs in a year beyond what these were; 0 for fewer days.

    Source: IAS 2.13, goods never stand above cost.
    """
    if not found.over or found.last_day - found.first_day < A_YEAR:
        return ZERO
    workshop = next(line for line in found.account.lines if line.key == "workshop")
    return max(ZERO, workshop.put - workshop.spent)


def _charges(**days: object) -> dict[str, Decimal]:
    """What changed the goods in some days, by name (1 query, by the index of days)."""
    rows = Charge.objects.filter(**days).order_by().values_list("name").annotate(Sum("amount"))
    return {name: amount for name, amount in rows if amount}


def goods_now() -> Decimal:
    """What everything within the walls is worth in the book (1 query)."""
    return Balance.objects.inside().exclude(value=0).aggregate(sum=Sum("value"))["sum"] or ZERO


# --- hands ---------------------------------------------------------------------------------------


def _hands(
    first_day: date, last_day: date, standards: StandardsOfDays, business: Business
) -> dict[str, Decimal]:
    """Pay of every ticket as on its slip, top-ups, and the employer's share on both (2 queries)."""
    tickets = WorkTicket.objects.filter(on__range=(first_day, last_day)).select_related("bead")
    pay = order_steps = employer = ZERO
    for ticket in tickets.order_by("pk"):
        day = standards.on(ticket.on)
        earned = day.earned(ticket)
        if earned is None:
            continue
        rate, _each, exact = earned
        amount, share = round_half_up(exact, business.currency), day.standing.employer_share
        pay += amount
        employer += amount * share
        if rate.basis == LabourRate.Basis.ORDER:
            order_steps += amount * (ONE + share)
    top_up = top_up_on = ZERO
    slips = PaySlip.objects.filter(last_day__range=(first_day, last_day), top_up__gt=0).order_by(
        "last_day"
    )
    for slip_day, amount in slips.order_by("pk").values_list("last_day", "top_up"):
        share = standards.standing_on(slip_day).employer_share
        top_up += amount
        employer += amount * share
        top_up_on += amount * (ONE + share)
    return {
        "pay": pay,
        "top_up": top_up,
        "employer": round_half_up(employer, business.currency),
        "top_up_on": top_up_on,
        "order_steps": order_steps,
    }


# --- loads ---------------------------------------------------------------------------------------


def loads_of(first_day: date, last_day: date):
    """Loads that ended in some days, with their trays (4 queries)."""
    return (
        KilnLoad.objects.filter(
            state__in=[KilnLoad.State.COOLED, KilnLoad.State.SPOILED],
            ended_at__gte=day_begins(first_day),
            ended_at__lt=day_begins(last_day + timedelta(days=1)),
        )
        .select_related("kiln")
        .prefetch_related(
            "trays__bead__mould",
            "trays__bead__programme",
            "trays__bead__second_programme",
            "trays__bead__colours__colour",
        )
        .order_by("ended_at", "pk")
    )


def _loads(first_day: date, last_day: date, standards: StandardsOfDays) -> dict[str, object]:
    """What the loads took at standard, good and spoiled apart, and what they burnt."""
    sums = {part: {"good": ZERO, "spoiled": ZERO} for part in ("tending", "fuel", "wear")}
    burnt = ZERO
    taken = _fuel_taken(first_day, last_day)
    for load in loads_of(first_day, last_day):
        cost = _cost_of(load, standards)
        good = load.state == KilnLoad.State.COOLED and bool(load.trays.all())
        kind = "good" if good else "spoiled"
        sums["tending"][kind] += cost.hands
        sums["fuel"][kind] += cost.fuel
        sums["wear"][kind] += cost.wear
        burnt += _burnt(load, cost, taken.get(str(load.number)))
    charged = _charged_by_loads(first_day, last_day)
    return {
        "fuel_burnt": burnt,
        **{
            part: LoadsStandard(each["good"], each["spoiled"], charged[part])
            for part, each in sums.items()
        },
    }


Taken = tuple[int, Decimal]
"""Fuel that left the shelf, in milligrams, and what it was worth there."""


def _fuel_taken(first_day: date, last_day: date) -> dict[str, Taken]:
    """What the loads of some days took of the fuel that is kept in stock, by number (1 query)."""
    rows = (
        Movement.objects.since(first_day)
        .filter(posting__kind=PostingKind.USE, posting__on__lte=last_day)
        .filter(posting__reversed_by__isnull=True, item__use__startswith=FUEL)
        .order_by()
        .values_list("posting__belongs_ref")
        .annotate(Sum("quantity"), Sum("value"))
    )
    return {load: (mg, value) for load, mg, value in rows}


def _burnt(load: KilnLoad, cost: LoadCost, taken: Taken | None) -> Decimal:
    """What a load's fuel cost: from the shelf what it was worth there, the rest at its price."""
    if load.fuel_used is None:
        return cost.fuel
    mg, worth = taken or (0, ZERO)
    rest = Decimal(load.fuel_used) - Decimal(mg) / SMALLEST_IN[KILOGRAM]
    return worth + max(ZERO, rest) * load.kiln.fuel_price


def _cost_of(load: KilnLoad, standards: StandardsOfDays) -> LoadCost:
    """What a load costs at the standards of its day; a mixed one by the places of its trays."""
    return _costs_of(load, standards)[0]


def _costs_of(load: KilnLoad, standards: StandardsOfDays) -> tuple[LoadCost, LoadCost]:
    """What a load costs, and what of that is spent once a run."""
    assert load.ended_at is not None
    day = timezone.localtime(load.ended_at).date()
    today = standards.on(day)
    today.usual_fills.setdefault(load.kiln_id, standards.fill(load.kiln, day))
    trays = list(load.trays.all())
    if not trays:
        return LoadCost(wear=load.kiln.wear_per_load), LoadCost()
    places = [tray.moulds * tray.bead.mould.places for tray in trays]
    costs = [
        load_cost(load.kiln, tray.bead, today, hold_c=Decimal(load.hold_c), firing=tray.firing)
        for tray in trays
    ]
    once_a_run = [run_cost(load.kiln, tray.bead, today) for tray in trays]
    return _by_places(costs, places), _by_places(once_a_run, places)


def _by_places(costs: Sequence[LoadCost], places: Sequence[int]) -> LoadCost:
    parts = dict.fromkeys(LoadCost().parts, ZERO)
    for cost, taken in zip(costs, places, strict=True):
        for name, amount in cost.parts.items():
            parts[name] += amount * taken / sum(places)
    return LoadCost(parts["fuel"], parts["hands"], parts["workshop"], parts["kiln wear"])


def _charged_by_loads(first_day: date, last_day: date) -> dict[str, Decimal]:
    """What loads have put into goods: tending, fuel, wear (2 queries)."""
    by_fire = [LabourRate.Basis.LOAD, LabourRate.Basis.RUN]
    tending = LabourRate.objects.filter(skill=Skill.FIRING, basis__in=by_fire)
    steps = list(tending.values_list("step", flat=True).distinct())
    by_load = Q(name=ChargeName.HANDS, step__in=steps, posting__belongs_kind="load")
    rows = (
        Charge.objects.filter(on__range=(first_day, last_day))
        .filter(by_load | Q(name__in=[ChargeName.FUEL, ChargeName.WEAR]))
        .order_by()
        .values_list("name")
        .annotate(Sum("amount"))
    )
    found = dict(rows)
    names = (("tending", ChargeName.HANDS), ("fuel", ChargeName.FUEL), ("wear", ChargeName.WEAR))
    return {part: found.get(name) or ZERO for part, name in names}


# --- standing costs ------------------------------------------------------------------------------


def _by_month(first_day: date, last_day: date, standards: StandardsOfDays, field: str) -> Decimal:
    """A month's costs × months; of a part of a month, its days over the days of the month."""
    whole = sum(
        (
            Fraction(getattr(standards.standing_on(day), field))
            / monthrange(day.year, day.month)[1]
            for day in _days(first_day, last_day)
        ),
        Fraction(0),
    )
    return Decimal(whole.numerator) / whole.denominator


def _days(first_day: date, last_day: date) -> Iterator[date]:
    for n in range((last_day - first_day).days + 1):
        yield first_day + timedelta(days=n)


# --- what a line opens ---------------------------------------------------------------------------


@dataclass(frozen=True)
class TicketLine:
    """A ticket, and what it earned; None where no rate held on its day."""

    ticket: WorkTicket
    pay: Decimal | None


def tickets_opened(first_day: date, last_day: date) -> list[TicketLine]:
    """The tickets of some days with their pay, rounded as on the slip (6 queries)."""
    business, standards = Business.in_force(), StandardsOfDays()
    tickets = WorkTicket.objects.filter(on__range=(first_day, last_day))
    found = []
    for ticket in tickets.select_related("bead", "hand").order_by("on", "pk"):
        earned = standards.on(ticket.on).earned(ticket)
        pay = round_half_up(earned[2], business.currency) if earned else None
        found.append(TicketLine(ticket, pay))
    return found


@dataclass(frozen=True)
class LoadLine:
    """A load: how full it was, what it cost at standard, and what of that stayed over."""

    load: KilnLoad
    filled: int
    fill: Decimal
    cost: Decimal
    put: Decimal

    @property
    def over(self) -> Decimal:
        return self.cost - self.put


def loads_opened(first_day: date, last_day: date) -> list[LoadLine]:
    """The loads of some days, with what each put into goods (10 queries)."""
    standards = StandardsOfDays()
    found = []
    loads = list(loads_of(first_day, last_day))
    in_runs = places_of_runs(loads)
    for load in loads:
        cost, once_a_run = _costs_of(load, standards)
        assert load.ended_at is not None
        day = timezone.localtime(load.ended_at).date()
        fill, run = standards.fill(load.kiln, day).share, standards.on(day).usual_run(load.kiln)
        filled = sum(tray.moulds * tray.bead.mould.places for tray in load.trays.all())
        put = ZERO
        if load.state == KilnLoad.State.COOLED:
            share = in_goods(load, filled, in_runs.get(load.pk), fill, run)
            put = share.of(cost.whole, once_a_run.whole)
        found.append(LoadLine(load, filled, fill, cost.whole, put))
    return found
