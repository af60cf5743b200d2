"""The whole curve of a closed firing: heat-up, hold, fall, soak, slow cooling, opening."""

from dataclasses import dataclass
from math import ceil

from workshop.physics.annealing import NaturalCooling
from workshop.physics.sentences import PhysicsError, gettext_noop, plain

START_C = 20.0

SOAK_ABOVE_HOLD = gettext_noop(
    "The soak at %(soak)s °C is above the hold at %(hold)s °C. A soak comes after the hold, on the"
    " way down: write less than the hold."
)
RISES_WHILE_COOLING = gettext_noop(
    "Cooling slowly from %(soak)s to %(to)s °C is not cooling. Write a temperature below the soak."
)
OPENED_TOO_HOT = gettext_noop(
    "The kiln is opened at %(open)s °C and the slow cooling goes down to %(to)s °C. Cool slowly to"
    " a temperature above that, or open it colder."
)
BAD_RATE = gettext_noop("Slow cooling needs a rate above 0 °C a minute, such as 1.")
NO_COLDER_THAN_ROOM = gettext_noop(
    "%(found)s °C is no colder than the room or no hotter than the hold. Write a temperature"
    " between the room and the hold."
)


@dataclass(frozen=True, slots=True)
class Soak:
    """A rest on the way down, so that the glass lets go of its stress, and slow cooling after it.

    soak_c, soak_min  held at [°C], for [min]
    slow_to_c         cooled slowly down to [°C]
    slow_c_per_min    at this rate, or as fast as the kiln falls by itself if that is slower
    """

    soak_c: float
    soak_min: float
    slow_to_c: float
    slow_c_per_min: float


@dataclass(frozen=True, slots=True)
class ClosedKiln:
    """How a closed kiln heats and cools.

    preheat_min     to the hold, where the heating rate is not known [min]
    cooling_min     from `ref_c` (or the programme's hold) to the opening [min]
    heat_c_per_min  heating rate, if it was measured
    open_c          the temperature it is opened at, if it is known
    ref_c           the hold at which cooling_min was measured; None: the programme's own
    """

    preheat_min: float
    cooling_min: float
    heat_c_per_min: float | None = None
    open_c: float | None = None
    ref_c: float | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """One stretch of the curve. name: "heat-up", "hold", "fall", "soak", "slow", "cooling"."""

    name: str
    from_c: float
    to_c: float
    minutes: float


def cycle_stages(
    kiln: ClosedKiln, hold_c: float, hold_min: float, soak: Soak | None
) -> tuple[Stage, ...]:
    """The stretches of one closed firing in their order.

    hold_c, hold_min  of the programme [°C], [min]
    soak              None for a programme that cools by itself from the hold

    Raises PhysicsError where the soak lies above the hold or the curve would rise while cooling.

    >>> kiln = ClosedKiln(60, 300, heat_c_per_min=8, open_c=60, ref_c=820)
    >>> [round(s.minutes, 1) for s in cycle_stages(kiln, 820, 40, Soak(565, 45, 480, 1))]
    [100.0, 40, 38.4, 45, 85.0, 244.6]

    Source: Newton's law of cooling; a logged firing goes before it.
    """
    start = _heat_up(kiln, hold_c)
    held = Stage("hold", hold_c, hold_c, hold_min)
    if soak is not None:
        _check(hold_c, soak, kiln.open_c)
    if kiln.open_c is None:
        return start, held, *_soaked_unopened(kiln, hold_c, soak)
    cooling = natural_cooling(kiln, hold_c)
    if soak is None:
        by_itself = cooling.minutes_between(hold_c, kiln.open_c)
        return start, held, Stage("cooling", hold_c, kiln.open_c, by_itself)
    asked = (soak.soak_c - soak.slow_to_c) / soak.slow_c_per_min
    slow = max(asked, cooling.minutes_between(soak.soak_c, soak.slow_to_c))
    last = cooling.minutes_between(soak.slow_to_c, kiln.open_c)
    return (
        start,
        held,
        Stage("fall", hold_c, soak.soak_c, cooling.minutes_between(hold_c, soak.soak_c)),
        Stage("soak", soak.soak_c, soak.soak_c, soak.soak_min),
        Stage("slow", soak.soak_c, soak.slow_to_c, slow),
        Stage("cooling", soak.slow_to_c, kiln.open_c, last),
    )


def _heat_up(kiln: ClosedKiln, hold_c: float) -> Stage:
    if kiln.heat_c_per_min is None:
        return Stage("heat-up", START_C, hold_c, kiln.preheat_min)
    return Stage("heat-up", START_C, hold_c, (hold_c - START_C) / kiln.heat_c_per_min)


def _soaked_unopened(kiln: ClosedKiln, hold_c: float, soak: Soak | None) -> tuple[Stage, ...]:
    """Where nobody measured the opening, a soak comes on top of all the cooling: a bit long."""
    if soak is None:
        return (Stage("cooling", hold_c, START_C, kiln.cooling_min),)
    slow = (soak.soak_c - soak.slow_to_c) / soak.slow_c_per_min
    return (
        Stage("soak", soak.soak_c, soak.soak_c, soak.soak_min),
        Stage("slow", soak.soak_c, soak.slow_to_c, slow),
        Stage("cooling", hold_c, START_C, kiln.cooling_min),
    )


def natural_cooling(kiln: ClosedKiln, hold_c: float) -> NaturalCooling:
    """How the kiln falls by itself; only for one whose opening temperature is known."""
    ref_c = hold_c if kiln.ref_c is None else kiln.ref_c
    open_c = START_C if kiln.open_c is None else kiln.open_c
    if not START_C < open_c < min(ref_c, hold_c):
        raise PhysicsError(NO_COLDER_THAN_ROOM, found=plain(open_c))
    return NaturalCooling(ref_c, open_c, kiln.cooling_min, START_C)


def _check(hold_c: float, soak: Soak, open_c: float | None) -> None:
    if soak.soak_c >= hold_c:
        raise PhysicsError(SOAK_ABOVE_HOLD, soak=plain(soak.soak_c), hold=plain(hold_c))
    if soak.slow_to_c >= soak.soak_c:
        raise PhysicsError(RISES_WHILE_COOLING, soak=plain(soak.soak_c), to=plain(soak.slow_to_c))
    if not soak.slow_c_per_min > 0:
        raise PhysicsError(BAD_RATE)
    if open_c is not None and soak.slow_to_c < open_c:
        raise PhysicsError(OPENED_TOO_HOT, open=plain(open_c), to=plain(soak.slow_to_c))


def cycle_min(kiln: ClosedKiln, hold_c: float, hold_min: float, soak: Soak | None = None) -> float:
    """Minutes of one closed firing from lighting to opening.

    >>> kiln = ClosedKiln(60, 300, heat_c_per_min=8, open_c=60, ref_c=820)
    >>> round(cycle_min(kiln, 820, 40, Soak(565, 45, 480, 1)), 2), cycle_min(kiln, 820, 40)
    (553.02, 440.0)

    Source: the sum of `cycle_stages`.
    """
    return round(sum(s.minutes for s in cycle_stages(kiln, hold_c, hold_min, soak)), 9)


def whole_min(minutes: float) -> int:
    """Up to whole minutes, forgiving the last digits of a float.

    >>> whole_min(553.02), whole_min(440.0000000001)
    (554, 440)
    """
    return ceil(minutes - 1e-6)


def slow_min(kiln: ClosedKiln, hold_c: float, hold_min: float, soak: Soak | None) -> int:
    """Whole minutes that soak and slow cooling add to a closed load.

    >>> kiln = ClosedKiln(60, 300, heat_c_per_min=8, open_c=60, ref_c=820)
    >>> slow_min(kiln, 820, 40, Soak(565, 45, 480, 1))
    114

    Source: the sum of `cycle_stages`, with and without the soak, each up to whole minutes.
    """
    if soak is None:
        return 0
    with_soak = whole_min(cycle_min(kiln, hold_c, hold_min, soak))
    return with_soak - whole_min(cycle_min(kiln, hold_c, hold_min))
