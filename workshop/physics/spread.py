"""Quantiles of Student's t and Wilson's interval, without a statistics library at run time."""

from functools import lru_cache
from math import copysign, sqrt
from statistics import NormalDist

from workshop.physics.chance import incomplete_beta


def normal_quantile(chance: float) -> float:
    """The value a standard normal variable stays below with this chance, above 0 and below 1.

    >>> round(normal_quantile(0.975), 3)
    1.96

    Source: definition; the value: any table of the normal distribution.
    """
    return NormalDist().inv_cdf(chance)


def t_chance(value: float, freedom: int) -> float:
    """Chance that Student's t stays below a value.

    freedom  degrees of freedom, 1 or more

    >>> round(t_chance(2.570582, 5), 6)
    0.975

    Source: Student 1908; DLMF 8.17 for its form by the incomplete beta function.
    """
    tail = incomplete_beta(freedom / (freedom + value * value), freedom / 2, 0.5) / 2
    return 1 - tail if value > 0 else tail


@lru_cache(maxsize=1024)
def t_quantile(chance: float, freedom: int) -> float:
    """The value Student's t with this many degrees of freedom stays below with this chance.

    >>> round(t_quantile(0.975, 9), 3)
    2.262

    Source: t tables, e.g. 2.262 for 9 degrees of freedom; found by halving.
    """
    if freedom < 1:
        raise ValueError("Student's t needs at least one degree of freedom.")
    if chance == 0.5:
        return 0.0
    wanted = max(chance, 1 - chance)
    low, high = 0.0, 1.0
    while t_chance(high, freedom) < wanted:
        high *= 2
    while high - low > 1e-13 * max(1.0, high):
        middle = (low + high) / 2
        if t_chance(middle, freedom) < wanted:
            low = middle
        else:
            high = middle
    return copysign((low + high) / 2, chance - 0.5)


def standard_deviation(values: list[float]) -> float:
    """Of a sample: divided by one less than how many there are."""
    mean = sum(values) / len(values)
    return sqrt(sum((value - mean) ** 2 for value in values) / (len(values) - 1))


def wilson_interval(part: int, whole: int, z: float) -> tuple[float, float]:
    """The score interval of a share counted in pieces, kept between 0 and 1.

    part, whole  so many of so many; whole at least 1
    z            standard normal quantile of the interval, 1.96 for 95 %

    >>> [round(end, 4) for end in wilson_interval(0, 10, 1.96)]
    [0.0, 0.2775]

    Source: E. B. Wilson, J. American Statistical Association 22 (1927) 209–212.
    """
    share, spread = part / whole, z * z / whole
    middle = (share + spread / 2) / (1 + spread)
    half = z * sqrt(share * (1 - share) / whole + spread / (4 * whole)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)
