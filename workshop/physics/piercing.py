"""How long a bead stays soft enough to be pierced once it is out of the kiln."""

from collections.abc import Callable

from workshop.physics.advice import Advice
from workshop.physics.kiln_body import STEFAN_BOLTZMANN, ZERO_C_IN_K
from workshop.physics.sentences import PhysicsError, gettext_noop, plain
from workshop.physics.viscosity import CONTAINER, FIXED_POINTS

AT_ALL_LOG_VISCOSITY = FIXED_POINTS["softening"]

AIR_C = 30.0
GLASS_KG_M3 = 2500.0
GLASS_HOT_J_KG_K = 1300.0  # true, 731 to 850 °C, from Sharp & Ginther 1951
GLASS_HOT_W_M_K = 1.5  # from memory
EMISSIVITY = 0.85  # 0.837 at 20 °C: M. Rubin, Solar Energy Materials 12 (1985) 275
MOULD_J_KG_K = 1020.0  # fireclay near 800 °C, VDI Heat Atlas
MOULD_EMISSIVITY = 0.9
MOULD_W_M2_K = 8.0  # free convection from a block, from memory
USUAL_MOULD = (0.8, 0.025)  # kg, m² free: a first guess, weigh and measure your own

NOT_SOFT = gettext_noop(
    "At %(temp)s °C the glass is too stiff for the pin: it needs %(least)s °C or more. Fire hotter,"
    " or leave the bore by a stalk or pin in the mould."
)
SOFT_LONG_ENOUGH = gettext_noop(
    "Out of the kiln at %(temp)s °C a bead of %(size)s mm stays soft about %(seconds)s s in the"
    " air, and a whole mould about %(mould)s s. Pierce each mould at once."
)
SOFT_TOO_SHORT = gettext_noop(
    "Out of the kiln at %(temp)s °C a mould stays soft about %(mould)s s, and one of %(cavities)s"
    " beads takes %(need)s s to pierce. Use two hands, a mould with fewer cavities, or more heat."
)
SOURCE = gettext_noop(
    "radiation and free convection (Stefan-Boltzmann; Churchill); Vogel curve of container glass"
)
RANGE_NOTE = gettext_noop(
    "A first guess: the skin stiffens sooner than the middle, and bottle glasses differ by 15 °C."
    " Your own watch goes before it."
)
BAD_HEAT = gettext_noop("Write a temperature above %(least)s °C, such as 850.")


def flux_w_m2(
    temperature_c: float, transfer_w_m2_k: float, emissivity: float = EMISSIVITY
) -> float:
    """Heat lost by each square metre of a hot surface in the air.

    transfer_w_m2_k  of free convection

    >>> round(flux_w_m2(850, 23) / 1000, 2)
    95.15

    Source: Newton and Stefan-Boltzmann.
    """
    kelvin, air = temperature_c + ZERO_C_IN_K, AIR_C + ZERO_C_IN_K
    radiated = emissivity * STEFAN_BOLTZMANN * (kelvin**4 - air**4)
    return transfer_w_m2_k * (temperature_c - AIR_C) + radiated


SURFACE_C = 790.0  # of a bead while it is pierced


def convection_w_m2_k(size_mm: float) -> float:
    """Free convection from a hot sphere in still air.

    >>> [round(convection_w_m2_k(d)) for d in (8, 12, 20, 26)]
    [29, 23, 18, 16]

    Source: S. W. Churchill's correlation for a sphere (as in `ht` 1.2.0); air by Sutherland, from
    memory.
    """
    film = (SURFACE_C + AIR_C) / 2 + ZERO_C_IN_K
    viscosity = 1.716e-5 * (film / 273.15) ** 1.5 * (273.15 + 110.4) / (film + 110.4)
    conductivity = 0.0241 * (film / 273.15) ** 1.5 * (273.15 + 194) / (film + 194)
    density = 101325 / (287.05 * film)
    prandtl = 0.70
    kinematic = viscosity / density
    size_m = size_mm / 1000
    rayleigh = 9.81 / film * (SURFACE_C - AIR_C) * size_m**3 / kinematic**2 * prandtl
    nusselt = 2 + 0.589 * rayleigh**0.25 / (1 + (0.469 / prandtl) ** (9 / 16)) ** (4 / 9)
    return nusselt * conductivity / size_m


def _seconds(
    heat_j_m2_k: float, from_c: float, to_c: float, flux: Callable[[float], float]
) -> float:
    """Simpson's rule over the time to fall, with so much heat behind each square metre."""
    if to_c >= from_c:
        return 0.0
    middle = (from_c + to_c) / 2
    return (
        heat_j_m2_k * (from_c - to_c) / 6 * (1 / flux(from_c) + 4 / flux(middle) + 1 / flux(to_c))
    )


def bead_soft_s(
    size_mm: float,
    from_c: float,
    to_c: float,
    *,
    transfer_w_m2_k: float | None = None,
    emissivity: float = EMISSIVITY,
) -> float:
    """Seconds a bead in the air takes to fall from one temperature to another.

    size_mm  across, above 0; the bead as a sphere of one temperature throughout

    >>> round(bead_soft_s(12, 850, 731.2, transfer_w_m2_k=23), 1)
    9.9

    Source: heat balance of a sphere, ρ c D/6 behind each square metre; lumped, so rough: the middle
    takes 13 to 28 % longer, the skin is stiff in about half the time.
    """
    transfer = convection_w_m2_k(size_mm) if transfer_w_m2_k is None else transfer_w_m2_k
    heat = GLASS_KG_M3 * GLASS_HOT_J_KG_K * size_mm / 1000 / 6
    return _seconds(heat, from_c, to_c, lambda t: flux_w_m2(t, transfer, emissivity))


def mould_soft_s(from_c: float, to_c: float) -> float:
    """Seconds the beads in a mould take to fall from one temperature to another.

    >>> round(mould_soft_s(850, 731.2), 1)
    55.1

    Source: as `bead_soft_s`, the mould cooling as one piece.
    """
    mould_kg, area_m2 = USUAL_MOULD
    heat = mould_kg * MOULD_J_KG_K / area_m2
    return _seconds(heat, from_c, to_c, lambda t: flux_w_m2(t, MOULD_W_M2_K, MOULD_EMISSIVITY))


def skin_colder_c(size_mm: float, temperature_c: float, transfer_w_m2_k: float) -> float:
    """How much colder a bead's skin is than its mean, at the moment it cools [°C].

    >>> round(skin_colder_c(12, 850, 23), 1)
    76.1

    Source: parabolic profile of a sphere, q D/(10 k); k from memory.
    """
    flux = flux_w_m2(temperature_c, transfer_w_m2_k)
    return flux * size_mm / 1000 / (10 * GLASS_HOT_W_M_K)


def soft_seconds(size_mm: float, temperature_c: float) -> float:
    """Seconds that a bead out of the kiln can be pierced at all, in the air.

    >>> round(soft_seconds(12, 850), 1), soft_seconds(12, 700)
    (9.9, 0.0)

    Source: `bead_soft_s`, down to the softening point.
    """
    return bead_soft_s(size_mm, temperature_c, CONTAINER.temperature_c(AT_ALL_LOG_VISCOSITY))


def piercing_advice(
    size_mm: float,
    temperature_c: float,
    *,
    cavities: int = 1,
    seconds_a_mould: float | None = None,
) -> Advice:
    """Soft enough to pierce? How long the glass gives before it is too stiff.

    size_mm          of the bead across
    temperature_c    it comes out of the kiln at
    cavities         beads in one mould
    seconds_a_mould  what one hand takes for a mould, if it is known

    Returns an Advice: number the seconds of a whole mould; verdict "soft enough", "too short" or
    "too stiff".

    >>> piercing_advice(12, 850, cavities=9, seconds_a_mould=45).verdict
    'soft enough'
    >>> piercing_advice(12, 720).verdict
    'too stiff'

    Source: `mould_soft_s`, `bead_soft_s`.
    """
    least = CONTAINER.temperature_c(AT_ALL_LOG_VISCOSITY)
    if not 100 < temperature_c < 2000:
        raise PhysicsError(BAD_HEAT, least=round(least))
    params: dict[str, object] = {"temp": plain(temperature_c), "least": round(least)}
    if temperature_c <= least:
        stiff = gettext_noop("too stiff")
        return Advice(stiff, 0.0, "s", NOT_SOFT, params, SOURCE, RANGE_NOTE)
    mould_s = mould_soft_s(temperature_c, least)
    params |= {
        "size": plain(size_mm),
        "seconds": round(soft_seconds(size_mm, temperature_c)),
        "mould": round(mould_s),
        "cavities": cavities,
        "need": round(seconds_a_mould or 0),
    }
    short = seconds_a_mould is not None and seconds_a_mould > mould_s
    verdict = gettext_noop("too short") if short else gettext_noop("soft enough")
    template = SOFT_TOO_SHORT if short else SOFT_LONG_ENOUGH
    return Advice(verdict, mould_s, "s", template, params, SOURCE, RANGE_NOTE)
