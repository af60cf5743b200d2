"""The demo's firing curves: what the gauge showed in the latest loads, read off every few minutes.

Invented: the kiln climbs evenly, is held, and cools by itself; the gauge trembles a little.
"""

from itertools import pairwise
from random import Random

from orders.firing.queries.curves import OPEN_AT_C, planned_curve
from orders.models import FiringCurve
from stock.models import KilnLoad

KEPT, EVERY_MIN = 3, 5


def write_curves() -> None:
    """A curve for each of the latest loads that have cooled."""
    cooled = KilnLoad.objects.filter(
        state=KilnLoad.State.COOLED, keeper__isnull=False, kiln__way="closed"
    )
    for load in cooled.select_related("kiln", "keeper").order_by("-starts_at")[:KEPT]:
        FiringCurve.objects.create(load=load, readings=_read_off(load), written_by=load.keeper)


def _read_off(load: KilnLoad) -> list[list[float]]:
    dice, kiln = Random(load.number), load.kiln
    hottest = load.peak_c or load.hold_c
    points = planned_curve(hottest, load.hold_min, kiln.preheat_min, kiln.cooling_min)
    readings, minute = [], 0
    while minute <= points[-1][0]:
        heat_c = _between(points, minute)
        if heat_c < 2 * OPEN_AT_C and minute > kiln.preheat_min:
            break
        readings.append([minute, round(heat_c + dice.uniform(-3, 3))])
        minute += EVERY_MIN
    return readings


def _between(points, minute: float) -> float:
    for (start, before), (end, after) in pairwise(points):
        if start <= minute <= end and end > start:
            return before + (after - before) * (minute - start) / (end - start)
    return points[-1][1]
