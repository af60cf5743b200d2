"""The working of a firing: moulds, room in the kiln, loads, minutes and fuel."""

from orders.costing.bead_unit import FiringUnit
from orders.costing.firing import MJ_A_KWH, glass_in_firing_g
from orders.costing.kiln_minutes import fire_on_min, parts_of_load, pierced_hand_min
from orders.costing.numbers import MINUTES_AN_HOUR, ONE
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
from workshop.costs.kiln_share import UsualRun
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
        given(part.name, part.minutes, "min", part.source, part.subject)
        for part in parts_of_load(kiln, programme)
    ]
    if kiln.usual is not None:
        parts.append(_shared_term(kiln.usual, kiln.name))
    load = added(_("Minutes of a load"), firing.load_min, "min", parts, kiln.name)
    own = firing.load_min * firing.share
    children = [load, share_of_kiln_term(working, bead, firing)]
    name = _("Fair share of kiln time")
    hand_min = pierced_hand_min(kiln, working.unit(bead.key).facts, firing.number, firing.fills)
    if not hand_min:
        return worked(name, firing.kiln_min, "min", "product", children, kiln.name, "kiln time")
    fired = worked(_("Fair minutes of its rounds"), own, "min", "product", children, kiln.name)
    each = working.unit(bead.key).facts.pierce_min
    assert each is not None
    drawn = [
        given(_("Piercing a mould"), each, "min", "bead", bead.name),
        fills_term(working, bead, firing),
    ]
    pierced = worked(_("Piercing, one hand"), hand_min, "min", "product", drawn, bead.name)
    hands = given(_("Hands that pierce"), kiln.hands, "hands", "people", kiln.name)
    waits = worked(
        _("Moulds waiting in the heat"), hand_min / kiln.hands, "min", "quotient", [pierced, hands]
    )
    return added(name, firing.kiln_min, "min", [fired, waits], kiln.name, "kiln time")


def _shared_term(usual: UsualRun, subject: str) -> Term:
    """A round's part of its run."""
    lit = given(_("Warm-up"), usual.warm_up_min, "min", "kiln", subject)
    waits = given(_("Waiting hot, a run"), usual.waiting_min, "min", "measured", subject)
    whole = added(_("Shared by a run"), usual.warm_up_min + usual.waiting_min, "min", [lit, waits])
    rounds = given(_("Rounds in a run"), usual.rounds, "rounds", "usual", subject)
    each = (usual.warm_up_min + usual.waiting_min) / usual.rounds
    return worked(_("Its part of the run"), each, "min", "quotient", [whole, rounds], subject)


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
    value = _heating_value(working, bead, firing)
    if kiln.knows_its_heat:
        assert kiln.fire_efficiency is not None
        fire = given(_("Efficiency of the fire"), kiln.fire_efficiency, "", "kiln", kiln.name)
        children = [_with_kiln_heat(working, bead, firing), fire, value]
        return worked(name, firing.fuel_amount, unit, "quotient", children, kiln.name, "fuel")
    efficiency = given(_("Efficiency"), kiln.efficiency, "", "kiln", kiln.name)
    children = [_heat(working, bead, firing), efficiency, value]
    return worked(name, firing.fuel_amount, unit, "quotient", children, kiln.name, "fuel")


def _with_kiln_heat(working: Working, bead: BeadCosting, firing: FiringCosting) -> Term:
    """Its own contents, and its part of what the kiln itself takes."""
    facts = _facts(working, bead, firing)
    kiln, programme = facts.kiln, facts.programme
    assert kiln.body_mj is not None and kiln.loss_kw is not None
    rounds = kiln.usual.rounds if kiln.usual else ONE
    hours = fire_on_min(kiln, programme) / MINUTES_AN_HOUR
    body = [
        given(_("Heat of its body"), kiln.body_mj, "MJ", "kiln", kiln.name),
        given(_("Rounds in a run"), rounds, "rounds", "usual", kiln.name),
    ]
    lost = [
        given(_("Loss while hot"), kiln.loss_kw, "kW", "kiln", kiln.name),
        given(_("Hours of one load"), hours, "h", "minutes of a load", kiln.name),
        given(_("MJ in a kWh"), MJ_A_KWH, "MJ/kWh", "definition"),
    ]
    body_mj = worked(_("Its body, a load"), kiln.body_mj / rounds, "MJ", "quotient", body)
    lost_mj = worked(_("Lost, a load"), kiln.loss_kw * hours * MJ_A_KWH, "MJ", "product", lost)
    a_load = kiln.body_mj / rounds + kiln.loss_kw * hours * MJ_A_KWH
    whole = added(_("The kiln itself, a load"), a_load, "MJ", [body_mj, lost_mj], kiln.name)
    share = share_of_kiln_term(working, bead, firing)
    own = worked(
        _("Its part of the kiln's heat"), a_load * firing.share, "MJ", "product", [whole, share]
    )
    contents = _heat(working, bead, firing)
    heat = contents.value + a_load * firing.share
    return added(_("Heat"), heat, "MJ", [contents, own], kiln.name)


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
