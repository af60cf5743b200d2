"""The working of a firing: moulds, room in the kiln, loads, minutes and fuel."""

from orders.costing.bead_unit import FiringUnit
from orders.costing.firing import glass_in_firing_g
from orders.costing.results import BeadCosting, FiringCosting
from orders.costing.working.base import Working, added, given, listed, worked
from orders.costing.working.beads import fill_term, fired_term, start_term
from orders.costing.working.terms import Term
from workshop.costs.fuel import (
    CLAY_KJ_KG_K,
    DRY_WOOD_MJ,
    GLASS_KJ_KG_K,
    HEATING_VALUE_MJ,
    ROOM_C,
    WOOD_WATER_MJ,
    heat_mj,
    heating_value_mj,
)
from workshop.physics.sentences import gettext_noop as _


def firing_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    """One firing: moulds, places, loads, minutes and fuel."""

    def make() -> Term:
        children = [
            fills_term(working, bead, firing),
            share_of_kiln_term(working, bead, firing),
            loads_term(working, bead, firing),
            kiln_min_term(working, bead, firing),
            fuel_cost_term(working, bead, firing),
        ]
        key = f"bead {bead.key} firing {firing.number}"
        return listed(_("Firing"), children, f"{bead.name}, {firing.number}", key)

    return working.once(("firing", bead.key, firing.number), make)


def _facts(working: Working, bead: BeadCosting, firing: FiringCosting) -> FiringUnit:
    return working.unit(bead.key).firings[firing.number - 1]


def beads_fired_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    start = start_term(working, bead)
    if firing.number == 1:
        return start
    rates = [
        given(
            _("Reject rate"),
            before.reject_rate,
            "",
            before.facts.reject_source,
            bead.name,
            f"firing {before.number}",
        )
        for before in working.unit(bead.key).firings[: firing.number - 1]
    ]
    name = _("Beads expected to reach it")
    return worked(name, firing.beads, "beads", "survivors", [start, *rates], bead.name)


def fills_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    def make() -> Term:
        mould = _facts(working, bead, firing).mould
        cavities = given(_("Cavities"), mould.cavities, "beads", "mould", mould.name)
        children = [beads_fired_term(working, bead, firing), cavities]
        name = _("Mould fills")
        key = f"bead {bead.key} fills {firing.number}"
        return worked(name, firing.fills, "moulds", "rounded_up", children, mould.name, key)

    return working.once(("fills", bead.key, firing.number), make)


def share_of_kiln_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    def make() -> Term:
        facts = _facts(working, bead, firing)
        each = given(_("Places each"), facts.mould.places, "places", "mould", facts.mould.name)
        children = [fills_term(working, bead, firing), each]
        places = worked(_("Places taken"), firing.places, "places", "product", children)
        in_kiln = _places_in_kiln(facts)
        name = _("Share of a kiln load")
        key = f"bead {bead.key} share {firing.number}"
        return worked(
            name, firing.share, "loads", "quotient", [places, in_kiln], facts.kiln.name, key
        )

    return working.once(("share", bead.key, firing.number), make)


def _places_in_kiln(facts: FiringUnit) -> Term:
    kiln = facts.kiln
    return given(_("Places in the kiln"), kiln.places, "places", "kiln", kiln.name)


def loads_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    facts = _facts(working, bead, firing)
    owned = given(_("Moulds owned"), facts.mould.owned, "moulds", "mould", facts.mould.name)
    in_kiln = _places_in_kiln(facts)
    each = given(_("Places each"), facts.mould.places, "places", "mould", facts.mould.name)
    fitting = facts.kiln.places // facts.mould.places
    room = worked(_("Moulds that fit"), fitting, "moulds", "rounded_down", [in_kiln, each])
    a_load = worked(_("Fills in one load"), facts.fills_a_load, "moulds", "least", [owned, room])
    children = [fills_term(working, bead, firing), a_load]
    name = _("Loads if fired alone")
    return worked(name, firing.loads_alone, "loads", "rounded_up", children, facts.kiln.name)


def kiln_min_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    facts = _facts(working, bead, firing)
    kiln, programme = facts.kiln, facts.programme
    parts = [
        given(_("Preheat"), kiln.preheat_min, "min", "kiln", kiln.name),
        given(_("Minutes held"), programme.minutes, "min", "programme", programme.name),
        given(_("Cooling"), kiln.cooling_min, "min", "kiln", kiln.name),
    ]
    load = added(_("Minutes of a load"), firing.load_min, "min", parts, kiln.name)
    children = [load, share_of_kiln_term(working, bead, firing)]
    name = _("Fair share of kiln time")
    return worked(name, firing.kiln_min, "min", "product", children, kiln.name, "kiln time")


def fuel_cost_term(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    def make() -> Term:
        kiln = _facts(working, bead, firing).kiln
        price = given(_("Price of fuel"), kiln.fuel_price, working.currency, "kiln", kiln.name)
        children = [_fuel(working, bead, firing), price]
        key = f"bead {bead.key} firing {firing.number}"
        name = _("Fuel")
        return worked(name, firing.fuel_cost, working.currency, "product", children, kiln.name, key)

    return working.once(("fuel", bead.key, firing.number), make)


def _fuel(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    kiln = _facts(working, bead, firing).kiln
    unit = "kWh" if kiln.fuel == "electricity" else "kg"
    name = _("Fuel used")
    if kiln.fuel_per_load is not None:
        weighed = given(_("Fuel for a load"), kiln.fuel_per_load, unit, "weighed", kiln.name)
        children = [weighed, share_of_kiln_term(working, bead, firing)]
        return worked(name, firing.fuel_amount, unit, "product", children, kiln.name, "fuel")
    efficiency = given(_("Efficiency"), kiln.efficiency, "", "kiln", kiln.name)
    children = [_heat(working, bead, firing), efficiency, _heating_value(working, bead, firing)]
    return worked(name, firing.fuel_amount, unit, "quotient", children, kiln.name, "fuel")


def _heat(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    facts, unit = _facts(working, bead, firing), working.unit(bead.key)
    each = fill_term(working, unit) if firing.number == 1 else fired_term(working, unit)
    glass_g = glass_in_firing_g(unit, facts, firing.beads)
    fired = beads_fired_term(working, bead, firing)
    glass = worked(_("Glass heated"), glass_g, "g", "product", [fired, each])
    mould = facts.mould
    clay_each = given(_("Clay of a mould"), mould.clay_g, "g", "mould", mould.name)
    clay_g = mould.clay_g * firing.fills
    clay = worked(
        _("Clay heated"), clay_g, "g", "product", [clay_each, fills_term(working, bead, firing)]
    )
    hot_c = facts.programme.temperature_c
    children = [
        glass,
        given(_("Heat capacity of glass"), GLASS_KJ_KG_K, "kJ/kgK", "Sharp & Ginther 1951"),
        clay,
        given(_("Heat capacity of clay"), CLAY_KJ_KG_K, "kJ/kgK", "VDI heat atlas"),
        given(_("Temperature"), hot_c, "°C", "programme", facts.programme.name),
        given(_("Room temperature"), ROOM_C, "°C", "common practice, no source"),
    ]
    heat = heat_mj(glass_g, clay_g, hot_c)
    return worked(_("Heat"), heat, "MJ", "heat", children, facts.kiln.name)


def _heating_value(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    kiln = _facts(working, bead, firing).kiln
    value = heating_value_mj(kiln.fuel, kiln.moisture)
    name = _("Heating value")
    if kiln.fuel in HEATING_VALUE_MJ:
        return given(name, value, "MJ", "reference, see fuel", kiln.fuel)
    source = "EN ISO 18125, from memory"
    children = [
        given(_("Dry wood"), DRY_WOOD_MJ, "MJ/kg", source),
        given(_("Taken by its water"), WOOD_WATER_MJ, "MJ/kg", source),
        given(_("Moisture"), kiln.moisture, "", "kiln", kiln.name),
    ]
    return worked(name, value, "MJ/kg", "wood_heat", children, kiln.fuel)
