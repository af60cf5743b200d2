"""One firing of an order's beads of one kind: moulds filled, room in the kiln, time and fuel.

mould fills = beads ÷ cavities, rounded up; places = fills × places each; fair share of the kiln =
places taken ÷ places of the kiln. Fired alone it takes fills ÷ fills that go into one load, rounded
up, and no load holds more fills than there are moulds or whole moulds that fit.
"""

from decimal import Decimal

from orders.costing.bead_unit import BeadUnit, FiringUnit
from orders.costing.facts import KilnFacts, ProgrammeFacts
from orders.costing.kiln_minutes import fire_on_min, pierced_hand_min
from orders.costing.numbers import MINUTES_AN_HOUR, ONE, whole_up
from orders.costing.results import FiringCosting
from workshop.costs.fuel import heat_mj, heating_value_mj

MJ_A_KWH = Decimal("3.6")


def beads_in_firing(firing: FiringUnit, start: int) -> int:
    """Beads that go into a firing: all that are started, or the survivors of those before."""
    return start if firing.reach == ONE else whole_up(start * firing.reach)


def fire(unit: BeadUnit, firing: FiringUnit, start: int) -> FiringCosting:
    """One firing of so many beads started."""
    kiln, mould = firing.kiln, firing.mould
    beads = beads_in_firing(firing, start)
    fills = -(-beads // mould.cavities)
    places = fills * mould.places
    share = Decimal(places) / kiln.places
    pierced = pierced_hand_min(kiln, unit.facts, firing.number, fills)
    kiln_min = firing.load_min * share + pierced / kiln.hands
    if kiln.fuel_per_load is not None:
        fuel = kiln.fuel_per_load * share
    else:
        heat = heat_mj(
            glass_in_firing_g(unit, firing, beads),
            mould.clay_g * fills,
            firing.programme.temperature_c,
        )
        efficiency = kiln.efficiency
        if kiln.knows_its_heat:
            assert kiln.fire_efficiency is not None
            heat += heat_of_kiln_mj(kiln, firing.programme) * share
            efficiency = kiln.fire_efficiency
        fuel = heat / efficiency / heating_value_mj(kiln.fuel, kiln.moisture)
    return FiringCosting(
        bead=unit.facts.key,
        number=firing.number,
        kiln=kiln.key,
        programme=firing.programme.key,
        mould=mould.key,
        beads=beads,
        fills=fills,
        places=places,
        loads_alone=-(-fills // firing.fills_a_load),
        share=share,
        load_min=firing.load_min,
        kiln_min=kiln_min,
        fuel=kiln.fuel,
        fuel_amount=fuel,
        fuel_cost=fuel * kiln.fuel_price,
    )


def heat_of_kiln_mj(kiln: KilnFacts, programme: ProgrammeFacts) -> Decimal:
    """Heat that the kiln itself takes over one load: its part of a warm-up, and what it loses.

    Source: body ÷ rounds a run + 3.6 × loss × hours (see workshop/physics/kiln_body.py).
    """
    assert kiln.body_mj is not None and kiln.loss_kw is not None
    rounds = kiln.usual.rounds if kiln.usual else ONE
    hours = fire_on_min(kiln, programme) / MINUTES_AN_HOUR
    return kiln.body_mj / rounds + MJ_A_KWH * kiln.loss_kw * hours


def glass_in_firing_g(unit: BeadUnit, firing: FiringUnit, beads: int) -> Decimal:
    """Glass heated: what was filled into the moulds, or later the beads already fired."""
    return beads * (unit.fill_g if firing.number == 1 else unit.fired_g)
