"""One firing of an order's beads of one kind: moulds filled, room in the kiln, time and fuel.

mould fills = beads ÷ cavities, rounded up; places = fills × places each; fair share of the kiln =
places taken ÷ places of a usual load, which are places of the kiln × its usual fill. Fired alone it
takes fills ÷ fills that go into one load, rounded up, and no load holds more fills than there are
moulds or whole moulds that fit.

Fuel = fuel of a usual load × the share of it. A load's fuel is as weighed; else heat ÷ (efficiency
× heating value), heat = (glass × 1.12 + clay × 1.00 kJ/kgK) × (temperature − 25 °C) of so many
fills of this bead's mould as fill the usual places: a place then bears just its own mould's heat.
Sources: workshop.physics.heat.
"""

from dataclasses import dataclass
from decimal import Decimal

from orders.costing.checks import UNKNOWN, exact, number, whole
from orders.costing.errors import CostingError
from orders.costing.facts import (
    BeadFacts,
    Key,
    KilnFacts,
    MouldFacts,
    ProgrammeFacts,
    WorkshopFacts,
)
from orders.costing.figures import MONEY, Figure, Worked, fact, given, rule, total
from orders.costing.kiln_choice import kiln_for
from orders.costing.kiln_minutes import fire_on_min, parts_of_load
from orders.costing.numbers import MINUTES_AN_HOUR, ONE, ZERO
from orders.costing.results import FiringCosting
from workshop.physics.heat import (
    CLAY_KJ_KG_K,
    DRY_WOOD_MJ_KG,
    FROM_C,
    FUELS,
    GLASS_KJ_KG_K,
    WOOD_WATER_MJ_KG,
)
from workshop.physics.sentences import gettext_noop as _

NO_MOULD = _(
    "No mould for %(subject)s is owned, so it cannot be moulded. Add the mould, or choose another "
    "for this bead."
)

CAVITIES = fact(_("Cavities"), "beads", "mould")
PLACES_EACH = fact(_("Places each"), "places", "mould")
PLACES_IN_KILN = fact(_("Places in the kiln"), "places", "kiln")
USUAL_FILL = fact(_("Usual fill"), "", "measured")
USUAL_PLACES = rule(_("Places of a usual load"), "places", "product")
OWNED = fact(_("Moulds owned"), "moulds", "mould")
ROOM = rule(_("Moulds that fit"), "moulds", "rounded_down")
A_LOAD = rule(_("Fills in one load"), "moulds", "least")
LOAD_MIN = total(_("Minutes of a load"), "min")
# In a kiln kept hot: what the rounds of a run share, and moulds that wait while others are pierced.
WARM_UP = fact(_("Warm-up"), "min", "kiln")
WAITING = fact(_("Waiting hot, a run"), "min", "measured")
SHARED_BY_RUN = total(_("Shared by a run"), "min")
ROUNDS = fact(_("Rounds in a run"), "rounds", "usual")
PART_OF_RUNS = rule(_("Its part of runs"), "runs", "quotient")
PART_OF_RUN = rule(_("Its part of the run"), "min", "quotient")
PIERCE_EACH = fact(_("Piercing a mould"), "min", "bead")
PIERCED = rule(_("Piercing, one hand"), "min", "product")
HANDS = fact(_("Hands that pierce"), "hands", "people")
WAITS = rule(_("Moulds waiting in the heat"), "min", "quotient")
FAIR_ROUNDS = rule(_("Fair minutes of its rounds"), "min", "product")
KILN_MIN_HOT = total(_("Fair share of kiln time"), "min", "kiln time")

FUEL_PRICE = fact(_("Price of fuel"), MONEY, "kiln")
EFFICIENCY = fact(_("Efficiency"), "", "kiln")
CLAY_EACH = fact(_("Clay of a mould"), "g", "mould")
HOT = fact(_("Temperature"), "°C", "programme")
COLD = fact(_("Room temperature"), "°C", "common practice, no source")(FROM_C)
GLASS_CAPACITY = fact(_("Heat capacity of glass"), "kJ/kgK", "Sharp & Ginther 1951")(GLASS_KJ_KG_K)
CLAY_CAPACITY = fact(_("Heat capacity of clay"), "kJ/kgK", "VDI heat atlas")(CLAY_KJ_KG_K)
HEATING_VALUE = fact(_("Heating value"), "MJ", "reference, see fuel")
DRY_WOOD = fact(_("Dry wood"), "MJ/kg", "EN ISO 18125, from memory")(DRY_WOOD_MJ_KG)
WOOD_WATER = fact(_("Taken by its water"), "MJ/kg", "EN ISO 18125, from memory")(WOOD_WATER_MJ_KG)
MOISTURE = fact(_("Moisture"), "", "kiln")
WOOD_VALUE = rule(_("Heating value"), "MJ/kg", "wood_heat")
# Of a kiln whose own heat is known: body ÷ rounds a run + 3.6 × loss × hours of a load.
FIRE = fact(_("Efficiency of the fire"), "", "kiln")
BODY = fact(_("Heat of its body"), "MJ", "kiln")
BODY_OF_LOAD = rule(_("Its body, a load"), "MJ", "quotient")
LOSS = fact(_("Loss while hot"), "kW", "kiln")
HOURS = fact(_("Hours of one load"), "h", "minutes of a load")
MJ_A_KWH = fact(_("MJ in a kWh"), "MJ/kWh", "definition")(Decimal("3.6"))
LOST = rule(_("Lost, a load"), "MJ", "product")
KILN_HEAT = total(_("The kiln itself, a load"), "MJ")
WHOLE_HEAT = total(_("Heat"), "MJ")

REACHED = rule(_("Beads expected to reach it"), "beads", "survivors")
FILLS = rule(_("Mould fills"), "moulds", "rounded_up")
PLACES = rule(_("Places taken"), "places", "product")
SHARE = rule(_("Share of a kiln load"), "loads", "quotient")
LOADS = rule(_("Loads if fired alone"), "loads", "rounded_up")
KILN_MIN = rule(_("Fair share of kiln time"), "min", "product", "kiln time")
USUAL_FILLS = rule(_("Fills of a usual load"), "moulds", "quotient")
GLASS = rule(_("Glass heated"), "g", "product")
CLAY = rule(_("Clay heated"), "g", "product")
HEAT = rule(_("Heat"), "MJ", "heat")
FUEL_COST = rule(_("Fuel"), MONEY, "product")
WEAR = fact(_("Wear of the kiln, a load"), MONEY, "kiln")
WEAR_COST = rule(_("Wear of the kiln"), MONEY, "product")
NO_WEAR = fact(_("Wear of the kiln"), MONEY, "kiln")
# By the unit the fuel is sold in: what a load takes, as weighed or for its heat, and the share.
FUEL_OF_LOAD = {unit: fact(_("Fuel for a load"), unit, "weighed") for unit in ("kg", "kWh")}
FUEL_FOR_HEAT = {unit: rule(_("Fuel for a load"), unit, "quotient") for unit in ("kg", "kWh")}
FUEL_SHARED = {unit: rule(_("Fuel used"), unit, "product", "fuel") for unit in ("kg", "kWh")}
# What a filling wears off its mould, and its kiln wash.
MOULD_PRICE = fact(_("Price of a mould"), MONEY, "mould")
MOULD_LIFE = fact(_("Fillings it lasts"), "moulds", "mould")
MOULD_WEAR = rule(_("Wear of a filling"), MONEY, "quotient")
WASH = fact(_("Kiln wash of a filling"), MONEY, "mould")
OF_FILLING = total(_("Wear and wash of a filling"), MONEY)
MOULDS = rule(_("Moulds and wash"), MONEY, "product")
NO_MOULDS = fact(_("Moulds and wash"), MONEY, "mould")


@dataclass(frozen=True, slots=True)
class FiringUnit:
    """One firing of a bead and the kiln it goes into, before any order.

    rejects_before  reject rates of the firings before it
    pierce_each_min of one hand for a mould drawn from the heat; None where none waits for it
    load_fuel       of a usual load, as weighed or for its heat; wear of the kiln for it
    of_filling      what a filling wears off the mould, and its wash; None where nothing is known
    """

    bead: Key
    number: int
    rejects_before: tuple[Figure, ...]
    programme: ProgrammeFacts
    mould: MouldFacts
    kiln: KilnFacts
    cavities: Figure
    places_each: Figure
    usual_places: Figure
    fills_a_load: Figure
    load_min: Figure
    pierce_each_min: Figure | None
    hands: Figure
    fuel_price: Figure
    load_fuel: Figure
    wear: Figure
    of_filling: Figure | None


def _usual_places(kiln: KilnFacts, in_kiln: Figure) -> Figure:
    """Places that a usual load fills: what a place bears does not rise because kilns stand empty.

    Source: IAS 2.13, fixed costs are shared out by normal capacity.
    """
    if kiln.usual_fill == ONE:
        return in_kiln
    fill = number(kiln.usual_fill, "usual_fill", kiln.name, above=True, most=1)
    return USUAL_PLACES(kiln.name, in_kiln, USUAL_FILL(fill, kiln.name))


def firing_unit(
    workshop: WorkshopFacts,
    bead: BeadFacts,
    place: int,
    rejects_before: tuple[Figure, ...],
    each_g: Figure,
    chosen: KilnFacts | None = None,
) -> FiringUnit:
    """A bead's firing with its mould, programme and kiln.

    place   1 for the first firing of the bead
    each_g  glass of one bead in the mould [g]
    chosen  the kiln it is lit in, where that is known; None: the usual one

    Raises CostingError for a programme, mould or kiln that is missing or cannot be.
    """
    firing = bead.firings[place - 1]
    if firing.programme not in workshop.programmes:
        raise CostingError("programme", UNKNOWN, subject=bead.name, what="programme")
    programme = workshop.programmes[firing.programme]
    number(programme.temperature_c, "temperature_c", programme.name, above=True, most=1500)
    number(programme.minutes, "minutes", programme.name, above=True, most=100_000)
    mould = workshop.moulds.get(firing.mould)
    if mould is None or mould.owned < 1:
        raise CostingError("mould", NO_MOULD, subject=bead.name)
    cavities = CAVITIES(whole(mould.cavities, "cavities", mould.name, least=1), mould.name)
    each = PLACES_EACH(whole(mould.places, "places", mould.name, least=1), mould.name)
    number(mould.clay_g, "clay_g", mould.name)
    kiln = chosen or kiln_for(workshop, bead, programme, mould)
    in_kiln = PLACES_IN_KILN(kiln.places, kiln.name)
    pierce_each, hands = _pierce_each(kiln, bead, place), HANDS(kiln.hands, kiln.name)
    room = ROOM("", in_kiln, each)
    usual = _usual_places(kiln, in_kiln)
    return FiringUnit(
        bead=bead.key,
        number=place,
        rejects_before=rejects_before,
        programme=programme,
        mould=mould,
        kiln=kiln,
        cavities=cavities,
        places_each=each,
        usual_places=usual,
        fills_a_load=A_LOAD("", OWNED(mould.owned, mould.name), room),
        load_min=_load_min(kiln, programme),
        pierce_each_min=pierce_each,
        hands=hands,
        fuel_price=FUEL_PRICE(kiln.fuel_price, kiln.name),
        load_fuel=_load_fuel(
            kiln, mould, programme, _Usually(usual, each, cavities, each_g, pierce_each, hands)
        ),
        wear=WEAR(kiln.wear_per_load, kiln.name),
        of_filling=_of_filling(workshop, mould),
    )


def _of_filling(workshop: WorkshopFacts, mould: MouldFacts) -> Figure | None:
    """What a filling wears off a mould, and its kiln wash; worked out once per mould."""
    place = "filling", mould.key
    if place not in workshop._kept:
        workshop._kept[place] = _make_filling(mould)
    return workshop._kept[place]


def _make_filling(mould: MouldFacts) -> Figure | None:
    name, parts = mould.name, []
    if number(mould.price, "mould_price", name):
        life = number(mould.life, "mould_life", name, above=True)
        parts.append(MOULD_WEAR(name, MOULD_PRICE(mould.price, name), MOULD_LIFE(life, name)))
    if number(mould.wash_each, "wash_each", name):
        parts.append(WASH(mould.wash_each, name))
    return OF_FILLING(name, parts) if parts else None


@dataclass(frozen=True)
class _Usually:
    """What a usual load holds, and how it is pierced."""

    places: Figure
    places_each: Figure
    cavities: Figure
    each_g: Figure
    pierce_each: Figure | None
    hands: Figure


def _load_fuel(
    kiln: KilnFacts, mould: MouldFacts, programme: ProgrammeFacts, usual: _Usually
) -> Figure:
    """Fuel of a usual load [kg, or kWh of electricity]: as weighed, else for its heat.

    Source: workshop/physics/heat.py; of the kiln itself workshop/physics/kiln_body.py.
    """
    unit = _sold_in(kiln)
    if kiln.fuel_per_load is not None:
        return FUEL_OF_LOAD[unit](kiln.fuel_per_load, kiln.name)
    fills = USUAL_FILLS(mould.name, usual.places, usual.places_each)
    glass = GLASS("", fills, usual.cavities, usual.each_g)
    clay = CLAY("", CLAY_EACH(mould.clay_g, mould.name), fills)
    hot = HOT(programme.temperature_c, programme.name)
    heat = HEAT(kiln.name, glass, GLASS_CAPACITY, clay, CLAY_CAPACITY, hot, COLD)
    each = usual.pierce_each
    waits = fills.value * each.value / usual.hands.value if each is not None else ZERO
    if (own := _kiln_heat(kiln, programme, waits)) is not None:
        heat = WHOLE_HEAT(kiln.name, [heat, own])
    return FUEL_FOR_HEAT[unit](kiln.name, heat, _efficiency(kiln), _heating_value(kiln))


def _load_min(kiln: KilnFacts, programme: ProgrammeFacts) -> Figure:
    """Minutes of one load: of a round in a kiln kept hot, its part of the run too."""
    parts = [
        given(part.name, exact(part.minutes), "min", part.source, part.subject)
        for part in parts_of_load(kiln, programme)
    ]
    if kiln.usual is not None:
        usual, name = kiln.usual, kiln.name
        run = [WARM_UP(usual.warm_up_min, name), WAITING(usual.waiting_min, name)]
        parts.append(PART_OF_RUN(name, SHARED_BY_RUN("", run), ROUNDS(usual.rounds, name)))
    return LOAD_MIN(kiln.name, parts)


def _pierce_each(kiln: KilnFacts, bead: BeadFacts, place: int) -> Figure | None:
    """Minutes of one hand for which a mould keeps a hot kiln waiting; None where it does not."""
    if kiln.usual is None or not bead.pierce_min or place != 1:
        return None
    return PIERCE_EACH(bead.pierce_min, bead.name)


def _efficiency(kiln: KilnFacts) -> Figure:
    """Of the fire alone, where the heat of the kiln itself is known; else of fire and kiln."""
    if kiln.knows_its_heat:
        return FIRE(kiln.fire_efficiency, kiln.name)
    return EFFICIENCY(kiln.efficiency, kiln.name)


def _kiln_heat(kiln: KilnFacts, programme: ProgrammeFacts, waits_min: Decimal) -> Figure | None:
    """Heat that the kiln itself takes over one load: its part of a warm-up, and what it loses.

    waits_min  while moulds are drawn one by one
    Source: workshop/physics/kiln_body.py.
    """
    if not kiln.knows_its_heat:
        return None
    name = kiln.name
    rounds = ROUNDS(kiln.usual.rounds if kiln.usual else ONE, name)
    hours = HOURS((fire_on_min(kiln, programme) + waits_min) / MINUTES_AN_HOUR, name)
    lost = LOST("", LOSS(kiln.loss_kw, name), hours, MJ_A_KWH)
    return KILN_HEAT(name, [BODY_OF_LOAD("", BODY(kiln.body_mj, name), rounds), lost])


def _sold_in(kiln: KilnFacts) -> str:
    return "kWh" if kiln.fuel == "electricity" else "kg"


def _heating_value(kiln: KilnFacts) -> Figure:
    if kiln.fuel != "wood":
        return HEATING_VALUE(FUELS[kiln.fuel].mj_per_unit, kiln.fuel)
    return WOOD_VALUE(kiln.fuel, DRY_WOOD, WOOD_WATER, MOISTURE(kiln.moisture, kiln.name))


def fire(firing: FiringUnit, bead: str, start: Figure) -> FiringCosting:
    """One firing of an order's beads of one kind.

    bead    its name
    start   beads started; those that reach a later firing are the survivors of the ones before

    Source: the sums at the head of the module (convention of the workshop).
    """
    kiln, mould, name = firing.kiln, firing.mould, f"bead {firing.bead}"
    beads = REACHED(bead, start, *firing.rejects_before) if firing.rejects_before else start
    fills = FILLS(mould.name, beads, firing.cavities, key=f"{name} fills {firing.number}")
    places = PLACES("", fills, firing.places_each)
    key = f"{name} share {firing.number}"
    share = SHARE(kiln.name, places, firing.usual_places, key=key)
    fuel = FUEL_SHARED[_sold_in(kiln)](kiln.name, firing.load_fuel, share)
    key = f"{name} firing {firing.number}"
    worn, filling = firing.wear, firing.of_filling
    return FiringCosting(
        bead=firing.bead,
        number=firing.number,
        kiln=kiln.key,
        programme=firing.programme.key,
        mould=mould.key,
        beads=beads,
        fills=fills,
        places=places,
        loads_alone=lambda _firing: LOADS(kiln.name, fills, firing.fills_a_load),
        share=share,
        load_min=firing.load_min,
        kiln_min=lambda _firing: _kiln_min(firing, bead, share, fills),
        fuel=kiln.fuel,
        fuel_amount=fuel,
        fuel_cost=FUEL_COST(kiln.name, fuel, firing.fuel_price, key=key),
        wear_cost=WEAR_COST(kiln.name, worn, share, key=key)
        if worn.value
        else NO_WEAR(ZERO, kiln.name, key),
        mould_cost=MOULDS(mould.name, filling, fills, key=key)
        if filling is not None
        else NO_MOULDS(ZERO, mould.name, key),
    )


def part_of_runs(firing: FiringUnit, whole: Figure, part: Worked = PART_OF_RUNS) -> Figure | None:
    """Its part, by a usual run's rounds, of rounds or pay; None in a closed kiln, without runs."""
    usual, name = firing.kiln.usual, firing.kiln.name
    return None if usual is None else part(name, whole, ROUNDS(usual.rounds, name))


def _kiln_min(firing: FiringUnit, bead: str, share: Figure, fills: Figure) -> Figure:
    """Fair share of the kiln's minutes; of a hot one also while its moulds wait to be pierced."""
    kiln = firing.kiln.name
    if firing.pierce_each_min is None:
        return KILN_MIN(kiln, firing.load_min, share)
    pierced = PIERCED(bead, firing.pierce_each_min, fills)
    rounds = FAIR_ROUNDS(kiln, firing.load_min, share)
    return KILN_MIN_HOT(kiln, [rounds, WAITS("", pierced, firing.hands)])
