"""How many beads a weight is: the count and how sure it is. Knows no Django.

A tray of N beads of mean mass m and coefficient of variation c weighs N·m, give or take c·m·√N.
The mean itself is known from a sample of n, give or take c·m/√n. So the count N = W/m is sure to

    ± t · c · N · √(1/n + 1/N)

where t is Student's quantile for n − 1 degrees of freedom when c was measured on the sample, and
the normal one when it is assumed. Source: propagation of uncertainty, JCGM 100:2008 (GUM) 5.1.2;
the interval of a mean by Student's t, ISO 2602:1980.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import mean, stdev

from workshop.physics.spread import normal_quantile, t_quantile

USUAL_VARIATION = 0.06  # of hand-filled moulds; common practice, no source
SURE = 0.95


class CountError(ValueError):
    """A weight or a sample that no count can be made from; its sentence says what is needed."""


@dataclass(frozen=True)
class WeighedCount:
    """beads: the count; least, most: its 95 % interval; spread: half the interval ÷ the count."""

    beads: int
    least: int
    most: int
    spread: float


def count_by_weight(
    net_mg: float,
    *,
    sample_mg: Sequence[float] = (),
    sample_beads: int = 0,
    sample_total_mg: float = 0,
    known_mg: float = 0,
    known_beads: int = 0,
) -> WeighedCount:
    """The beads in a net weight with their 95 % interval.

    net_mg           what the beads weigh, tray taken off [mg]
    sample_mg        single beads weighed one by one [mg]: mean and variation are measured
    sample_beads, sample_total_mg   or so many beads weighed together: the variation is assumed
    known_mg, known_beads           or a mean known before, from so many beads (0: from the size)

    Raises CountError for a weight or a sample that is nothing.

    >>> count_by_weight(123_100, sample_beads=50, sample_total_mg=61_550)
    WeighedCount(beads=100, least=97, most=103, spread=0.02...)
    """
    if not net_mg > 0:
        raise CountError("The beads weigh nothing yet; weigh them and take the tray off.")
    single, n, variation, t = _sample(
        sample_mg, sample_beads, sample_total_mg, known_mg, known_beads
    )
    count = net_mg / single
    of_mean = 1 / n if n else 0.0
    spread = t * variation * sqrt(of_mean + 1 / max(count, 1))
    if not n:
        # A mass worked out from the size alone is no better known than its mould: allow as much
        # again as the beads vary among themselves.
        spread += t * variation
    half = spread * count
    beads = round(count)
    return WeighedCount(beads, max(0, int(count - half)), int(count + half) + 1, spread)


def _sample(
    sample_mg: Sequence[float], beads: int, total_mg: float, known_mg: float, known_beads: int
) -> tuple[float, int, float, float]:
    """Mean mass, size of the sample, coefficient of variation and the quantile to use."""
    normal = normal_quantile((1 + SURE) / 2)
    if sample_mg:
        if min(sample_mg) <= 0:
            raise CountError("Each bead of the sample must weigh something; weigh it again.")
        if len(sample_mg) < 3:
            raise CountError("Weigh at least 3 beads one by one, or say how many weigh together.")
        single = mean(sample_mg)
        return (
            single,
            len(sample_mg),
            stdev(sample_mg) / single,
            t_quantile((1 + SURE) / 2, len(sample_mg) - 1),
        )
    if beads or total_mg:
        if beads < 1 or not total_mg > 0:
            raise CountError("Write both: how many beads the sample has, and what they weigh.")
        return total_mg / beads, beads, USUAL_VARIATION, normal
    if not known_mg > 0:
        raise CountError("What one bead weighs is not known; weigh a sample of ten or more.")
    return known_mg, known_beads, USUAL_VARIATION, normal
