"""Beads of one kind for an order: how many are needed, taken from the shelf, started and painted;
what glass goes into them, where they are fired, and what making them costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.bead_unit import BeadUnit, bead_unit
from orders.costing.errors import CostingError
from orders.costing.facts import BeadFacts, Key, WorkshopFacts
from orders.costing.figures import MONEY, Figure, fact, rule, total
from orders.costing.firing import fire
from orders.costing.netting import Shelf
from orders.costing.numbers import ZERO
from orders.costing.results import FiringCosting, Taken
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
GLASS_COST = total(_("Glass"), MONEY, "glass")
FUEL_COST = total(_("Fuel"), MONEY, "fuel")
LABOUR_COST = total(_("Labour"), MONEY, "labour")
COST = total(_("Cost of making"), MONEY)
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
        each_g = unit.fired_g if firing.rejects_before else unit.fill_g
        firings.append(fire(firing, facts.name, start, each_g))
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
    """What making all beads of a kind costs."""

    glass: Figure
    pigment: Figure
    fuel: Figure
    labour: Figure
    cost: Figure
    pigment_g: Figure | None = None


def cost_of_making(made: Making, pay: Sequence[Figure]) -> BeadCosts:
    """Glass, pigment and paint, fuel and labour of beads that are made, in the workshop's money.

    pay  for each step of their making

    Source: costs are added up unrounded (convention of the workshop).
    """
    unit, name, key = made.unit, made.unit.facts.name, f"bead {made.unit.facts.key}"
    parts = []
    for part, grams in zip(unit.colours, made.glass, strict=True):
        colour = part.colour
        parts.append(colour.cost(grams, part.form, "", colour.name, f"colour {colour.key}"))
    glass = GLASS_COST(name, parts)
    pigment_g, paints = None, []
    if unit.dose.value:
        pigment_g = PIGMENT_G(name, made.start, unit.fill_g, unit.dose)
        paints.append(PIGMENT("", pigment_g, unit.dose_price))
    if made.painted is not None and unit.paint_price.value:
        paints.append(PAINT("", made.painted, unit.paint_price))
    pigment = PIGMENT_AND_PAINT(name, paints, key)
    fuel = FUEL_COST(name, [firing.figure("fuel_cost") for firing in made.firings])
    labour = LABOUR_COST(name, pay)
    cost = COST(name, [glass, pigment, fuel, labour], key)
    return BeadCosts(glass, pigment, fuel, labour, cost, pigment_g)


def no_cost(facts: BeadFacts) -> Figure:
    """The cost of making beads of which none is made."""
    return NOT_MADE(ZERO, facts.name, f"bead {facts.key}")


def glass_used(made: Making) -> tuple[tuple[Key, str, Decimal], ...]:
    """Prepared glass by colour and form, for all that are started [g]."""
    pairs = zip(made.unit.colours, made.glass, strict=True)
    return tuple([(part.colour.key, part.form.facts.form, grams.value) for part, grams in pairs])
