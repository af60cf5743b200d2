"""Heat for a firing, and the fuel that gives it."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from workshop.physics.composition import CONTAINER_WT, checked_shares
from workshop.physics.sentences import PhysicsError, gettext_noop, number_in

Number = TypeVar("Number", float, Decimal)

GLASS_KJ_KG_K = Decimal("1.12")  # mean 0-800 °C, Sharp & Ginther 1951 (from memory)
# Fired clay: 0.80 near 20 °C to 1.02 near 800 °C (VDI Heat Atlas, fireclay).
CLAY_KJ_KG_K = Decimal("1.0")
ROOM_C = 25.0  # common practice, no source
FROM_C = Decimal(repr(ROOM_C))
MJ_PER_KWH = 3.6  # definition
DRY_WOOD_MJ_KG = Decimal("18.5")  # net, oven-dry; woods run 18.0 to 19.2
WOOD_WATER_MJ_KG = Decimal("2.443")  # heat of evaporation at 25 °C, EN ISO 18125 (from memory)

BAD_TEMPERATURE = gettext_noop(
    "Heating from %(start)s to %(end)s °C is not heating. Write the end above the start, up to"
    " 2000 °C."
)
NO_SHARP_GINTHER = gettext_noop("Sharp and Ginther's factors do not cover %(oxide)s.")


@dataclass(frozen=True, slots=True)
class Fuel:
    """A fuel and the heat one unit of it gives.

    key          "wood", "charcoal", "lpg", "electricity"
    name         in words
    unit         what it is bought by: "kg" or "kWh"
    mj_per_unit  net calorific value [MJ/kg], or 3.6 MJ/kWh
    source       of that value

    >>> FUELS["electricity"].mj_per_unit
    Decimal('3.6')
    """

    key: str
    name: str
    unit: str
    mj_per_unit: Decimal
    source: str


# a and c0 of each oxide, cal/(g °C), from memory:
# Sharp & Ginther, J. Am. Ceram. Soc. 34 (1951) 260.
_SHARP_GINTHER = {
    "SiO2": (0.000468, 0.1657),
    "Al2O3": (0.000453, 0.1765),
    "CaO": (0.000410, 0.1709),
    "MgO": (0.000514, 0.2142),
    "Na2O": (0.000829, 0.2229),
    "K2O": (0.000335, 0.2019),
}


def mean_specific_heat_j_kg_k(
    temperature_c: float, weight_percent: Mapping[str, float] | None = None
) -> float:
    """Mean specific heat of a glass between 0 °C and a temperature.

    temperature_c   upper end, 0 to 1300 °C
    weight_percent  oxide -> wt%; None for container glass

    Returns J/(kg K), good to about 2 %. Raises CompositionError for an unknown oxide and
    PhysicsError outside 0 to 2000 °C or for more than 2 % of an oxide without factors.

    >>> round(mean_specific_heat_j_kg_k(800))
    1121

    Source: Sharp & Ginther, J. Am. Ceram. Soc. 34 (1951) 260 (from memory).
    """
    temperature = number_in(temperature_c)
    if temperature is None or not 0 <= temperature <= 2000:
        raise PhysicsError(BAD_TEMPERATURE, start=0, end=temperature_c)
    shares = checked_shares(CONTAINER_WT if weight_percent is None else weight_percent)
    whole = sum(shares.values())
    for oxide, share in shares.items():
        if oxide not in _SHARP_GINTHER and share > 0.02 * whole:
            raise PhysicsError(NO_SHARP_GINTHER, oxide=oxide)
    known = {oxide: share for oxide, share in shares.items() if oxide in _SHARP_GINTHER}
    total = sum(known.values())
    a = sum(share * _SHARP_GINTHER[oxide][0] for oxide, share in known.items()) / total
    c0 = sum(share * _SHARP_GINTHER[oxide][1] for oxide, share in known.items()) / total
    return 4184 * (a * temperature + c0) / (0.00146 * temperature + 1)


def sensible_heat_mj(
    glass_g: Number,
    glass_kj_kg_k: Number,
    clay_g: Number,
    clay_kj_kg_k: Number,
    hot_c: Number,
    cold_c: Number,
) -> Number:
    """Heat that glass and clay take up between two temperatures.

    glass_g, clay_g              masses [g]
    glass_kj_kg_k, clay_kj_kg_k  mean specific heats [kJ/(kg K)]
    hot_c, cold_c                temperatures [°C]

    Returns MJ. The kiln's own walls and the flue are the efficiency's business.

    >>> round(sensible_heat_mj(5000.0, 1.12, 40_000.0, 1.0, 800.0, 25.0), 2)
    35.34

    Source: sensible heat, m c dT (definition); glass has no latent heat of melting.
    """
    kj_per_k = (glass_g * glass_kj_kg_k + clay_g * clay_kj_kg_k) / 1000
    return kj_per_k * (hot_c - cold_c) / 1000


def heat_mj(glass_g: Decimal, clay_g: Decimal, temperature_c: Decimal) -> Decimal:
    """Heat that brings glass and the clay of its moulds from 25 °C to the firing temperature.

    glass_g, clay_g  masses [g]
    temperature_c    of the firing [°C]

    Returns MJ.

    >>> round(heat_mj(Decimal(5000), Decimal(40000), Decimal(800)), 2)
    Decimal('35.34')

    Source: `sensible_heat_mj`.
    """
    return sensible_heat_mj(glass_g, GLASS_KJ_KG_K, clay_g, CLAY_KJ_KG_K, temperature_c, FROM_C)


def wet_wood_mj_kg(dry_mj_kg: Number, water_mj_kg: Number, moisture: Number) -> Number:
    """Net calorific value of wood as it is fired.

    dry_mj_kg    of the dry wood [MJ/kg], 18.0 to 19.2
    water_mj_kg  that drives a kilogram of its water off [MJ/kg]
    moisture     share of its weight that is water, 0 (oven-dry) up to 1; stacked two summers 0.20

    Returns MJ/kg; below 0 for wood too wet to burn.

    >>> round(wet_wood_mj_kg(18.5, 2.443, 0.20), 3)
    14.311

    Source: EN ISO 18125, q0 (1 - M) - 2.443 M (formula from memory; agrees with published tables).
    """
    return dry_mj_kg * (1 - moisture) - water_mj_kg * moisture


FUELS = {
    fuel.key: fuel
    for fuel in (
        Fuel(
            "wood",
            gettext_noop("wood, 20 % moisture"),
            "kg",
            wet_wood_mj_kg(DRY_WOOD_MJ_KG, WOOD_WATER_MJ_KG, Decimal("0.20")),
            "EN ISO 18125 with 18.5 MJ/kg dry",
        ),
        Fuel(
            "charcoal",
            gettext_noop("charcoal"),
            "kg",
            Decimal("29.5"),
            "IPCC 2006 Guidelines vol. 2 Table 1.2 (from memory)",
        ),
        Fuel(
            "lpg",
            gettext_noop("bottled gas"),
            "kg",
            Decimal("47.3"),
            "IPCC 2006 Guidelines vol. 2 Table 1.2 (from memory)",
        ),
        Fuel(
            "electricity",
            gettext_noop("electricity"),
            "kWh",
            Decimal(repr(MJ_PER_KWH)),
            "definition",
        ),
    )
}


def heating_value_mj(fuel: str, moisture: Decimal) -> Decimal:
    """Heat in one unit of a fuel as it is fired.

    fuel      a key of `FUELS`
    moisture  of wood, share of its wet mass, 0 to 1; no matter for the others

    Returns MJ per kg, or per kWh of electricity.

    >>> heating_value_mj("wood", Decimal("0.20")), heating_value_mj("lpg", Decimal(0))
    (Decimal('14.31140'), Decimal('47.3'))

    Source: `FUELS`, `wet_wood_mj_kg`.
    """
    if fuel == "wood":
        return wet_wood_mj_kg(DRY_WOOD_MJ_KG, WOOD_WATER_MJ_KG, moisture)
    return FUELS[fuel].mj_per_unit
