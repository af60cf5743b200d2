"""Beads of one kind for an order: how many are needed, taken from the shelf, started and painted;
what glass goes into them, where they are fired, and what making them costs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.bead_unit import BeadUnit, bead_unit
from orders.costing.checks import number
from orders.costing.errors import CostingError
from orders.costing.facts import BeadFacts, Key, WorkshopFacts
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.firing import fire
from orders.costing.netting import Shelf
from orders.costing.numbers import ZERO
from orders.costing.results import FiringCosting, PreparedCosting, Taken
from workshop.physics.sentences import gettext_noop as _

NEEDED = total(_("Beads needed"), "beads", "needed", nothing=0)
ASSURANCE = fact(_("Assurance"), "", "owner's choice")
TO_START = _("Beads to start")
START = rule(TO_START, "beads", "start", "start")
START_SCATTERED = rule(TO_START, "beads", "start_scattered", "start")
WHOLE_MOULDS = rule(TO_START, "beads", "whole_multiple", "start")
ENOUGH = rule(_("Enough"), "beads", "start")
ENOUGH_SCATTERED = rule(_("Enough"), "beads", "start_scattered")
PAINTED = rule(_("Beads painted"), "beads", "survivors")
GLASS = rule(_("Prepared glass for a bead"), "g", "product")

PIGMENT_G = rule(_("Pigment needed"), "g", "per_thousand")
PIGMENT = rule(_("Pigment"), MONEY, "per_thousand")
PAINT = rule(_("Paint"), MONEY, "product")
PIGMENT_AND_PAINT = total(_("Pigment and paint"), MONEY)
PART_OF_GLASS = rule(_("Glass"), MONEY, "share")
GLASS_COST = total(_("Glass"), MONEY, "glass")
FUEL_COST = total(_("Fuel"), MONEY, "fuel")
LABOUR_COST = total(_("Labour"), MONEY, "labour")
WEAR_COST = total(_("Wear of the kiln"), MONEY, "wear")
MOULD_COST = total(_("Moulds and wash"), MONEY, "moulds")
MINUTES = total(_("Minutes at work"), "min")
W_MINUTE = fact(_("Workshop costs of a minute"), MONEY, "standing costs")
WORKSHOP_COST = rule(_("Workshop costs"), MONEY, "product", "workshop")
NO_WORKSHOP = fact(_("Workshop costs"), MONEY, "standing costs", "workshop")
# Rejects come back as glass, worth the raw glass they replace.
REJECTS = rule(_("Rejects expected"), "beads", "product")
REACHING = rule(_("Beads that reach it"), "beads", "without")
SCRAP_OF = rule(_("Glass of the rejects"), MONEY, "per_thousand")
SCRAP = total(_("Glass of the rejects"), MONEY, "scrap")
SPENT = total(_("Spent on all that are started"), MONEY)
COST_OF_ALL = rule(_("Cost of all that are started"), MONEY, "difference")
COST = rule(_("Cost of making"), MONEY, "borne")
WHOLE_COST = rule(_("Cost of making"), MONEY, "same")
LEFT_OVER = rule(_("Likely left over"), MONEY, "difference", "left over")
NOT_MADE = fact(_("Cost of making"), MONEY, "stock")

Share = tuple[int, Figure]  # index of a line, and the beads that it needs


@dataclass(slots=True)
class Making:
    """Beads of one kind that are made, as far as the glass and the kiln go.

    painted  None for beads that are not painted
    glass    prepared glass for all that are started [g], colour by colour
    """

    unit: BeadUnit
    start: Figure
    painted: Figure | None
    glass: tuple[Figure, ...]
    firings: tuple[FiringCosting, ...]


@dataclass(slots=True)
class BeadsAsked:
    """Beads of one kind that an order asks for: by which lines, what the shelf has of them, and
    how the rest is made (None when nothing is left to make)."""

    facts: BeadFacts
    shares: Sequence[Share]
    needed: Figure
    taken: tuple[Taken, ...]
    to_make: Figure
    making: Making | None


def beads_asked(
    workshop: WorkshopFacts, key: Key, shares: Sequence[Share], shelf: Shelf
) -> BeadsAsked:
    """Take what the shelf has of a bead, and start enough of the rest."""
    facts = workshop.beads[key]
    try:
        needed = NEEDED(facts.name, [count for _line, count in shares])
        taken, to_make = shelf.take_beads(facts, needed)
        # Beads that all lie on the shelf ask for no mould, kiln or glass.
        making = _making(workshop, bead_unit(workshop, key), to_make) if to_make.value else None
    except CostingError as error:
        if not error.subject:
            error.subject = facts.name
        if error.line is None:
            error.line = shares[0][0]
        raise
    return BeadsAsked(facts, shares, needed, taken, to_make, making)


def _making(workshop: WorkshopFacts, unit: BeadUnit, to_make: Figure) -> Making:
    facts = unit.facts
    start = _start(workshop, unit, to_make)
    firings = []
    for firing in unit.firings:
        firings.append(fire(firing, facts.name, start))
    key = f"bead {facts.key}"
    return Making(
        unit=unit,
        start=start,
        painted=PAINTED(facts.name, start, unit.rejects[0]) if facts.painted else None,
        glass=tuple(
            [
                GLASS(part.share.subject, start, unit.fill_g, part.share, key=key)
                for part in unit.colours
            ]
        ),
        firings=tuple(firings),
    )


def _start(workshop: WorkshopFacts, unit: BeadUnit, to_make: Figure) -> Figure:
    """The least that leaves enough good ones; whole moulds of them if the owner says so."""
    choices, name = workshop.choices, unit.facts.name
    rejects = (unit.reject_rate,) if unit.scatter is None else unit.scatter
    asked = to_make, *rejects, ASSURANCE(choices.assurance)
    if not choices.whole_moulds:
        return (START if unit.scatter is None else START_SCATTERED)(name, *asked)
    enough = (ENOUGH if unit.scatter is None else ENOUGH_SCATTERED)(name, *asked)
    return WHOLE_MOULDS(name, enough, unit.firings[0].cavities)


@dataclass(slots=True)
class BeadCosts:
    """What making all beads of a kind costs.

    of_all  the cost of all that are started; cost the part of it that the order bears
    """

    glass: Figure
    pigment: Figure
    fuel: Figure
    wear: Figure
    moulds: Figure
    labour: Figure
    workshop: Figure
    scrap: Figure
    of_all: Figure
    cost: Figure
    left_over: Figure
    pigment_g: Figure | None = None


# Prepared glass by colour and form, for all beads of the order.
Prepared = Mapping[tuple[Key, str], PreparedCosting]


def cost_of_making(
    workshop: WorkshopFacts,
    asked: "BeadsAsked",
    prepared: Prepared,
    pay: Sequence[Figure],
    minutes: Sequence[Figure],
) -> BeadCosts:
    """What beads that are made cost, in the workshop's money, and what of it the order bears.

    prepared      the order's glass by colour and form; each bead has its part by grams
    pay, minutes  for each step of their making

    The beads likely left over lie on the shelf at their cost, and whoever takes them is charged.

    Source: IAS 2.10 to 13 (glass, labour and production overheads at usual fill); costs are added
    up unrounded (convention of the workshop).
    """
    made = asked.making
    assert made is not None
    unit, name, key = made.unit, made.unit.facts.name, f"bead {made.unit.facts.key}"
    parts = []
    for part, grams in zip(unit.colours, made.glass, strict=True):
        of_form = prepared[part.colour.key, part.form.facts.form]
        if of_form.needed_g:
            whole = of_form.figure("cost"), of_form.figure("needed_g")
            of_colour = f"colour {part.colour.key}"
            parts.append(PART_OF_GLASS(part.colour.name, whole[0], grams, whole[1], key=of_colour))
    glass = GLASS_COST(name, parts)
    pigment_g, paints = None, []
    if unit.dose.value:
        pigment_g = PIGMENT_G(name, made.start, unit.fill_g, unit.dose)
        paints.append(PIGMENT("", pigment_g, unit.dose_price))
    if made.painted is not None and unit.paint_price.value:
        paints.append(PAINT("", made.painted, unit.paint_price))
    pigment = PIGMENT_AND_PAINT(name, paints, key)
    fuel = FUEL_COST(name, [firing.figure("fuel_cost") for firing in made.firings])
    wear = WEAR_COST(name, [firing.figure("wear_cost") for firing in made.firings])
    moulds = MOULD_COST(name, [firing.figure("mould_cost") for firing in made.firings])
    labour = LABOUR_COST(name, pay)
    shop = workshop_cost(workshop, name, minutes)
    scrap = _scrap(made)
    spent = SPENT(name, [glass, pigment, fuel, wear, moulds, labour, shop])
    of_all = COST_OF_ALL(name, spent, scrap, key=key)
    if unit.facts.made_to_order:
        cost = WHOLE_COST(name, of_all, key=key)
    else:
        cost = COST(name, of_all, asked.to_make, made.start, unit.reject_rate, key=key)
    left = LEFT_OVER(name, of_all, cost)
    return BeadCosts(
        glass, pigment, fuel, wear, moulds, labour, shop, scrap, of_all, cost, left, pigment_g
    )


def workshop_cost(workshop: WorkshopFacts, name: str, minutes: Sequence[Figure]) -> Figure:
    """Workshop costs of some minutes of work."""
    if not workshop.workshop_minute or not minutes:
        return NO_WORKSHOP(ZERO, name)
    each = number(workshop.workshop_minute, "workshop_minute", "the workshop")
    return WORKSHOP_COST(name, MINUTES(name, minutes), W_MINUTE(each))


def _scrap(made: Making) -> Figure:
    """What the rejects expected bring as glass: each the raw glass that it replaces."""
    unit, name, reaching, parts = made.unit, made.unit.facts.name, made.start, []
    for place, (rate, grams) in enumerate(zip(unit.rejects, unit.reject_g, strict=True), 1):
        if place > 1:
            reaching = REACHING(name, reaching, unit.rejects[place - 2])
        if rate.value and unit.raw_per_kg.value:
            rejects = REJECTS(name, reaching, rate)
            key = f"firing {place}"
            parts.append(SCRAP_OF(name, rejects, grams, unit.raw_per_kg, key=key))
    return SCRAP(name, parts)


def no_cost(facts: BeadFacts) -> Figure:
    """The cost of making beads of which none is made."""
    return NOT_MADE(ZERO, facts.name, f"bead {facts.key}")


def glass_used(made: Making) -> tuple[tuple[Key, str, Decimal], ...]:
    """Prepared glass by colour and form, for all that are started [g]."""
    pairs = zip(made.unit.colours, made.glass, strict=True)
    return tuple([(part.colour.key, part.form.facts.form, grams.value) for part, grams in pairs])
