"""Firing curves: as the kiln's own times make them, as logged, and how fast they fall."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils.translation import gettext as _

from workshop import formats
from workshop.drawing import Axes, Band, Curve, line_chart_svg
from workshop.models import Kiln
from workshop.physics.annealing import (
    NaturalCooling,
    annealing_range_c,
    steepest_cooling_c_per_min,
)
from workshop.physics.cycle import Soak, cycle_stages
from workshop.physics.sentences import PhysicsError
from workshop.physics.sintering import TEMPERATURE_ERROR_C, temperature_needed_c

Readings = Sequence[tuple[float, float]]

OPEN_AT_C = 60  # beads are taken out hand-warm: common practice, no source
ROOM_C = 20
WIDE_PX, NARROW_PX = 720, 340


def natural_cooling(hold_c: float, cooling_min: float) -> NaturalCooling:
    """A kiln that is left to itself from the hold until it is opened hand-warm."""
    return NaturalCooling(float(hold_c), OPEN_AT_C, max(1.0, float(cooling_min)), ROOM_C)


def planned_cooling_c_per_min(hold_c: float, cooling_min: float) -> float:
    """The steepest fall through the annealing range that the kiln's own cooling time makes.

    Its mean from the hold to hand-warm would flatter it: a kiln cools fastest while it is hottest.
    """
    if hold_c <= OPEN_AT_C:
        return 0.0
    return round(natural_cooling(hold_c, cooling_min).steepest_c_per_min(), 1)


def fastest_cooling_c_per_min(readings: Readings) -> float:
    """The steepest fall through the annealing range; 0.0 where the readings never fall there."""
    return round(steepest_cooling_c_per_min(readings), 1)


@dataclass(frozen=True)
class Chart:
    """One picture for a wide screen and one for a phone."""

    wide: str
    narrow: str


def curve_chart(planned: Readings, readings: Readings, fuses: Band | None, name: str) -> Chart:
    """What was logged over what the programme says, or that alone, with the bands that matter."""
    if readings:
        ground = Curve(_("planned"), tuple(planned), ground=True)
        curves = [ground, Curve(_("logged"), tuple(readings))]
    else:
        curves = [Curve("", tuple(planned), ground=True), Curve(_("planned"), tuple(planned))]
    from_c, to_c = annealing_range_c()
    bands = [Band(_("cool slowly"), to_c, from_c)]
    if fuses is not None:
        bands.append(fuses)

    def drawn(width: int, height: int) -> str:
        return line_chart_svg(
            curves,
            bands=bands,
            axes=Axes(_("minutes"), "°C", write=_whole),
            width=width,
            height=height,
            title=_("Temperature against minutes: %(firing)s") % {"firing": name},
        )

    return Chart(drawn(WIDE_PX, 320), drawn(NARROW_PX, 280))


def _whole(value: float) -> str:
    return formats.decimal(Decimal(str(value)), 0)


def fuse_band(hold_min: float, grain_mm: float | None) -> Band | None:
    """Where grains fuse within the hold, ±20 °C; None where nothing is to be said."""
    if not grain_mm:
        return None
    try:
        needed = temperature_needed_c(float(hold_min), grain_mm)
    except PhysicsError:
        return None
    if not ROOM_C < needed < 1500:
        return None
    low, high = needed - TEMPERATURE_ERROR_C, needed + TEMPERATURE_ERROR_C
    return Band(_("fuses from here"), low, high, calm=True)


COOLING_STEPS = 24


def planned_curve(
    hold_c: float, hold_min: float, preheat_min: float, cooling_min: float
) -> tuple[tuple[float, float], ...]:
    """Straight up, held, and cooling by itself until it is opened hand-warm."""
    up, down = float(preheat_min), max(1.0, float(cooling_min))
    held, hold_c = up + float(hold_min), float(hold_c)
    start = ((0.0, float(ROOM_C)), (up, hold_c), (held, hold_c))
    if hold_c <= OPEN_AT_C:
        return start
    falling = natural_cooling(hold_c, down)
    steps = (down * step / COOLING_STEPS for step in range(1, COOLING_STEPS + 1))
    return (*start, *((held + after, falling.temperature_c(after)) for after in steps))


def planned_points(
    hold_c: float, hold_min: float, kiln: Kiln | None, soak: Soak | None
) -> list[tuple[float, float]]:
    """(minute, °C) of a firing as planned, its soak and slow cooling with it."""
    times = (kiln.preheat_min, kiln.cooling_min) if kiln else (60, 90)
    plain = list(planned_curve(hold_c, hold_min, *times))
    if soak is None or kiln is None or kiln.is_kept_hot:
        return plain
    closed = kiln.as_closed
    closed = replace(closed, open_c=closed.open_c or OPEN_AT_C)
    try:
        stages = cycle_stages(closed, float(hold_c), float(hold_min), soak)
    except PhysicsError:
        return plain
    points, minute = [(0.0, stages[0].from_c)], 0.0
    for stage in stages:
        minute += stage.minutes
        points.append((minute, stage.to_c))
    return points
