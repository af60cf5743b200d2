"""What a logged curve says about the load it was read off: fused, cooled slowly enough, drawn."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.utils.translation import gettext as _

from orders.firing.queries.advice import Counsel, counsel, number_of
from orders.firing.queries.curves import (
    Chart,
    Readings,
    curve_chart,
    fastest_cooling_c_per_min,
    fuse_band,
    planned_points,
)
from orders.firing.queries.load_advice import longest_soak, pieces_of
from orders.models import FiringCurve
from stock.models import KilnLoad, LoadTray
from workshop.physics.advice import Advice
from workshop.physics.annealing import annealing_range_c, cooling_advice
from workshop.physics.sintering import curve_advice

NEAR_HOLD_C = 10  # within so many degrees of the hottest counts as held: our choice


@dataclass(frozen=True)
class ToldCurve:
    """A logged curve as its load's page shows it."""

    curve: FiringCurve
    chart: Chart
    counsels: list[Counsel]
    hottest_c: int
    held_min: int
    minutes: int
    steepest_c_per_min: float
    slow_c: tuple[int, int]  # the annealing range, hot end first


def curve_of(load: KilnLoad, trays: Sequence[LoadTray]) -> ToldCurve | None:
    """The curve kept with a load and what it says; None without one (1 query)."""
    kept = FiringCurve.objects.filter(load=load).select_related("written_by").first()
    return None if kept is None else told_curve(kept, load, trays)


def told_curve(kept: FiringCurve, load: KilnLoad, trays: Sequence[LoadTray]) -> ToldCurve:
    """`kiln` must come with the load, `bead` with the trays."""
    points = kept.points
    hottest = max(heat_c for _minute, heat_c in points)
    return ToldCurve(
        curve=kept,
        chart=curve_of_load(load, trays, points),
        counsels=[*_fused(trays, points), *_cooled(trays, points)],
        hottest_c=round(hottest),
        held_min=round(held_min(points, hottest - NEAR_HOLD_C)),
        minutes=round(points[-1][0] - points[0][0]),
        steepest_c_per_min=fastest_cooling_c_per_min(points),
        slow_c=(round(annealing_range_c()[0]), round(annealing_range_c()[1])),
    )


def held_min(readings: Readings, above_c: float) -> float:
    """Minutes spent at a temperature or above it, straight lines between the readings.

    >>> held_min([(0, 20), (70, 720), (100, 720), (110, 620)], 700)
    34.0
    """
    total = 0.0
    for (start, from_c), (end, to_c) in pairwise(readings):
        low, high = min(from_c, to_c), max(from_c, to_c)
        if high < above_c:
            continue
        share = 1.0 if low >= above_c else (high - above_c) / (high - low)
        total += (end - start) * share
    return total


def curve_of_load(load: KilnLoad, trays: Sequence[LoadTray], readings: Readings) -> Chart:
    """The load's curve over the bands; “fuses from here” is that of its coarsest grain.

    Without readings, as planned.
    """
    planned = planned_points(load.hold_c, load.hold_min, load.kiln, longest_soak(trays))
    grains = [float(tray.bead.grain_mm) for tray in trays if tray.firing == 1]
    band = fuse_band(load.hold_min, max(grains, default=None))
    return curve_chart(planned, readings, band, str(load))


def _fused(trays: Sequence[LoadTray], readings: Readings) -> list[Counsel]:
    """Once for each grain size of beads fired for the first time."""
    found: dict[float, list[str]] = {}
    for tray in trays:
        if tray.firing == 1 and tray.bead.grain_mm:
            names = found.setdefault(float(tray.bead.grain_mm), [])
            if str(tray.bead) not in names:
                names.append(str(tray.bead))
    return [
        counsel(
            _("Did it fuse? %(beads)s") % {"beads": ", ".join(names)},
            _over_curve(readings, grain_mm),
            number_of(2),
        )
        for grain_mm, names in sorted(found.items())
    ]


def _over_curve(readings: Readings, grain_mm: float) -> Callable[[], Advice]:
    return lambda: curve_advice(readings, grain_mm)


def _cooled(trays: Sequence[LoadTray], readings: Readings) -> list[Counsel]:
    question = _("Was it cooled slowly enough?")
    rate = fastest_cooling_c_per_min(readings)
    pieces = pieces_of(trays)
    if not pieces:
        return []
    if not rate:
        from_c, to_c = annealing_range_c()
        sentence = _(
            "The readings never fall through %(from)s to %(to)s °C, where glass must cool slowly. "
            "Read on until it is below, and write those too."
        ) % {"from": round(from_c), "to": round(to_c)}
        return [Counsel(question, _("not known"), "", sentence, unsure=True)]
    return [
        counsel(
            question,
            lambda: cooling_advice(pieces, planned_c_per_min=rate),
            number_of(1, "°C/min"),
        )
    ]
