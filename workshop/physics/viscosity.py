"""How stiff hot glass is, and at what temperature it reaches a given stiffness."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from workshop.physics.composition import checked_shares, polynomial, weight_percent
from workshop.physics.sentences import PhysicsError, gettext_noop, plain

# log10 of the viscosity in Pa.s. The levels: ASTM C336/C598 and ISO 7884-7 (strain, annealing),
# ASTM C338 and ISO 7884-6 (softening), ASTM C965 and ISO 7884-2 (working); melting is custom.
FIXED_POINTS = {
    "strain": 13.5,
    "annealing": 12.0,
    "softening": 6.6,
    "working": 3.0,
    "melting": 1.5,
}
PIERCING_LOG_VISCOSITY = (4.0, 6.0)  # common practice, no source

NEVER_THAT_STIFF = gettext_noop(
    "This glass never reaches a log10 viscosity of %(level)s: its curve stays above %(floor)s."
    " Ask for more than %(floor)s."
)
BAD_POINTS = gettext_noop(
    "Three measured points make a curve only if the glass grows thinner as it grows hotter, and"
    " less so the hotter it is. Check the three temperatures and viscosities."
)
WEIGHT_NEEDS_SILICA = gettext_noop("This model counts each oxide against SiO2. Write the SiO2.")


@dataclass(frozen=True, slots=True)
class ViscosityCurve:
    """A glass's viscosity against temperature: log10 eta = A + B/(T - T0).

    a                    log10 of Pa.s without limit of heat
    b                    [°C]
    t0_c                 where the curve turns infinitely stiff [°C]
    lowest_c, highest_c  where it was measured [°C]
    source               of the three constants

    >>> round(CONTAINER.log10_viscosity(700), 2), round(CONTAINER.temperature_c(6.6), 1)
    (7.28, 731.2)

    Source: Vogel, Fulcher, Tammann (textbook form).
    """

    a: float
    b: float
    t0_c: float
    lowest_c: float = 550.0
    highest_c: float = 1450.0
    source: str = ""

    def log10_viscosity(self, temperature_c: float) -> float:
        """log10 of the viscosity in Pa.s; infinite at and below T0."""
        over = temperature_c - self.t0_c
        return self.a + self.b / over if over > 0 else inf

    def viscosity_pa_s(self, temperature_c: float) -> float:
        """Viscosity [Pa.s]; infinite where too stiff to write as a number."""
        level = self.log10_viscosity(temperature_c)
        return 10.0**level if level < 300 else inf

    def temperature_c(self, log10_viscosity: float) -> float:
        """Temperature [°C] of a viscosity; raises PhysicsError if the curve never gets there."""
        if not log10_viscosity > self.a:
            raise PhysicsError(NEVER_THAT_STIFF, level=log10_viscosity, floor=plain(self.a))
        return self.t0_c + self.b / (log10_viscosity - self.a)

    def covers(self, temperature_c: float) -> bool:
        """Whether the curve was measured there."""
        return self.lowest_c <= temperature_c <= self.highest_c


_PROPERTY_TABLE = "Seward & Vascott (eds.), High Temperature Glass Melt Property Database, 2005"
# Copies of the container row disagree on Pa.s or dPa.s; measured isokoms of container glasses
# (medians 7.03 at 700 °C, 4.08 at 900 °C) settle it for Pa.s. Near 600 °C it is 0.5 too stiff,
# worth about 15 °C.
CONTAINER = ViscosityCurve(-2.309, 3922.0, 291.0, source=_PROPERTY_TABLE)
FLOAT = ViscosityCurve(-2.585, 4215.0, 263.0, source=_PROPERTY_TABLE)
DGG_1 = ViscosityCurve(
    -2.601,
    4330.9,
    246.1,
    source="DGG standard glass I, Encyclopedia of Glass Science, Technology, History and Culture",
)
SRM_710A = ViscosityCurve(
    -2.9733,
    4937.42,
    215.25,
    545.0,
    1319.0,
    source="through the measured points 1319, 731, 545 °C (Fluegel 2007, Table 12)",
)


def fixed_points_c(curve: ViscosityCurve) -> dict[str, float]:
    """The named points of a glass: strain, annealing, softening, working, melting.

    curve  of the glass

    Returns name -> °C. Raises PhysicsError if the curve never gets there.

    >>> {name: round(point) for name, point in fixed_points_c(CONTAINER).items()}
    {'strain': 539, 'annealing': 565, 'softening': 731, 'working': 1030, 'melting': 1321}

    Source: `FIXED_POINTS`.
    """
    return {name: curve.temperature_c(level) for name, level in FIXED_POINTS.items()}


def curve_through(points: Sequence[tuple[float, float]], source: str = "") -> ViscosityCurve:
    """The viscosity curve through three measured points.

    points  three of (temperature °C, log10 viscosity in Pa.s), in any order
    source  where the points are from

    Returns a curve that covers their span. Raises PhysicsError if no such curve runs through
    them.

    >>> curve = curve_through([(1319, 1.5), (731, 6.6), (545, 12)])
    >>> round(curve.a, 4), round(curve.b, 2), round(curve.t0_c, 2)
    (-2.9733, 4937.42, 215.25)

    Source: closed form of three equations (re-derived).
    """
    (t1, l1), (t2, l2), (t3, l3) = sorted(points, reverse=True)
    try:
        bend = (l1 - l2) * (t3 - t2) / ((l2 - l3) * (t2 - t1))
        t0_c = (bend * t1 - t3) / (bend - 1)
        b = (l1 - l2) / (1 / (t1 - t0_c) - 1 / (t2 - t0_c))
    except ZeroDivisionError:
        raise PhysicsError(BAD_POINTS) from None
    if not (b > 0 and t0_c < t3):
        raise PhysicsError(BAD_POINTS)
    return ViscosityCurve(l1 - b / (t1 - t0_c), b, t0_c, t3, t1, source)


_SOFTENING: dict[tuple[str, ...], float] = {
    (): 939.479,
    ("Al2O3",): 5.812,
    ("CaO",): -1.791,
    ("Fe2O3",): -11.013,
    ("K2O",): -20.659,
    ("K2O", "K2O"): 0.58116,
    ("K2O", "K2O", "K2O"): -0.009370,
    ("MgO",): 0.93,
    ("Na2O",): -19.051,
    ("Na2O", "Na2O"): 0.32209,
    ("Na2O", "Na2O", "Na2O"): -0.002080,
    ("TiO2",): -2.862,
    ("ZnO",): -1.065,
    ("Na2O", "K2O"): 0.15519,
    ("Na2O", "CaO"): 0.09392,
    ("K2O", "MgO"): 0.26354,
    ("K2O", "CaO"): 0.47564,
    ("MgO", "CaO"): -0.15553,
    ("Al2O3", "Na2O"): 0.08442,
    ("Al2O3", "K2O"): 0.48055,
    ("Al2O3", "Na2O", "CaO"): -0.006780,
    ("Na2O", "MgO", "CaO"): -0.012589,
}
_ANNEALING: dict[tuple[str, ...], float] = {
    (): 624.829,
    ("Al2O3",): 4.929,
    ("CaO",): 6.84,
    ("CaO", "CaO"): -0.08269,
    ("Fe2O3",): -8.453,
    ("K2O",): -12.460,
    ("K2O", "K2O"): 0.39706,
    ("K2O", "K2O", "K2O"): -0.005382,
    ("MgO",): 1.141,
    ("Na2O",): -12.854,
    ("Na2O", "Na2O"): 0.35785,
    ("Na2O", "Na2O", "Na2O"): -0.004179,
    ("TiO2",): 3.864,
    ("Na2O", "K2O"): 0.06169,
    ("Na2O", "CaO"): -0.10283,
    ("K2O", "MgO"): 0.27425,
    ("K2O", "CaO"): 0.2247,
    ("MgO", "CaO"): -0.21563,
    ("Al2O3", "CaO"): -0.13741,
    ("Al2O3", "Na2O", "CaO"): 0.013868,
}
COMPOSITION_SOURCE = "Fluegel, Glass Technol. A 48(1) (2007) 13, Tables 5 and 6"


def softening_and_annealing_c(mol_percent: Mapping[str, float]) -> tuple[float, float]:
    """Softening (log10 eta 6.6) and annealing (12) points of a glass from what it is made of.

    mol_percent  oxide -> mol% of the whole glass, adding up to 95 to 105

    Returns (softening °C, annealing °C), standard error 9 to 17 °C. Holds for soda-lime and
    kindred silicate glasses; oxides the tables lack count as nothing. Raises CompositionError
    for an unknown oxide or a poor sum.

    >>> from workshop.physics.composition import DGG_1_MOL
    >>> [round(point) for point in softening_and_annealing_c(DGG_1_MOL)]
    [715, 535]

    Source: Fluegel, Glass Technol. A 48(1) (2007) 13, Tables 5 and 6.
    """
    shares = checked_shares(mol_percent, about_100=True)
    return polynomial(_SOFTENING, shares), polynomial(_ANNEALING, shares)


# Each row: log10 eta (Pa.s), constant, then per part of the oxide to 100 parts SiO2 by weight.
_HOT = (
    (1.0, 1847.8, {"Al2O3": 8.32, "Na2O": -12.65, "K2O": -5.93, "CaO": -11.27, "MgO": -5.87}),
    (3.0, 1249.7, {"Al2O3": 5.23, "Na2O": -9.19, "K2O": -4.17, "CaO": -3.99, "MgO": -0.12}),
    (5.0, 962.9, {"Al2O3": 4.01, "Na2O": -7.06, "K2O": -3.53, "CaO": -0.74, "MgO": 0.91}),
)


def hot_points_c(weight_percent: Mapping[str, float]) -> tuple[float, float, float]:
    """Temperatures at log10 eta 1, 3 and 5 (Pa.s) from what a glass is made of.

    weight_percent  oxide -> wt%; SiO2 60 to 77, Na2O 10 to 17, CaO 4 to 13

    Returns three °C, standard errors 4.6, 3.3 and 3.1 °C. Raises CompositionError for an unknown
    oxide and PhysicsError without SiO2.

    >>> from workshop.physics.composition import CONTAINER_WT
    >>> [round(point) for point in hot_points_c(CONTAINER_WT)]
    [1476, 1039, 834]

    Source: Lakatos, Johansson & Simmingskold 1976 (printed as log poise 2, 4, 6).
    """
    shares = checked_shares(weight_percent)
    if "SiO2" not in shares:
        raise PhysicsError(WEIGHT_NEEDS_SILICA)
    per_silica = {oxide: 100 * share / shares["SiO2"] for oxide, share in shares.items()}
    t1, t3, t5 = (
        constant + sum(factor * per_silica.get(oxide, 0.0) for oxide, factor in factors.items())
        for _, constant, factors in _HOT
    )
    return t1, t3, t5


def curve_of_composition(mol_percent: Mapping[str, float]) -> ViscosityCurve:
    """A whole viscosity curve from what a glass is made of: hot side, softening and annealing.

    mol_percent  oxide -> mol% of the whole glass, adding up to 95 to 105

    Returns the curve through log10 eta 3 (Lakatos), 6.6 and 12 (Fluegel). Good to about 20 °C
    for soda-lime glasses. Raises CompositionError or PhysicsError as the two models.

    >>> from workshop.physics.composition import CONTAINER_MOL
    >>> round(curve_of_composition(CONTAINER_MOL).temperature_c(6.6))
    737

    Source: `hot_points_c`, `softening_and_annealing_c`, `curve_through`.
    """
    softening_c, annealing_c = softening_and_annealing_c(mol_percent)
    working_c = hot_points_c(weight_percent(mol_percent))[1]
    points = ((working_c, 3.0), (softening_c, 6.6), (annealing_c, 12.0))
    return curve_through(points, f"{COMPOSITION_SOURCE}; Lakatos et al. 1976")
