"""Which steps an order takes, how many units of each, and what they add up to in time and pay.

minutes = set-up + standard minutes each × units; pay by the piece if so agreed, else by the hour.
What a unit is, and the learning curve: see labour.py.
"""

from dataclasses import dataclass
from typing import NamedTuple

from orders.costing.bead_unit import rates_by_step
from orders.costing.checks import exact, number, whole
from orders.costing.facts import (
    BASES,
    FIRING,
    PAINTING,
    PER_BEAD,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PER_ORDER,
    PER_RUN,
    PER_STRAND,
    PREPARING,
    STRINGING,
    BeadFacts,
    LearningFacts,
    RateFacts,
    WorkshopFacts,
)
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.firing import part_of_runs
from orders.costing.making import Making, Prepared
from orders.costing.numbers import ONE
from orders.costing.results import LabourCosting
from workshop.physics.sentences import gettext_noop as _

BASIC = fact(_("Basic time each"), "min", "rate")
ALLOWANCE = fact(_("Allowance"), "", "rate")
STANDARD = rule(_("Standard time each"), "min", "with")
SETUP = fact(_("Set-up"), "min", "rate", "setup")
HOURLY = fact(_("Pay by the hour"), MONEY, "rate")
PIECE = fact(_("Pay by the piece"), MONEY, "rate")
EMPLOYER = fact(_("Employer's share"), "", "standing costs")
HOURLY_COSTS = rule(_("An hour costs"), MONEY, "with")
PIECE_COSTS = rule(_("A piece costs"), MONEY, "with")
TIMES_LONGER = fact(_("Times the usual"), "", "pattern")
OWN_MINUTES = fact(_("Minutes of this bead"), "min", "bead")
USUAL_MINUTES = fact(_("Minutes of the rate"), "min", "rate")
OWN_LONGER = rule(_("Times the usual"), "", "quotient")
LONGER = rule(_("Usual units of that time"), "", "product")
OWN_PIECE = fact(_("Pay of this bead, a piece"), MONEY, "bead")
OWN_PIECES = rule(_("Times the usual"), "", "quotient")
PAID_AS = rule(_("Usual pieces of that pay"), "", "product")
SETUP_PAY = rule(_("Pay for the set-up"), MONEY, "paid_by_hour", "setup pay")
AT_WORK = rule(_("Minutes at work"), "min", "product")
PAY_BY_HOUR = rule(_("Pay"), MONEY, "paid_by_hour")
PAY_BY_PIECE = rule(_("Pay"), MONEY, "product")

ONE_UNIT = fact(_("Units"), "", "one more")(ONE)
ONCE = fact(_("Once an order"), "", "rate", "units")
UNITS = {basis: total(_("Units"), basis, "units") for basis in BASES}
TIMED = {basis: total(_("Units by the time they take"), basis) for basis in BASES}
MINUTES = total(_("Minutes"), "min", "minutes")
LABOUR = total(_("Labour"), MONEY)

PART_TO_PREPARE = rule(_("Its part of what is to prepare"), "g", "share")
GLASS_TO_PREPARE = rule(_("Glass to prepare"), "kg", "thousandth")
GLASS_FILLED = rule(_("Glass filled"), "kg", "per_thousand")
MOULDS = total(_("Moulds"), "moulds", nothing=0)
BEADS = rule(_("Beads"), "beads", "same")
KILN_LOADS = total(_("Kiln loads"), "loads")
RUNS = total(_("Runs of a kiln kept hot"), "runs", nothing=0)

LEARNING_RATE = fact(_("Learning rate"), "", "Wright 1936, cumulative average")
FIRST_ONE = fact(_("Time of the first one"), "", "design")
MADE_BEFORE = fact(_("Made before"), "pieces", "design")
PRACTISED = fact(_("Practised after"), "pieces", "design")
CURVE_STOPS = rule(_("The curve stops after"), "pieces", "on_curve")
LEARNED = rule(_("Standard units while learning"), "", "learned")


class Paid(NamedTuple):
    """What hands are paid for some units, and the minutes these take."""

    pay: Figure
    minutes: Figure


@dataclass(frozen=True, slots=True)
class RateFigures:
    """One labour rate before any order: standard time each, set-up, and what is paid for it."""

    facts: RateFacts
    key: str
    each_min: Figure
    setup_min: Figure
    hourly: Figure
    piece: Figure | None
    setup_pay: Figure

    @property
    def one(self) -> Figure:
        """Pay of one unit: by the piece, else for its standard minutes."""
        if self.piece is not None:
            return self.piece
        return PAY_BY_HOUR(self.facts.step, self.each_min, self.hourly, key=self.key)

    def one_of(self, bead: BeadFacts) -> Figure:
        """The same for one bead, by its own minutes or pay or by its pattern."""
        if self.piece is not None:
            return PAY_BY_PIECE(self.facts.step, self.piece, paid_units(self.facts, bead, ONE_UNIT))
        minutes = AT_WORK(self.facts.step, self.each_min, longer_units(self.facts, bead, ONE_UNIT))
        return PAY_BY_HOUR(self.facts.step, minutes, self.hourly)

    def pay(self, paid_as: Figure, timed: Figure, key: str) -> Paid:
        """Pay for some units, without the set-up: by the piece, else for the minutes they take.

        paid_as  units by what is paid for them; timed: by the time they take
        """
        step = self.facts.step
        minutes = AT_WORK(step, self.each_min, timed, key=key)
        if self.piece is not None:
            return Paid(PAY_BY_PIECE(step, self.piece, paid_as, key=key), minutes)
        return Paid(PAY_BY_HOUR(step, minutes, self.hourly, key=key), minutes)


def rate_figures(workshop: WorkshopFacts, rate: RateFacts) -> RateFigures:
    """A rate's figures; worked out once per workshop's facts."""
    kept = workshop._kept.get(("rate", rate.key))
    if kept is None:
        kept = workshop._kept["rate", rate.key] = _rate_figures(rate)
    return kept


def _rate_figures(rate: RateFacts) -> RateFigures:
    step = rate.step
    setup, hourly = SETUP(exact(rate.setup_min), step), HOURLY(rate.hourly, step)
    piece = None if rate.piece is None else PIECE(rate.piece, step)
    if rate.employer_share:
        on_top = EMPLOYER(number(rate.employer_share, "employer_share", step, most=100), step)
        hourly = HOURLY_COSTS(step, hourly, on_top)
        piece = piece and PIECE_COSTS(step, piece, on_top)
    return RateFigures(
        facts=rate,
        key=f"rate {rate.key}",
        each_min=STANDARD(step, BASIC(rate.minutes_each, step), ALLOWANCE(rate.allowance, step)),
        setup_min=setup,
        hourly=hourly,
        piece=piece,
        setup_pay=SETUP_PAY(step, setup, hourly),
    )


class Work:
    """Units of one rate while they are being gathered for an order."""

    __slots__ = ("paid_as", "rate", "timed", "units")

    def __init__(self, rate: RateFigures) -> None:
        self.rate = rate
        self.units: list[Figure] = []
        self.timed: list[Figure] = []
        self.paid_as: list[Figure] = []

    def add(
        self, units: Figure, timed: Figure | None = None, paid_as: Figure | None = None
    ) -> Paid:
        """So many units more; ``timed`` when they take the time of others, ``paid_as`` when they
        are paid like others.

        Gives the pay for them and their minutes.
        """
        timed = units if timed is None else timed
        paid_as = units if paid_as is None else paid_as
        self.units.append(units)
        self.timed.append(timed)
        self.paid_as.append(paid_as)
        return self.rate.pay(paid_as, timed, self.rate.key)

    def costing(self) -> LabourCosting:
        """The whole step: its units, minutes and pay."""
        of, rate = self.rate, self.rate.facts
        if rate.basis == PER_ORDER:
            (units,) = timed = self.units
        else:
            units, timed = UNITS[rate.basis](rate.step, self.units), self.timed
        takes = units
        if self.timed != self.units:
            slower = TIMED[rate.basis](rate.step, timed)
            takes = units if slower.value == units.value else slower
        paid_as = units
        if self.paid_as != self.units:
            paid_as = TIMED[rate.basis](rate.step, self.paid_as)
        paid = of.pay(paid_as, takes, "pay for units")
        return LabourCosting(
            rate=rate.key,
            step=rate.step,
            skill=rate.skill,
            basis=rate.basis,
            units=units,
            timed=takes,
            minutes_each=of.each_min,
            setup_min=of.setup_min,
            minutes=MINUTES(rate.step, [of.setup_min, paid.minutes]),
            cost=LABOUR(rate.step, [of.setup_pay, paid.pay], of.key),
        )


def bead_units(rate: RateFacts, made: Making, prepared: Prepared) -> Figure:
    """Units of a step that making these beads takes, by the rate's basis and skill [basis].

    prepared  the order's glass by colour and form
    """
    name, key = made.unit.facts.name, f"bead {made.unit.facts.key}"
    if rate.basis == PER_KG:
        if rate.skill == PREPARING:
            return GLASS_TO_PREPARE(name, *_parts_to_prepare(made, prepared), key=key)
        return GLASS_FILLED(name, made.unit.fill_g, made.start, key=key)
    if rate.basis == PER_MOULD:
        firings = made.firings if rate.skill == FIRING else made.firings[:1]
        return MOULDS(name, [firing.figure("fills") for firing in firings], key)
    if rate.basis == PER_BEAD:
        painted = made.painted if rate.skill == PAINTING else None
        return BEADS(name, painted or made.start, key=key)
    if rate.basis == PER_RUN:
        units = zip(made.unit.firings, made.firings, strict=True)
        parts = [part_of_runs(unit, firing.figure("share")) for unit, firing in units]
        return RUNS(name, [part for part in parts if part is not None], key)
    assert rate.basis == PER_LOAD
    return KILN_LOADS(name, [firing.figure("share") for firing in made.firings], key)


def longer_units(rate: RateFacts, facts: BeadFacts, units: Figure) -> Figure:
    """Units of usual length that so many of this bead take: by its own minutes or its pattern."""
    own = dict(facts.own_minutes).get(rate.skill)
    if own is not None and rate.minutes_each:
        minutes = OWN_MINUTES(own, facts.name), USUAL_MINUTES(rate.minutes_each, rate.step)
        return LONGER(facts.name, units, OWN_LONGER(facts.name, *minutes), key=units.key)
    times = dict(facts.times_longer).get(rate.skill, ONE)
    if times == ONE:
        return units
    return LONGER(facts.name, units, TIMES_LONGER(times, facts.name), key=units.key)


def paid_units(rate: RateFacts, facts: BeadFacts, units: Figure) -> Figure:
    """Usual pieces that so many of this bead are paid like: by its own pay or its pattern."""
    own = dict(facts.own_pieces).get(rate.skill)
    if own is not None and rate.piece:
        pay = OWN_PIECE(own, facts.name), PIECE(rate.piece, rate.step)
        return PAID_AS(facts.name, units, OWN_PIECES(facts.name, *pay), key=units.key)
    times = dict(facts.times_longer).get(rate.skill, ONE)
    if rate.piece is None or times == ONE:
        return units
    return PAID_AS(facts.name, units, TIMES_LONGER(times, facts.name), key=units.key)


def _parts_to_prepare(made: Making, prepared: Prepared) -> list[Figure]:
    """For each colour, what of the beads' glass still has to be prepared."""
    parts = []
    for part, glass in zip(made.unit.colours, made.glass, strict=True):
        if glass.value:
            of_form = prepared[part.colour.key, part.form.facts.form]
            whole = of_form.figure("to_prepare_g"), of_form.figure("needed_g")
            parts.append(PART_TO_PREPARE("", glass, *whole, key=f"colour {part.colour.key}"))
    return parts


def learned_units(learning: LearningFacts, strung: Figure, subject: str) -> Figure:
    """Standard units that stringing so many takes while the hands are learning the design."""
    rate = number(learning.rate, "rate", subject, above=True, most=1)
    first = number(learning.first_unit_times, "first_unit_times", subject, above=True, most=1000)
    before = whole(learning.made_before, "count", subject, most=10**9)
    practised = whole(learning.practised or 0, "practised", subject, most=10**9)
    curve = FIRST_ONE(first, subject), LEARNING_RATE(rate, subject)
    until = [PRACTISED(practised, subject)] if practised else []
    stops = CURVE_STOPS(subject, *curve, *until)
    return LEARNED(subject, strung, curve[1], curve[0], MADE_BEFORE(before, subject), stops)


def line_rates(workshop: WorkshopFacts) -> tuple[RateFacts, ...]:
    """Rates of stringing: per strand, and per bead where the skill is stringing."""
    kept = workshop._kept.get("line rates")
    if kept is None:
        rates = (rate for rates in rates_by_step(workshop).values() for rate in rates)
        kept = workshop._kept["line rates"] = tuple(
            rate
            for rate in rates
            if rate.basis == PER_STRAND or (rate.basis == PER_BEAD and rate.skill == STRINGING)
        )
    return kept


def order_rates(workshop: WorkshopFacts) -> tuple[RateFacts, ...]:
    """Rates of what is done once an order, such as packing it."""
    kept = workshop._kept.get("order rates")
    if kept is None:
        rates = (rate for rates in rates_by_step(workshop).values() for rate in rates)
        kept = workshop._kept["order rates"] = tuple(
            rate for rate in rates if rate.basis == PER_ORDER
        )
    return kept


def once_an_order(rate: RateFacts) -> Figure:
    """The one unit of a step that is done once an order."""
    return ONCE(ONE, rate.step)
