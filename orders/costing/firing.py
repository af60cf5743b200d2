"""One firing of an order's beads of one kind: moulds filled, room in the kiln, time and fuel.

mould fills = beads ÷ cavities, rounded up; places = fills × places each; fair share of the kiln =
places taken ÷ places of the kiln. Fired alone it takes fills ÷ fills that go into one load, rounded
up, and no load holds more fills than there are moulds or whole moulds that fit.
"""

from decimal import Decimal

from orders.costing.bead_unit import BeadUnit, FiringUnit
from orders.costing.numbers import ONE, whole_up
from orders.costing.results import FiringCosting
from workshop.costs.fuel import heat_mj, heating_value_mj


def beads_in_firing(firing: FiringUnit, start: int) -> int:
    """Beads that go into a firing: all that are started, or the survivors of those before."""
    return start if firing.reach == ONE else whole_up(start * firing.reach)


def fire(unit: BeadUnit, firing: FiringUnit, start: int) -> FiringCosting:
    """One firing, when so many beads are started."""
    """One firing of so many beads started."""
    kiln, mould = firing.kiln, firing.mould
    beads = beads_in_firing(firing, start)
    fills = -(-beads // mould.cavities)
    places = fills * mould.places
    share = Decimal(places) / kiln.places
    if kiln.fuel_per_load is not None:
        fuel = kiln.fuel_per_load * share
    else:
        heat = heat_mj(
            glass_in_firing_g(unit, firing, beads),
            mould.clay_g * fills,
            firing.programme.temperature_c,
        )
        fuel = heat / kiln.efficiency / heating_value_mj(kiln.fuel, kiln.moisture)
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
        kiln_min=firing.load_min * share,
        fuel=kiln.fuel,
        fuel_amount=fuel,
        fuel_cost=fuel * kiln.fuel_price,
    )


def glass_in_firing_g(unit: BeadUnit, firing: FiringUnit, beads: int) -> Decimal:
    """Glass heated: what was filled into the moulds, or later the beads already fired."""
    return beads * (unit.fill_g if firing.number == 1 else unit.fired_g)
