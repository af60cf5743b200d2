"""Will the grains bond? Viscous sintering of glass powder and chunks in the mould."""

from collections.abc import Sequence
from itertools import pairwise
from math import log10

from workshop.physics.advice import Advice
from workshop.physics.sentences import PhysicsError, gettext_noop, plain
from workshop.physics.surface_tension import DEFAULT_SURFACE_TENSION_N_M
from workshop.physics.viscosity import CONTAINER, ViscosityCurve

# Upper ends of each verdict in theta = gamma t/(eta r), derived from Frenkel's equation: neck
# ratio 0.3 at 0.06, 0.5 at 1/6; dense from 60 % packing at 0.42; 5 is a judgement.
CRUMBLY, WEAK, POROUS = gettext_noop("crumbly"), gettext_noop("weak"), gettext_noop("porous")
NEARLY_DENSE, FUSED = gettext_noop("nearly dense"), gettext_noop("fused")
RUNS = gettext_noop("runs")
VERDICTS = ((0.06, CRUMBLY), (0.17, WEAK), (0.42, POROUS), (1.0, NEARLY_DENSE), (5.0, FUSED))
FIRM_THETA = 1 / 6  # a firm, porous bead
FUSED_THETA = 1.0
TEMPERATURE_ERROR_C = 20.0  # viscosity 0.2 to 0.5 log units, surface tension a factor 1.6

SOURCE = "Frenkel, J. Phys. (Moscow) 9 (1945) 385"
RANGE_NOTE = gettext_noop(
    "Even round grains of one size, clean glass, time at temperature; good to about ±20 °C. Jagged"
    " grains start sooner; mixed sizes and crystals on the grains are slower."
)

BAD_GRAIN = gettext_noop("The grains are %(found)s mm across. Write a size above 0, such as 0.15.")
BAD_MINUTES = gettext_noop("The time is %(found)s min. Write minutes above 0, such as 25.")
BAD_TENSION = gettext_noop("The surface tension is %(found)s N/m. Write one above 0, such as 0.3.")
BAD_THETA = gettext_noop("The bond asked for is %(found)s. Write one above 0, such as 1.")
BAD_CURVE = gettext_noop(
    "A firing curve needs two readings or more of minute and °C, the minutes never going back."
    " Check reading %(place)s."
)
IT_BONDS = gettext_noop(
    "Grains of %(grain)s mm at %(temperature)s °C for %(minutes)s min: %(verdict)s."
    " About %(needed)s °C, between %(low)s and %(high)s, would make them %(wanted)s."
)
CURVE_BONDS = gettext_noop(
    "Grains of %(grain)s mm over this firing of %(minutes)s min, hottest %(temperature)s °C:"
    " %(verdict)s."
)


def reduced_time(
    temperature_c: float,
    minutes: float,
    grain_mm: float,
    *,
    curve: ViscosityCurve = CONTAINER,
    surface_tension_n_m: float = DEFAULT_SURFACE_TENSION_N_M,
) -> float:
    """How far grains have bonded, held at one temperature: theta = gamma t/(eta r).

    temperature_c        of the glass, not of the gauge [°C]
    minutes              at that temperature, 0 or more
    grain_mm             grain diameter, 2r [mm]
    curve                viscosity of the glass
    surface_tension_n_m  [N/m]

    Returns theta, a ratio; 1 is fused. Holds where the viscosity curve does. Raises PhysicsError
    for a grain, time or tension that cannot be.

    >>> round(reduced_time(750, 25, 0.15), 2)
    3.49

    Source: Frenkel, J. Phys. (Moscow) 9 (1945) 385.
    """
    if not 0 <= minutes < 1e9:
        raise PhysicsError(BAD_MINUTES, found=minutes)
    factor = _per_minute(grain_mm, surface_tension_n_m)
    return factor * minutes * _fluidity(curve, temperature_c)


def reduced_time_over(
    readings: Sequence[tuple[float, float]],
    grain_mm: float,
    *,
    curve: ViscosityCurve = CONTAINER,
) -> float:
    """`reduced_time` over a logged firing: heating, hold and cooling all counted.

    readings  (minute, °C) in order of time, two or more; straight lines between them
    grain_mm, curve  as `reduced_time`

    Returns theta. Raises PhysicsError if the readings are no curve, and as `reduced_time`.

    >>> round(reduced_time_over([(0, 750), (25, 750)], 0.15), 2)
    3.49

    Source: Frenkel 1945, the integral of gamma/(eta r) dt; Gauss-Legendre, checked by quadrature.
    """
    _check_readings(readings)
    total = 0.0
    for (start, from_c), (end, to_c) in pairwise(readings):
        total += (end - start) * _mean_fluidity(curve, from_c, to_c)
    return _per_minute(grain_mm, DEFAULT_SURFACE_TENSION_N_M) * total


def verdict_of(theta: float) -> str:
    """The bench's word for a bond: crumbly, weak, porous, nearly dense, fused, runs.

    theta  from `reduced_time`

    >>> [verdict_of(theta) for theta in (0.01, 0.1, 0.3, 0.9, 3, 200)]
    ['crumbly', 'weak', 'porous', 'nearly dense', 'fused', 'runs']

    Source: derived from Frenkel's equation; the last step, 5, is a judgement.
    """
    return next((word for most, word in VERDICTS if theta < most), RUNS)


def temperature_needed_c(
    minutes: float,
    grain_mm: float,
    theta: float = FUSED_THETA,
    *,
    curve: ViscosityCurve = CONTAINER,
    surface_tension_n_m: float = DEFAULT_SURFACE_TENSION_N_M,
) -> float:
    """The temperature at which grains bond so far in so long.

    minutes   at temperature, above 0
    grain_mm  grain diameter [mm]
    theta     the bond wanted: `FUSED_THETA`, `FIRM_THETA` or another

    Returns °C, good to about 20. Raises PhysicsError for a grain, time or bond that cannot be.

    >>> round(temperature_needed_c(30, 0.15), 1)
    718.9

    Source: Frenkel 1945, solved for the viscosity, and the viscosity curve for the temperature.
    """
    if not 0 < minutes < 1e9:
        raise PhysicsError(BAD_MINUTES, found=minutes)
    if not 0 < theta < 1e9:
        raise PhysicsError(BAD_THETA, found=theta)
    viscosity = _per_minute(grain_mm, surface_tension_n_m) * minutes / theta
    return curve.temperature_c(log10(viscosity))


def bond_advice(
    temperature_c: float,
    minutes: float,
    grain_mm: float,
    *,
    wanted_theta: float = FUSED_THETA,
) -> Advice:
    """What a hold will do to grains, and the temperature that would do what is wanted.

    temperature_c, minutes, grain_mm  as `reduced_time`
    wanted_theta                      the bond wanted

    Returns an Advice whose number is theta. `in_range` is False where the viscosity curve was
    not measured. Raises PhysicsError as `reduced_time`.

    >>> bond_advice(600, 35, 0.15, wanted_theta=FIRM_THETA).sentence
    'Grains of 0.15 mm at 600 °C for 35 min: crumbly. About 683 °C, between 663 and \
703, would make them porous.'

    Source: `reduced_time`, `temperature_needed_c`.
    """
    theta = reduced_time(temperature_c, minutes, grain_mm)
    needed_c = temperature_needed_c(minutes, grain_mm, wanted_theta)
    params = {
        "grain": plain(grain_mm),
        "temperature": plain(temperature_c),
        "minutes": plain(minutes),
        "verdict": verdict_of(theta),
        "wanted": verdict_of(wanted_theta * 1.03),  # just past the step asked for
        "needed": round(needed_c),
        "low": round(needed_c - TEMPERATURE_ERROR_C),
        "high": round(needed_c + TEMPERATURE_ERROR_C),
    }
    return _advice(theta, IT_BONDS, params, CONTAINER.covers(temperature_c))


def curve_advice(readings: Sequence[tuple[float, float]], grain_mm: float) -> Advice:
    """What a logged firing did to grains.

    readings, grain_mm  as `reduced_time_over`

    Returns an Advice whose number is theta. Raises PhysicsError as `reduced_time_over`.

    >>> curve_advice([(0, 20), (60, 850), (100, 850), (200, 500)], 5).verdict
    'runs'

    Source: `reduced_time_over`.
    """
    theta = reduced_time_over(readings, grain_mm)
    hottest_c = max(temperature for _, temperature in readings)
    params: dict[str, object] = {
        "grain": plain(grain_mm),
        "minutes": plain(readings[-1][0] - readings[0][0]),
        "temperature": plain(hottest_c),
        "verdict": verdict_of(theta),
    }
    return _advice(theta, CURVE_BONDS, params, CONTAINER.covers(hottest_c))


def _advice(theta: float, template: str, params: dict[str, object], in_range: bool) -> Advice:
    return Advice(verdict_of(theta), theta, "", template, params, SOURCE, RANGE_NOTE, in_range)


def _per_minute(grain_mm: float, surface_tension_n_m: float) -> float:
    """gamma × 60 s / r: theta per minute and per 1/(Pa.s)."""
    if not 0 < grain_mm < 1e4:
        raise PhysicsError(BAD_GRAIN, found=grain_mm)
    if not 0 < surface_tension_n_m < 10:
        raise PhysicsError(BAD_TENSION, found=surface_tension_n_m)
    return surface_tension_n_m * 60 / (grain_mm / 2000)


def _fluidity(curve: ViscosityCurve, temperature_c: float) -> float:
    return 10.0 ** -curve.log10_viscosity(temperature_c)


# Nodes and weights of five-point Gauss-Legendre on 0 to 1 (Abramowitz & Stegun 25.4.30).
_GAUSS = (
    (0.046910077030668, 0.1184634425280945),
    (0.2307653449471585, 0.2393143352496832),
    (0.5, 0.2844444444444444),
    (0.7692346550528415, 0.2393143352496832),
    (0.953089922969332, 0.1184634425280945),
)
_STEP_C = 25.0  # short enough for ten figures anywhere bottle glass flows


def _mean_fluidity(curve: ViscosityCurve, from_c: float, to_c: float) -> float:
    """1/eta averaged over a straight line of temperature."""
    if from_c == to_c:
        return _fluidity(curve, from_c)
    # Below T0 nothing flows, and the curve has no slope to follow.
    low, high = max(min(from_c, to_c), curve.t0_c), max(from_c, to_c)
    if high <= curve.t0_c:
        return 0.0
    steps = int((high - low) / _STEP_C) + 1
    width = (high - low) / steps
    total = sum(
        weight * _fluidity(curve, low + (step + node) * width)
        for step in range(steps)
        for node, weight in _GAUSS
    )
    return total * width / abs(to_c - from_c)


def _check_readings(readings: Sequence[tuple[float, float]]) -> None:
    if len(readings) < 2:
        raise PhysicsError(BAD_CURVE, place=len(readings))
    before = readings[0][0]
    for place, (minute, temperature_c) in enumerate(readings, start=1):
        # Written so that a NaN fails too.
        if not (before <= minute < 1e9 and -274 < temperature_c < 3000):
            raise PhysicsError(BAD_CURVE, place=place)
        before = minute
