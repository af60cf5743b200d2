"""The working of beads: needed, on the shelf, to start; their glass, firings and cost."""

from decimal import Decimal

from orders.costing.bead_unit import BeadUnit, ColourUnit, FiringUnit
from orders.costing.facts import (
    FIRING,
    ONE,
    PAINTING,
    PER_KG,
    PER_LOAD,
    PER_MOULD,
    PREPARING,
    Key,
    RateFacts,
)
from orders.costing.firing import glass_in_firing_g
from orders.costing.fuel import (
    CLAY_KJ_KG_K,
    DRY_WOOD_MJ,
    GLASS_KJ_KG_K,
    HEATING_VALUE_MJ,
    ROOM_C,
    WOOD_WATER_MJ,
    heat_mj,
    heating_value_mj,
)
from orders.costing.operations import OPERATIONS
from orders.costing.results import BeadCosting, FiringCosting, LineCosting
from orders.costing.terms import Term
from orders.costing.working_base import Working, added, given, listed, worked
from orders.costing.working_strand import bead_count_term, dimension_terms
from workshop.physics.sentences import gettext_noop as _

CHOICE = "owner's choice"


def to_string_term(working: Working, line: LineCosting) -> Term:
    """Strands of a line that are still to be strung: ordered less ready."""

    def make() -> Term:
        asked = given(_("Ordered"), line.quantity, "pieces", "order line", line.name)
        stock = working.costing.facts.stock or working.workshop.stock
        free = sum(ready.free for ready in stock.strands if ready.design == line.design)
        earlier = sum(
            other.ready_taken
            for other in working.costing.lines[: line.index]
            if other.design == line.design
        )
        on_shelf = given(_("Ready on the shelf"), free, "pieces", "stock", line.name)
        if earlier:
            gone = given(_("Taken by earlier lines"), earlier, "pieces", "order line", line.name)
            on_shelf = worked(
                _("Still ready"), free - earlier, "pieces", "difference", [on_shelf, gone]
            )
        taken = worked(
            _("Ready strands taken"), line.ready_taken, "pieces", "least", [asked, on_shelf]
        )
        children = [asked, taken]
        return worked(
            _("To string"), line.to_string, "pieces", "difference", children, line.name, "to string"
        )

    return working.once(("to string", line.index), make)


def line_need_term(working: Working, bead: BeadCosting, index: int) -> Term:
    """Beads of a kind that one line needs."""

    def make() -> Term:
        line = working.costing.lines[index]
        count = dict(bead.share_by_line)[index]
        key = f"line {index + 1}"
        if line.layout is None:
            return given(_("Loose beads ordered"), count, "beads", "order line", bead.name, key)
        children = [
            bead_count_term(working, line.layout, bead.key),
            to_string_term(working, line),
        ]
        return worked(_("Needed by a line"), count, "beads", "product", children, line.name, key)

    return working.once(("need", bead.key, index), make)


def needed_term(working: Working, bead: BeadCosting) -> Term:
    def make() -> Term:
        lines = [line_need_term(working, bead, index) for index, _n in bead.share_by_line]
        return added(_("Beads needed"), bead.needed, "beads", lines, bead.name, "needed")

    return working.once(("needed", bead.key), make)


def to_make_term(working: Working, bead: BeadCosting) -> Term:
    """Beads still to be made: needed less what the batches on the shelf give, oldest first."""

    def make() -> Term:
        needed = needed_term(working, bead)
        stock = working.costing.facts.stock or working.workshop.stock
        free = {batch.key: batch.free for batch in stock.batches if batch.bead == bead.key}
        batches: list[Term] = []
        wanted, still = bead.needed, needed
        for taken in bead.taken:
            batches.append(
                worked(
                    _("Taken from a batch"),
                    taken.count,
                    "beads",
                    "least",
                    [still, given(_("Free"), free[taken.key], "beads", "stock", taken.name)],
                    taken.name,
                    f"batch {taken.key}",
                )
            )
            wanted -= taken.count
            children = [needed, *batches]
            still = worked(_("Still needed"), wanted, "beads", "difference", children, bead.name)
        if not batches:
            free_now = given(_("Free"), 0, "beads", "stock", bead.name)
            batches = [free_now]
        children = [needed, *batches]
        return worked(
            _("Beads to make"), bead.to_make, "beads", "difference", children, bead.name, "to make"
        )

    return working.once(("to make", bead.key), make)


def reject_term(working: Working, unit: BeadUnit) -> Term:
    def make() -> Term:
        rates = [
            given(
                _("Reject rate"),
                firing.reject_rate,
                "",
                firing.facts.reject_source,
                unit.facts.name,
                f"firing {firing.number}",
            )
            for firing in unit.firings
        ]
        if len(rates) == 1:
            return rates[0]
        name = _("Reject rate over all firings")
        return worked(name, unit.reject_rate, "", "chained_rejects", rates, unit.facts.name)

    return working.once(("reject", unit.facts.key), make)


def start_term(working: Working, bead: BeadCosting) -> Term:
    """Beads to start, and whole moulds if the owner said so."""

    def make() -> Term:
        unit, choices = working.unit(bead.key), working.workshop.choices
        to_make = to_make_term(working, bead)
        assurance = given(_("Assurance"), choices.assurance, "", CHOICE)
        if unit.scatter is None:
            how = "start"
            children = [to_make, reject_term(working, unit), assurance]
        else:
            how = "start_scattered"
            source = f"fitted to {unit.scatter.loads} loads"
            alpha = given(_("Scatter, alpha"), unit.scatter.alpha, "", source, bead.name)
            beta = given(_("Scatter, beta"), unit.scatter.beta, "", source, bead.name)
            children = [to_make, alpha, beta, assurance]
        name = _("Beads to start")
        if not choices.whole_moulds:
            return worked(name, bead.start, "beads", how, children, bead.name, "start")
        least = OPERATIONS[how].work([child.value for child in children])
        enough = worked(_("Enough"), least, "beads", how, children, bead.name)
        mould = unit.firings[0].mould
        cavities = given(_("Cavities"), mould.cavities, "beads", "mould", mould.name)
        return worked(
            name, bead.start, "beads", "whole_multiple", [enough, cavities], bead.name, "start"
        )

    return working.once(("start", bead.key), make)


# -- mass ----------------------------------------------------------------------------------


def fill_term(working: Working, unit: BeadUnit) -> Term:
    """Glass weighed out for one bead, from its finished mass and what is lost on the way."""

    def make() -> Term:
        bead = unit.facts
        spill = given(_("Spill"), bead.spill, "", "bead", bead.name)
        children = [fired_term(working, unit), spill]
        return worked(_("Mould fill"), unit.fill_g, "g", "before_loss", children, bead.name, "fill")

    return working.once(("fill", unit.facts.key), make)


def fired_term(working: Working, unit: BeadUnit) -> Term:
    def make() -> Term:
        bead = unit.facts
        polishing = given(_("Polishing loss"), bead.polishing_loss, "", "bead", bead.name)
        mass_g = unit.finished_g / (ONE - bead.polishing_loss)
        children = [finished_term(working, unit), polishing]
        fired = worked(_("Fired mass"), mass_g, "g", "before_loss", children, bead.name, "fired")
        if not bead.pierced_waste:
            return fired
        waste = given(_("Waste from piercing"), bead.pierced_waste, "", "bead", bead.name)
        name = _("Fired mass before piercing")
        return worked(name, unit.fired_g, "g", "before_loss", [fired, waste], bead.name, "fired")

    return working.once(("fired", unit.facts.key), make)


def finished_term(working: Working, unit: BeadUnit) -> Term:
    """Finished mass of one bead: weighed, or volume × density less its pores."""

    def make() -> Term:
        bead = unit.facts
        name = _("Finished mass")
        if unit.weighed:
            assert bead.weighed is not None
            source = f"mean of {bead.weighed.count} weighed"
            return given(name, unit.finished_g, "g", source, bead.name, "finished")
        assert unit.volume_mm3 is not None
        children = [_volume(working, unit), _density(working, unit)]
        solid_g = unit.volume_mm3 * unit.density_g_cm3 / 1000
        solid = worked(_("Mass without pores"), solid_g, "g", "per_thousand", children)
        pores = given(_("Porosity"), bead.porosity, "", "bead", bead.name)
        children = [solid, pores]
        return worked(name, unit.finished_g, "g", "without", children, bead.name, "finished")

    return working.once(("finished mass", unit.facts.key), make)


def _volume(working: Working, unit: BeadUnit) -> Term:
    bead = unit.facts
    name = _("Volume, bore taken out")
    assert unit.volume_mm3 is not None
    if bead.volume_mm3 is not None:
        return given(name, unit.volume_mm3, "mm³", "bead", bead.name, "volume")
    sizes = dimension_terms(working, bead.key)
    how = f"volume_{bead.shape}"
    return worked(name, unit.volume_mm3, "mm³", how, sizes, bead.name, "volume")


def _density(working: Working, unit: BeadUnit) -> Term:
    name = _("Density of the glass")
    bead = unit.facts
    if bead.density_g_cm3 is not None:
        return given(name, unit.density_g_cm3, "g/cm³", "bead", bead.name, "density")
    densities = [
        given(name, part.colour.density_g_cm3, "g/cm³", "colour", part.colour.name)
        for part in unit.colours
    ]
    if len({term.value for term in densities}) == 1:
        return densities[0]
    children = []
    for part, density in zip(unit.colours, densities, strict=True):
        children += [share_term(unit, part), density]
    return worked(name, unit.density_g_cm3, "g/cm³", "mixed_density", children, bead.name)


def share_term(unit: BeadUnit, part: ColourUnit) -> Term:
    name = _("Colour share, by mass")
    return given(name, part.share, "", "bead", f"{unit.facts.name}, {part.colour.name}")


def glass_term(working: Working, bead: BeadCosting, colour: Key) -> Term:
    """Prepared glass of one colour for all beads of a kind that are started."""

    def make() -> Term:
        unit = working.unit(bead.key)
        place = next(i for i, part in enumerate(unit.colours) if part.colour.key == colour)
        part = unit.colours[place]
        children = [
            start_term(working, bead),
            fill_term(working, unit),
            share_term(unit, part),
        ]
        grams = bead.glass_g[place][2]
        subject = f"{bead.name}, {part.colour.name}"
        name = _("Prepared glass for a bead")
        return worked(name, grams, "g", "product", children, subject, f"bead {bead.key}")

    return working.once(("glass", bead.key, colour), make)


# -- firings -------------------------------------------------------------------------------


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


def painted_term(working: Working, bead: BeadCosting) -> Term:
    """Beads painted: expected survivors of the first firing, rounded up."""
    first = working.unit(bead.key).firings[0]
    source = first.facts.reject_source
    rate = given(_("Reject rate"), first.reject_rate, "", source, bead.name, "firing 1")
    children = [start_term(working, bead), rate]
    return worked(_("Beads painted"), bead.painted, "beads", "survivors", children, bead.name)


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


# -- units of work -------------------------------------------------------------------------


def bead_units_term(
    working: Working, bead: BeadCosting, rate: RateFacts, units: Decimal | int
) -> Term:
    """How many units of a step the making of these beads takes."""
    key = f"bead {bead.key}"
    if rate.basis == PER_KG:
        return _kg_term(working, bead, rate, units, key)
    if rate.basis == PER_LOAD:
        shares = [share_of_kiln_term(working, bead, firing) for firing in bead.firings]
        return added(_("Kiln loads"), units, "loads", shares, bead.name, key)
    if rate.basis == PER_MOULD:
        firings = bead.firings if rate.skill == FIRING else bead.firings[:1]
        fills = [fills_term(working, bead, firing) for firing in firings]
        return added(_("Moulds"), units, "moulds", fills, bead.name, key)
    count = painted_term(working, bead) if rate.skill == PAINTING else start_term(working, bead)
    return worked(_("Beads"), units, "beads", "same", [count], bead.name, key)


def _kg_term(
    working: Working, bead: BeadCosting, rate: RateFacts, units: Decimal | int, key: str
) -> Term:
    from orders.costing.working_glass import needed_of_form_term, to_prepare_term

    if rate.skill != PREPARING:
        children = [fill_term(working, working.unit(bead.key)), start_term(working, bead)]
        return worked(_("Glass filled"), units, "kg", "per_thousand", children, bead.name, key)
    parts = []
    for colour, form, glass_g in bead.glass_g:
        needed = needed_of_form_term(working, colour, form)
        to_prepare = to_prepare_term(working, colour, form)
        grams = glass_g * to_prepare.value / needed.value
        children = [glass_term(working, bead, colour), to_prepare, needed]
        name = _("Its part of what is to prepare")
        parts.append(worked(name, grams, "g", "share", children, key=f"colour {colour}"))
    return worked(_("Glass to prepare"), units, "kg", "thousandth", parts, bead.name, key)
