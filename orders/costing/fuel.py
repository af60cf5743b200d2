"""Fuel of a firing: the weighed load shared out, or the heat of what is put in the kiln.

Weighed: fuel for a load × places taken ÷ places of the kiln.
Else heat = (glass × 1.12 + clay × 1.00 kJ/kgK) × (temperature − 25 °C), fuel = heat ÷
(efficiency × heating value).

Sources: mean heat capacity of container glass 25–800 °C about 1.12 kJ/kgK, Sharp & Ginther, J. Am.
Ceram. Soc. 34 (1951) 260 (from memory); fired clay 1.0 (fireclay 0.96 to 1.02, VDI heat atlas);
wood 18.5 MJ/kg dry, less 0.02443 MJ for each per cent of moisture (form of EN ISO 18125, from
memory); charcoal 29.5 (IPCC 2006, from memory); propane 46.34 MJ/kg (computed from heats of
formation); electricity 3.6 MJ/kWh by definition.
"""

from decimal import Decimal

from orders.costing.operations import G_PER_KG

GLASS_KJ_KG_K = Decimal("1.12")
CLAY_KJ_KG_K = Decimal("1.00")
ROOM_C = Decimal(25)
HEATING_VALUE_MJ = {
    "charcoal": Decimal("29.5"),
    "lpg": Decimal("46.34"),
    "electricity": Decimal("3.6"),
}
DRY_WOOD_MJ = Decimal("18.5")
WOOD_WATER_MJ = Decimal("2.443")


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

    >>> heat_mj(Decimal(5000), Decimal(40000), Decimal(800))
    Decimal('35.34')
    """
    kj_per_k = (glass_g * GLASS_KJ_KG_K + clay_g * CLAY_KJ_KG_K) / G_PER_KG
    return kj_per_k * (temperature_c - ROOM_C) / G_PER_KG


def calibrated_efficiency(
    heat: Decimal, fuel_amount: Decimal, fuel: str, moisture: Decimal
) -> Decimal:
    """Share of the fuel's heat that reached the load, from a firing whose fuel was weighed.

    heat         of the glass and clay that were in the kiln [MJ]
    fuel_amount  kg, or kWh of electricity

    >>> round(calibrated_efficiency(Decimal("35.34"), Decimal("24.7"), "wood", Decimal("0.20")), 3)
    Decimal('0.100')
    """
    return heat / (fuel_amount * heating_value_mj(fuel, moisture))
