"""Out of pocket: what leaves the drawer because of an order, and would stay there without it.

Raw glass for all that is started, at the price of today, also for what lies prepared or strung,
for it is bought again; pigment, paint and findings; wear and wash of moulds; pay by the piece. Pay
by the hour only where hands are paid when there is work. Of the kiln the loads that are lit for
this order, whole: fuel and wear (`new_loads.py`). Beads from the shelf: what one more costs so, in
a usual load.

Source: relevant cost, as published teaching texts on pricing a special order have it: material in
regular use at its replacement price, spare paid hours at nothing, sunk cost not at all.
"""

from collections.abc import Sequence

from orders.costing.bead_unit import BeadUnit, bead_unit
from orders.costing.errors import CostingError
from orders.costing.facts import (
    FIRING,
    PAINTING,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PER_RUN,
    Key,
    KilnFacts,
    RateFacts,
    WorkshopFacts,
)
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.firing import FUEL_COST, FiringUnit, firing_unit, part_of_runs
from orders.costing.making import PIGMENT, PIGMENT_G, BeadCosts, BeadsAsked
from orders.costing.numbers import ZERO
from orders.costing.work import Paid, RateFigures, rate_figures
from workshop.physics.sentences import gettext_noop as _

RAW = total(_("Raw glass bought for it"), MONEY, "raw glass")
MADE = total(_("Out of pocket, made"), MONEY)
OF_BEAD = total(_("Out of pocket"), MONEY, "out of pocket")
TAKEN = fact(_("Taken from the shelf"), "beads", "stock")
AGAIN = rule(_("Making as many again"), MONEY, "product")
UNKNOWN_AGAIN = fact(_("Out of pocket for one more"), MONEY, "bead: cannot be made as it stands")

# One more of a bead: what one that is started takes, over what comes good.
ONE_STARTED = fact(_("Beads"), "beads", "one more")(1)
GLASS_OF_ONE = rule(_("Prepared glass for a bead"), "g", "product")
REACH = rule(_("Reaches it"), "", "without")
PART_OF_FILL = rule(_("Its part of a filling"), "moulds", "quotient")
FILLS = total(_("Its part of all fillings"), "moulds")
FILLING = rule(_("Wear and wash"), MONEY, "product")
PLACES = rule(_("Its places"), "places", "product")
ROOM = rule(_("Its part of a usual load"), MONEY, "share")
PER_PIECE = rule(_("Pay"), MONEY, "product")
KILOGRAMS = rule(_("Glass filled"), "kg", "thousandth")
PAINT_REACHING = rule(_("Paint"), MONEY, "without")
PAY_REACHING = rule(_("Pay"), MONEY, "without")
AS_PAID = rule(_("Pay"), MONEY, "same")
ONE_MORE = total(_("One that is started"), MONEY)
ONE_GOOD = rule(_("Out of pocket for one more"), MONEY, "before_loss")

OF_LOAD = total(_("Out of pocket for a load"), MONEY)
OF_RUN = rule(_("Its part of the run's pay"), MONEY, "quotient")
BY_FIRE = frozenset({PER_LOAD, PER_RUN})  # paid for lighting and tending, whatever lies in it


def is_paid(workshop: WorkshopFacts, rate: RateFigures) -> bool:
    """Whether a step's pay is spent because of the order: by the piece, or hours when worked."""
    return rate.piece is not None or workshop.policy.hours_when_worked


def of_load(workshop: WorkshopFacts, firing: FiringUnit, rates: Sequence[RateFacts]) -> Figure:
    """What lighting a load takes out of the drawer: fuel, wear, tending where it is paid so."""
    parts = [FUEL_COST(firing.kiln.name, firing.load_fuel, firing.fuel_price, key="fuel")]
    if firing.wear.value:
        parts.append(firing.wear)
    for facts in rates:
        rate = rate_figures(workshop, facts)
        if not is_paid(workshop, rate):
            continue
        if facts.basis == PER_LOAD:
            parts.append(rate.one)
        elif facts.basis == PER_RUN and (part := part_of_runs(firing, rate.one, OF_RUN)):
            parts.append(part)
    return OF_LOAD(firing.kiln.name, parts)


def load_of(
    workshop: WorkshopFacts, bead: Key, number: int, kiln: Key
) -> tuple[Figure, FiringUnit]:
    """What a load of a bead takes in the kiln it is lit in, and the firing there."""
    kept = workshop._kept.get(("load", bead, number, kiln))
    if kept is None:
        unit = bead_unit(workshop, bead)
        firing = unit.firings[number - 1]
        if firing.kiln.key != kiln:
            masses = (unit.fired_g, unit.finished_g)
            chosen = _kiln(workshop, kiln)
            firing = firing_unit(
                workshop,
                unit.facts,
                number,
                firing.rejects_before,
                masses[min(number, 2) - 1],
                chosen,
            )
        kept = workshop._kept["load", bead, number, kiln] = (
            of_load(workshop, firing, unit.rates),
            firing,
        )
    return kept


def _kiln(workshop: WorkshopFacts, key: Key) -> KilnFacts:
    return next(kiln for kiln in workshop.kilns if kiln.key == key)


def of_making(
    workshop: WorkshopFacts,
    asked: BeadsAsked,
    costs: BeadCosts,
    steps: Sequence[tuple[RateFigures, Paid]],
) -> Figure:
    """What making an order's beads takes out of the drawer, without the loads.

    steps  the work of making them, and what is paid for it
    """
    made = asked.making
    assert made is not None
    parts = [RAW(made.unit.facts.name, _raw(made.unit, made.glass))]
    parts += [figure for figure in (costs.pigment, costs.moulds) if figure.value]
    parts += [
        paid.pay
        for rate, paid in steps
        if is_paid(workshop, rate) and rate.facts.basis not in BY_FIRE
    ]
    return MADE(made.unit.facts.name, parts)


def _raw(unit: BeadUnit, grams: Sequence[Figure]) -> list[Figure]:
    """Raw glass at the price of today, colour by colour."""
    return [
        part.colour.raw_cost(glass, part.form, part.colour.price_now, f"colour {part.colour.key}")
        for part, glass in zip(unit.colours, grams, strict=True)
    ]


def of_beads(workshop: WorkshopFacts, asked: BeadsAsked, made: Figure | None) -> Figure:
    """What an order's beads of a kind take out of the drawer, made or from the shelf."""
    parts = [] if made is None else [made]
    from_shelf = asked.needed.value - asked.to_make.value
    if from_shelf:
        name = asked.facts.name
        parts.append(AGAIN(name, TAKEN(from_shelf, name), one_more(workshop, asked.facts.key)))
    return OF_BEAD(asked.facts.name, parts, f"bead {asked.facts.key}")


def one_more(workshop: WorkshopFacts, key: Key) -> Figure:
    """What one more good bead of a kind takes out of the drawer; worked out once.

    A bead that cannot be made as things stand is not made again, so it takes nothing.
    """
    kept = workshop._kept.get(("again", key))
    if kept is None:
        try:
            kept = _one_more(workshop, bead_unit(workshop, key))
        except CostingError:
            kept = UNKNOWN_AGAIN(ZERO, workshop.beads[key].name)
        workshop._kept["again", key] = kept
    return kept


def _one_more(workshop: WorkshopFacts, unit: BeadUnit) -> Figure:
    name = unit.facts.name
    glass = [GLASS_OF_ONE(part.share.subject, unit.fill_g, part.share) for part in unit.colours]
    parts = [RAW(name, _raw(unit, glass))]
    if unit.dose.value:
        pigment_g = PIGMENT_G(name, ONE_STARTED, unit.fill_g, unit.dose)
        parts.append(PIGMENT("", pigment_g, unit.dose_price))
    for firing in unit.firings:
        parts += _fired(workshop, unit, firing)
    if unit.facts.painted and unit.paint_price.value:
        parts.append(PAINT_REACHING("", unit.paint_price, unit.rejects[0]))
    parts += [part for facts in unit.rates if (part := _paid(workshop, unit, facts)) is not None]
    return ONE_GOOD(name, ONE_MORE(name, parts), unit.reject_rate)


def _fired(workshop: WorkshopFacts, unit: BeadUnit, firing: FiringUnit) -> list[Figure]:
    """A bead's part of one firing: of the filling's wear and wash, and of a usual load."""
    fill, parts = _part_of_fill(firing), []
    key = f"firing {firing.number}"
    if firing.of_filling is not None:
        parts.append(FILLING(firing.mould.name, firing.of_filling, fill, key=f"{key} filling"))
    load, _firing = load_of(workshop, unit.facts.key, firing.number, firing.kiln.key)
    places = PLACES("", fill, firing.places_each)
    parts.append(ROOM(firing.kiln.name, load, places, firing.usual_places, key=f"{key} load"))
    return parts


def _part_of_fill(firing: FiringUnit) -> Figure:
    """What one bead that is started fills of a mould, if it reaches this firing."""
    fill = PART_OF_FILL(firing.mould.name, ONE_STARTED, firing.cavities)
    for rate in firing.rejects_before:
        fill = REACH(firing.mould.name, fill, rate)
    return fill


def _paid(workshop: WorkshopFacts, unit: BeadUnit, facts: RateFacts) -> Figure | None:
    """Pay of one step for one bead that is started, where it is spent because of it."""
    rate = rate_figures(workshop, facts)
    if facts.basis in BY_FIRE or not is_paid(workshop, rate):
        return None
    each = rate.one_of(unit.facts)
    key = f"rate {facts.key}"
    if facts.basis == PER_KG:
        return PER_PIECE(facts.step, each, KILOGRAMS("", unit.fill_g), key=key)
    if facts.basis == PER_MOULD:
        firings = unit.firings if facts.skill == FIRING else unit.firings[:1]
        fills = FILLS(unit.facts.name, [_part_of_fill(firing) for firing in firings])
        return PER_PIECE(facts.step, each, fills, key=key)
    if facts.skill == PAINTING:
        return PAY_REACHING(facts.step, each, unit.rejects[0], key=key)
    return AS_PAID(facts.step, each, key=key)
