"""Fuel of a firing: the weighed load shared out, or the heat of what is put in the kiln.

Weighed: fuel for a load × places taken ÷ places of the kiln.
Else heat = (glass × 1.12 + clay × 1.00 kJ/kgK) × (temperature − 25 °C), fuel = heat ÷
(efficiency × heating value).

Sources: the heat capacities and heating values are those of workshop.physics.heat, where their
sources stand.
"""

from decimal import Decimal

from workshop.physics import heat as physics

G_PER_KG = Decimal(1000)
GLASS_KJ_KG_K = Decimal(repr(physics.GLASS_KJ_KG_K))
CLAY_KJ_KG_K = Decimal(repr(physics.CLAY_KJ_KG_K))
ROOM_C = Decimal(repr(physics.ROOM_C))
DRY_WOOD_MJ = Decimal(repr(physics.DRY_WOOD_MJ_KG))
WOOD_WATER_MJ = Decimal("2.443")  # as in physics.wood_mj_kg, exact here so that the tree adds up
HEATING_VALUE_MJ = {
    key: Decimal(repr(fuel.mj_per_unit)) for key, fuel in physics.FUELS.items() if key != "wood"
}


def heating_value_mj(fuel: str, moisture: Decimal) -> Decimal:
    """Heat of a kilogram of fuel as fired (a kilowatt-hour of electricity) [MJ].

    moisture  of wood, share of its wet mass

    >>> heating_value_mj("wood", Decimal("0.20"))
    Decimal('14.31140')
    """
    if fuel in HEATING_VALUE_MJ:
        return HEATING_VALUE_MJ[fuel]
    return DRY_WOOD_MJ * (1 - moisture) - WOOD_WATER_MJ * moisture


def heat_mj(glass_g: Decimal, clay_g: Decimal, temperature_c: Decimal) -> Decimal:
    """Heat that brings glass and clay from 25 °C to the firing temperature [MJ].

    >>> round(heat_mj(Decimal(5000), Decimal(40000), Decimal(800)), 2)
    Decimal('35.34')
    """
    kj_per_k = (glass_g * GLASS_KJ_KG_K + clay_g * CLAY_KJ_KG_K) / G_PER_KG
    return kj_per_k * (temperature_c - ROOM_C) / G_PER_KG
