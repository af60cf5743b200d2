"""Heat for a firing, and the fuel that gives it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workshop.physics.composition import CONTAINER_WT, checked_shares
from workshop.physics.sentences import PhysicsError, gettext_noop, number_in

GLASS_KJ_KG_K = 1.12  # mean 0-800 °C, Sharp & Ginther 1951 (from memory)
CLAY_KJ_KG_K = 1.0  # fired clay: 0.80 near 20 °C to 1.02 near 800 °C (VDI Heat Atlas, fireclay)
ROOM_C = 25.0
MJ_PER_KWH = 3.6
WATER_KJ_KG_K = 4.186
EVAPORATION_KJ_KG = 2257.0  # at 100 °C (steam tables, from memory)
DRY_WOOD_MJ_KG = 18.5  # net, oven-dry; woods run 18.0 to 19.2
USUAL_EFFICIENCY = 0.12  # 0.10-0.15, common practice, no source: calibrate by weighing

BAD_MASS = gettext_noop("The mass of %(what)s is %(found)s kg. Write 0 or more.")
BAD_TEMPERATURE = gettext_noop(
    "Heating from %(start)s to %(end)s °C is not heating. Write the end above the start, up to"
    " 2000 °C."
)
BAD_MOISTURE = gettext_noop(
    "The moisture is %(found)s. Write the share of water in the wood as fired, from 0 up to 1."
)
TOO_WET = gettext_noop(
    "Wood of %(percent)s %% moisture gives no heat: drying it takes all it has. Dry it first."
)
BAD_EFFICIENCY = gettext_noop(
    "The efficiency is %(found)s. Write the share of the fuel's heat that reaches the load, above"
    " 0 and up to 1."
)
BAD_HEAT = gettext_noop("The heat is %(found)s MJ. Write 0 or more.")
BAD_FUEL = gettext_noop("The fuel's heat is %(found)s MJ for each unit. Write more than 0.")
NO_FIRINGS = gettext_noop("No firing has its fuel weighed yet. Weigh the fuel of one firing first.")
NOT_WEIGHED = gettext_noop(
    "Firing %(place)s has %(heat)s MJ of heat and %(fuel)s of fuel. Both must be above 0: weigh"
    " the fuel again."
)
MORE_THAN_ALL = gettext_noop(
    "The load took %(heat)s MJ and the fuel weighed holds only %(held)s MJ. Check the fuel's"
    " weight and moisture, and the weight of the moulds."
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
    3.6
    """

    key: str
    name: str
    unit: str
    mj_per_unit: float
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


def heat_of_load_mj(
    glass_kg: float,
    clay_kg: float,
    temperature_c: float,
    *,
    water_kg: float = 0.0,
    start_c: float = ROOM_C,
    glass_kj_kg_k: float = GLASS_KJ_KG_K,
    clay_kj_kg_k: float = CLAY_KJ_KG_K,
) -> float:
    """Heat that glass and moulds take up in a firing.

    glass_kg, clay_kg  in the kiln [kg], 0 or more; moulds fired before
    temperature_c      at the top of the firing [°C], above the start, up to 2000
    water_kg           still in the filling or the moulds [kg], driven off as steam
    start_c            before the firing [°C]
    glass_kj_kg_k, clay_kj_kg_k  mean specific heats [kJ/(kg K)]

    Returns MJ. The kiln's own walls and the flue are the efficiency's business. Raises
    PhysicsError for a mass or temperature that cannot be.

    >>> round(heat_of_load_mj(5, 40, 800), 2)
    35.34

    Source: sensible heat, m c dT (definition); glass has no latent heat of melting.
    """
    for what, mass in (
        (gettext_noop("the glass"), glass_kg),
        (gettext_noop("the moulds"), clay_kg),
        (gettext_noop("the water"), water_kg),
    ):
        if not 0 <= mass < 1e9:
            raise PhysicsError(BAD_MASS, what=what, found=mass)
    if not -100 <= start_c < temperature_c <= 2000:
        raise PhysicsError(BAD_TEMPERATURE, start=start_c, end=temperature_c)
    rise = temperature_c - start_c
    dry_kj = (glass_kg * glass_kj_kg_k + clay_kg * clay_kj_kg_k) * rise
    to_boiling = max(0.0, min(temperature_c, 100.0) - start_c)
    steam = EVAPORATION_KJ_KG if temperature_c >= 100 else 0.0
    return (dry_kj + water_kg * (WATER_KJ_KG_K * to_boiling + steam)) / 1000


def wood_mj_kg(moisture: float, dry_mj_kg: float = DRY_WOOD_MJ_KG) -> float:
    """Net calorific value of wood as it is fired.

    moisture   share of its weight that is water, 0 (oven-dry) up to 1; stacked two summers 0.20
    dry_mj_kg  of the dry wood [MJ/kg], 18.0 to 19.2

    Returns MJ/kg. Raises PhysicsError for a share that is none, or wood too wet to burn.

    >>> round(wood_mj_kg(0.20), 3)
    14.311

    Source: EN ISO 18125, q0 (1 - M) - 2.443 M (formula from memory; agrees with published tables).
    """
    share = number_in(moisture)
    if share is None or not 0 <= share < 1:
        raise PhysicsError(BAD_MOISTURE, found=moisture)
    value = dry_mj_kg * (1 - share) - 2.443 * share
    if value <= 0:
        raise PhysicsError(TOO_WET, percent=round(100 * share))
    return value


FUELS = {
    fuel.key: fuel
    for fuel in (
        Fuel(
            "wood",
            gettext_noop("wood, 20 % moisture"),
            "kg",
            wood_mj_kg(0.20),
            "EN ISO 18125 with 18.5 MJ/kg dry",
        ),
        Fuel(
            "charcoal",
            gettext_noop("charcoal"),
            "kg",
            29.5,
            "IPCC 2006 Guidelines vol. 2 Table 1.2 (from memory)",
        ),
        Fuel(
            "lpg",
            gettext_noop("bottled gas"),
            "kg",
            47.3,
            "IPCC 2006 Guidelines vol. 2 Table 1.2 (from memory)",
        ),
        Fuel("electricity", gettext_noop("electricity"), "kWh", MJ_PER_KWH, "definition"),
    )
}


def fuel_mj_per_unit(fuel: str, *, moisture: float = 0.20) -> float:
    """Heat in one unit of a fuel.

    fuel      a key of `FUELS`
    moisture  of wood, as `wood_mj_kg`; no matter for the others

    Returns MJ per kg, or per kWh of electricity. Raises KeyError for an unknown fuel and
    PhysicsError for a moisture that cannot be.

    >>> fuel_mj_per_unit("lpg"), round(fuel_mj_per_unit("wood", moisture=0.3), 2)
    (47.3, 12.22)

    Source: `FUELS`, `wood_mj_kg`.
    """
    return wood_mj_kg(moisture) if fuel == "wood" else FUELS[fuel].mj_per_unit


def fuel_needed(heat_mj: float, mj_per_unit: float, efficiency: float = USUAL_EFFICIENCY) -> float:
    """Fuel for a firing.

    heat_mj      the load takes up [MJ], 0 or more
    mj_per_unit  heat in one kg (or kWh) of the fuel [MJ], above 0
    efficiency   share of it that reaches the load, above 0 and up to 1

    Returns kg (or kWh). Raises PhysicsError for figures that cannot be.

    >>> round(fuel_needed(heat_of_load_mj(5, 40, 800), wood_mj_kg(0.20), 0.10), 1)
    24.7

    Source: Q/(efficiency × net calorific value) (definition).
    """
    if not 0 <= heat_mj < 1e12:
        raise PhysicsError(BAD_HEAT, found=heat_mj)
    if not 0 < mj_per_unit < 1e6:
        raise PhysicsError(BAD_FUEL, found=mj_per_unit)
    if not 0 < efficiency <= 1:
        raise PhysicsError(BAD_EFFICIENCY, found=efficiency)
    return heat_mj / (efficiency * mj_per_unit)


def efficiency_from_weighed(firings: Sequence[tuple[float, float]], mj_per_unit: float) -> float:
    """A kiln's efficiency from firings whose fuel was weighed.

    firings      (heat of the load MJ, fuel in kg or kWh) of each
    mj_per_unit  heat in one unit of the fuel [MJ]

    Returns the share, all heat over all fuel, so long firings count for more. Raises
    PhysicsError if there is no firing, a figure is not above 0, or the share comes out over 1.

    >>> round(efficiency_from_weighed([(35.34, 24.694), (35.34, 16.463)], 14.311), 2)
    0.12

    Source: `fuel_needed` solved for the efficiency.
    """
    if not firings:
        raise PhysicsError(NO_FIRINGS)
    if not 0 < mj_per_unit < 1e6:
        raise PhysicsError(BAD_FUEL, found=mj_per_unit)
    for place, (heat, fuel) in enumerate(firings, start=1):
        if not (0 < heat < 1e12 and 0 < fuel < 1e9):
            raise PhysicsError(NOT_WEIGHED, place=place, heat=heat, fuel=fuel)
    heat_mj = sum(heat for heat, _ in firings)
    held_mj = sum(fuel for _, fuel in firings) * mj_per_unit
    if heat_mj > held_mj:
        raise PhysicsError(MORE_THAN_ALL, heat=f"{heat_mj:.1f}", held=f"{held_mj:.1f}")
    return heat_mj / held_mj


def kwh(mj: float) -> float:
    """Megajoules as kilowatt hours.

    mj  [MJ]

    >>> kwh(36)
    10.0

    Source: 1 kWh = 3.6 MJ (definition).
    """
    return mj / MJ_PER_KWH
