"""How slowly fired beads must cool, so that they do not crack on the cord."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

from workshop.physics.advice import Advice
from workshop.physics.sentences import PhysicsError, gettext_noop, plain
from workshop.physics.shape_base import COOLING_FACTOR
from workshop.physics.viscosity import CONTAINER, DGG_1, FIXED_POINTS, ViscosityCurve

Piece = tuple[str, float]  # form and size in mm, as `BeadShape.thickest()` gives it

DESIGN_STRESS_MPA = 2.0  # common practice, no source
BELOW_STRAIN_POINT_C = 25.0  # how far under it slow cooling goes on: common practice, no source

FOR_DOUBT_C = 10.0  # bottle glasses differ: our choice, no source

SOURCE = "Adams & Williamson, J. Franklin Inst. 190 (1920) 597 and 835"
RANGE_NOTE = gettext_noop(
    "Slow, steady cooling of glass that is even in temperature first. The glass's own relaxing is"
    " left out, so keep a margin. A shared mould cools slower than the bead in it."
)

# Centre less surface temperature is R a²/(n kappa).
_CENTRE_FACTOR = {"plate": 2.0, "cylinder": 4.0, "sphere": 6.0}

UNKNOWN_FORM = gettext_noop("“%(form)s” is no form to cool. Choose plate, cylinder or sphere.")
BAD_SIZE = gettext_noop("The piece is %(found)s mm thick. Write a size above 0, such as 12.")
BAD_RATE = gettext_noop("The cooling rate is %(found)s °C/min. Write one above 0, such as 3.")
BAD_STRESS = gettext_noop("The stress allowed is %(found)s MPa. Write one above 0, such as 2.")
NO_PIECES = gettext_noop("There is no piece to cool yet. Add a bead to the load first.")
COOL_SLOWLY = gettext_noop(
    "Cool no faster than %(rate)s °C/min from %(from_c)s to %(to_c)s °C, about %(minutes)s min."
    " The thickest piece cools as a %(form)s of %(size)s mm."
)
RATE_FINE = gettext_noop(
    "Cooling at %(planned)s °C/min from %(from_c)s to %(to_c)s °C is slow enough: the thickest"
    " piece, as a %(form)s of %(size)s mm, stands %(rate)s."
)
RATE_TOO_FAST = gettext_noop(
    "Cooling at %(planned)s °C/min is too fast for the thickest piece, as a %(form)s of %(size)s"
    " mm. From %(from_c)s to %(to_c)s °C cool no faster than %(rate)s °C/min, about %(minutes)s"
    " min."
)
FORM_WORDS = {
    "plate": gettext_noop("plate"),
    "cylinder": gettext_noop("cylinder"),
    "sphere": gettext_noop("sphere"),
}


@dataclass(frozen=True, slots=True)
class ElasticGlass:
    """What a glass does under a temperature difference.

    modulus_gpa            Young's modulus [GPa]
    expansion_per_k        [1/K]
    poisson                Poisson's ratio
    diffusivity_m2_s       thermal diffusivity [m²/s]

    The defaults are bottle glass: 72 GPa, 9.0e-6/K, 0.21, and 4.0e-7 m²/s (from memory).

    >>> ElasticGlass().expansion_per_k
    9e-06

    Source: Seward & Vascott 2005 and EN 572-1 for expansion; the rest handbook values.
    """

    modulus_gpa: float = 72.0
    expansion_per_k: float = 9.0e-6
    poisson: float = 0.21
    diffusivity_m2_s: float = 4.0e-7


BOTTLE_GLASS = ElasticGlass()


def largest_cooling_rate_c_per_min(
    form: str,
    size_mm: float,
    *,
    stress_mpa: float = DESIGN_STRESS_MPA,
    glass: ElasticGlass = BOTTLE_GLASS,
) -> float:
    """The fastest steady cooling through the annealing range that leaves no more than a stress.

    form        "plate", "cylinder" or "sphere"
    size_mm     thickness or diameter [mm], above 0
    stress_mpa  left in the surface once cold [MPa]
    glass       its elastic and thermal values

    Returns °C/min; it falls with the square of the size. Slow steady cooling; relaxation left
    out, so keep a margin. Raises PhysicsError for a form or figure that cannot be.

    >>> round(largest_cooling_rate_c_per_min("sphere", 15), 1)
    15.6

    Source: R = sigma (1 - nu) m kappa/(E alpha a²), m = 3, 8, 15: Adams & Williamson 1920;
    stress step from memory (standard thermoelasticity).
    """
    if not stress_mpa > 0:
        raise PhysicsError(BAD_STRESS, found=stress_mpa)
    per_second = stress_mpa * 1e6 / _stress_per_rate_pa_s(form, size_mm, glass)
    return 60 * per_second


def surface_stress_mpa(form: str, size_mm: float, rate_c_per_min: float) -> float:
    """The stress steady cooling leaves in the surface of bottle glass.

    form, size_mm   as `largest_cooling_rate_c_per_min`
    rate_c_per_min  through the annealing range, above 0

    Returns MPa. Range, errors and source as `largest_cooling_rate_c_per_min`.

    >>> round(surface_stress_mpa("plate", 15, 3.121), 2)
    2.0
    """
    if not 0 < rate_c_per_min < 1e9:
        raise PhysicsError(BAD_RATE, found=rate_c_per_min)
    return _stress_per_rate_pa_s(form, size_mm, BOTTLE_GLASS) * rate_c_per_min / 60 / 1e6


def centre_to_surface_c(form: str, size_mm: float, rate_c_per_min: float) -> float:
    """How much hotter the middle of a steadily cooling piece of bottle glass is than its surface.

    form, size_mm   as `largest_cooling_rate_c_per_min`
    rate_c_per_min  above 0

    Returns °C. Errors as `largest_cooling_rate_c_per_min`. Holds once the start has died away.

    >>> round(centre_to_surface_c("sphere", 15, 3), 4)
    1.1719

    Source: R a²/(n kappa), n = 2, 4, 6 (heat equation; checked by numerical integration).
    """
    if not 0 < rate_c_per_min < 1e9:
        raise PhysicsError(BAD_RATE, found=rate_c_per_min)
    radius_m = _half_m(form, size_mm)
    factor = _CENTRE_FACTOR[form] * BOTTLE_GLASS.diffusivity_m2_s
    return rate_c_per_min / 60 * radius_m**2 / factor


def annealing_range_c(curve: ViscosityCurve = CONTAINER) -> tuple[float, float]:
    """The temperatures to cool slowly through: the annealing point to 25 °C under the strain point.

    curve  viscosity of the glass

    Returns (from °C, to °C). Raises PhysicsError if the curve never gets there.

    >>> [round(temperature) for temperature in annealing_range_c()]
    [565, 514]

    Source: levels ASTM C336/C598; the 25 °C is common practice, no source.
    """
    strain_c = curve.temperature_c(FIXED_POINTS["strain"])
    return curve.temperature_c(FIXED_POINTS["annealing"]), strain_c - BELOW_STRAIN_POINT_C


def slow_down_to_c() -> int:
    """How far down to cool slowly, so that it is far enough for the softest bottle glass.

    >>> slow_down_to_c()
    480

    Source: strain point of the softest bottle glass in the table (DGG I), less 25 °C, less 10 °C
    for doubt (both common practice, no source).
    """
    strain = DGG_1.temperature_c(FIXED_POINTS["strain"])
    return round(strain - BELOW_STRAIN_POINT_C - FOR_DOUBT_C)


def steepest_cooling_c_per_min(readings: Sequence[tuple[float, float]]) -> float:
    """The fastest fall between two readings of a firing that touches the annealing range.

    readings  (minute, °C) in order of time

    Returns °C/min, not the mean over the range but its steepest stretch; 0.0 where the readings
    never fall through it.

    >>> steepest_cooling_c_per_min([(0, 800), (10, 600), (20, 500), (25, 300)])
    10.0

    Source: the stress follows the rate of the moment (`largest_cooling_rate_c_per_min`), so the
    steepest stretch decides.
    """
    from_c, to_c = annealing_range_c(CONTAINER)
    falls = [
        (hot - cold) / (end - start)
        for (start, hot), (end, cold) in pairwise(readings)
        if end > start and hot > cold and hot > to_c and cold < from_c
    ]
    return float(max(falls, default=0.0))


@dataclass(frozen=True, slots=True)
class NaturalCooling:
    """A kiln left to itself: its warmth above the room falls by a like share each minute.

    hold_c   where it starts [°C], above open_c
    open_c   where it is opened [°C], above room_c
    minutes  from the one to the other, above 0

    Source: Newton's law of cooling; that a closed kiln keeps to it is a first guess, and a logged
    firing goes before it.
    """

    hold_c: float
    open_c: float
    minutes: float
    room_c: float = 20.0

    @property
    def _share_a_minute(self) -> float:
        return log((self.hold_c - self.room_c) / (self.open_c - self.room_c)) / self.minutes

    def temperature_c(self, minute: float) -> float:
        """How hot it is so many minutes after the hold.

        >>> round(NaturalCooling(720, 60, 120).temperature_c(120), 6)
        60.0
        """
        return self.room_c + (self.hold_c - self.room_c) * exp(-self._share_a_minute * minute)

    def rate_at_c_per_min(self, temperature_c: float) -> float:
        """How fast it falls when it is so hot.

        >>> round(NaturalCooling(720, 60, 120).rate_at_c_per_min(520), 2)  # ln(700/40)/120 × 500
        11.93
        """
        return self._share_a_minute * (temperature_c - self.room_c)

    def minutes_between(self, from_c: float, to_c: float) -> float:
        """How long it takes to fall by itself from one temperature to a lower one [min].

        0.0 where it is not lower. Both above room_c.

        >>> round(NaturalCooling(820, 60, 300).minutes_between(820, 565), 3)
        38.437
        """
        if to_c >= from_c:
            return 0.0
        return log((from_c - self.room_c) / (to_c - self.room_c)) / self._share_a_minute

    def steepest_c_per_min(self) -> float:
        """The fastest fall within the annealing range, at its hot end; 0.0 if it starts below.

        >>> round(NaturalCooling(720, 60, 120).steepest_c_per_min(), 1)
        13.0
        """
        from_c, to_c = annealing_range_c(CONTAINER)
        if self.hold_c <= to_c:
            return 0.0
        return self.rate_at_c_per_min(min(self.hold_c, from_c))


def slowest_piece(pieces: Iterable[Piece]) -> Piece:
    """The piece of a load that must cool slowest.

    pieces  (form, size in mm), as `BeadShape.thickest()` gives them

    Returns one of them. Raises PhysicsError if there is none, or one is no piece.

    >>> slowest_piece([("sphere", 15), ("plate", 8), ("cylinder", 9)])
    ('plate', 8)

    Source: `largest_cooling_rate_c_per_min`.
    """
    load = list(pieces)
    if not load:
        raise PhysicsError(NO_PIECES)
    return min(load, key=lambda piece: _ease_of_cooling(*piece))


def cooling_advice(
    pieces: Iterable[Piece],
    *,
    planned_c_per_min: float | None = None,
    stress_mpa: float = DESIGN_STRESS_MPA,
) -> Advice:
    """How fast a load may cool, by the thickest piece in it, and whether the plan is slow enough.

    pieces             (form, size in mm) of every bead in the load
    planned_c_per_min  the rate planned; None to ask only for the limit
    stress_mpa         as the functions above

    Returns an Advice whose number is the largest rate in °C/min; verdict "slow enough",
    "too fast" or, without a plan, "limit". Raises PhysicsError as the functions above.

    >>> advice = cooling_advice([("sphere", 10), ("plate", 8)], planned_c_per_min=20)
    >>> advice.verdict, round(advice.number, 1)
    ('too fast', 11.0)

    Source: `largest_cooling_rate_c_per_min`, `annealing_range_c`.
    """
    form, size_mm = slowest_piece(pieces)
    rate = largest_cooling_rate_c_per_min(form, size_mm, stress_mpa=stress_mpa)
    from_c, _stiff_c = annealing_range_c(CONTAINER)
    # Bottles of unlike makers: slowly until the softest of them is stiff too.
    to_c = slow_down_to_c()
    params: dict[str, object] = {
        "rate": f"{rate:.3g}",
        "from_c": round(from_c),
        "to_c": round(to_c),
        "minutes": max(1, -int(-(from_c - to_c) / rate // 1)),
        "form": FORM_WORDS[form],
        "size": plain(size_mm),
    }
    if planned_c_per_min is None:
        verdict, template = gettext_noop("limit"), COOL_SLOWLY
    else:
        if not 0 < planned_c_per_min < 1e9:
            raise PhysicsError(BAD_RATE, found=planned_c_per_min)
        params["planned"] = plain(planned_c_per_min)
        slow = planned_c_per_min <= rate
        verdict = gettext_noop("slow enough") if slow else gettext_noop("too fast")
        template = RATE_FINE if slow else RATE_TOO_FAST
    # Past this the cooling is a quench, and the steady-state formula no longer describes it.
    in_range = centre_to_surface_c(form, size_mm, rate) < 50
    return Advice(verdict, rate, "°C/min", template, params, SOURCE, RANGE_NOTE, in_range)


def _ease_of_cooling(form: str, size_mm: float) -> float:
    """m/a² [1/m²]: the larger, the faster a piece may cool."""
    half_m = _half_m(form, size_mm)
    return COOLING_FACTOR[form] / half_m**2


def _half_m(form: str, size_mm: float) -> float:
    if form not in COOLING_FACTOR:
        raise PhysicsError(UNKNOWN_FORM, form=str(form)[:20])
    if not 0 < size_mm < 1e5:
        raise PhysicsError(BAD_SIZE, found=size_mm)
    return size_mm / 2000


def _stress_per_rate_pa_s(form: str, size_mm: float, glass: ElasticGlass) -> float:
    """Surface stress in Pa for each K/s of cooling."""
    mean_less_surface = 1 / (_ease_of_cooling(form, size_mm) * glass.diffusivity_m2_s)
    stiffness = glass.modulus_gpa * 1e9 * glass.expansion_per_k / (1 - glass.poisson)
    return stiffness * mean_less_surface
