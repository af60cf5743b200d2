"""Which steps an order takes, how many units of each, and what they add up to."""

from decimal import Decimal
from typing import Protocol

from orders.costing.bead_unit import rates_by_step
from orders.costing.facts import (
    FIRING,
    PAINTING,
    PER_BEAD,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PER_ORDER,
    PER_STRAND,
    PREPARING,
    STRINGING,
    Key,
    RateFacts,
    WorkshopFacts,
)
from orders.costing.labour import pay, setup_pay, standard_min
from orders.costing.numbers import G_PER_KG, ZERO
from orders.costing.results import FiringCosting, LabourCosting


class Work:
    """Units, minutes and pay of one rate while they are being added up."""

    __slots__ = ("each_min", "minutes", "pay", "rate", "timed", "units")

    def __init__(self, rate: RateFacts) -> None:
        self.rate = rate
        self.each_min = standard_min(rate.minutes_each, rate.allowance)
        self.units = self.timed = self.minutes = self.pay = ZERO

    def add(self, units: Decimal | int, timed: Decimal | int | None = None) -> Decimal:
        """So many units more; ``timed`` when learning makes them take the time of others."""
        timed = units if timed is None else timed
        minutes = self.each_min * timed
        paid = pay(self.rate, units, minutes)
        self.units += units
        self.timed += timed
        self.minutes += minutes
        self.pay += paid
        return paid


class BeadsMade(Protocol):
    """What the work of making beads depends on."""

    @property
    def start(self) -> int: ...
    @property
    def painted(self) -> int: ...
    @property
    def fill_g(self) -> Decimal: ...
    @property
    def glass_g(self) -> tuple[tuple[Key, str, Decimal], ...]: ...
    @property
    def firings(self) -> tuple[FiringCosting, ...]: ...


def bead_units(
    rate: RateFacts, bead: BeadsMade, left: dict[tuple[Key, str], Decimal]
) -> Decimal | int:
    """Units of a step that making these beads takes, by the rate's basis and skill."""
    if rate.basis == PER_KG:
        if rate.skill == PREPARING:
            glass_g = sum(
                (glass_g * left[colour, form] for colour, form, glass_g in bead.glass_g if glass_g),
                ZERO,
            )
        else:
            glass_g = bead.fill_g * bead.start
        return glass_g / G_PER_KG
    if rate.basis == PER_MOULD:
        if rate.skill == FIRING:
            return sum(firing.fills for firing in bead.firings)
        return bead.firings[0].fills
    if rate.basis == PER_BEAD:
        return bead.painted if rate.skill == PAINTING else bead.start
    assert rate.basis == PER_LOAD
    return sum((firing.share for firing in bead.firings), ZERO)


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
    kept = workshop._kept.get("order rates")
    if kept is None:
        rates = (rate for rates in rates_by_step(workshop).values() for rate in rates)
        kept = workshop._kept["order rates"] = tuple(
            rate for rate in rates if rate.basis == PER_ORDER
        )
    return kept


def labour_costing(work: Work) -> LabourCosting:
    rate = work.rate
    setup_min = Decimal(rate.setup_min)
    return LabourCosting(
        rate=rate.key,
        step=rate.step,
        skill=rate.skill,
        basis=rate.basis,
        units=work.units,
        timed=work.timed,
        minutes_each=work.each_min,
        setup_min=setup_min,
        minutes=work.minutes + setup_min,
        cost=work.pay + setup_pay(rate),
    )
