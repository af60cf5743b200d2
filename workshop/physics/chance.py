"""Chances of counts: the binomial distribution and the incomplete beta function behind its tails.

Source: the continued fraction is 8.17.22 of the NIST Digital Library of Mathematical Functions,
evaluated by Lentz's method. Checked in the tests against scipy.
"""

from math import exp, lgamma, log, log1p


def binomial(trials: int, good: int, chance: float) -> float:
    """P(Binomial(trials, chance) = good).

    trials, good  whole numbers, good from 0 to trials
    chance        of each, 0 to 1

    >>> round(binomial(3, 2, 0.5), 9)
    0.375

    Source: binomial distribution (definition), by logarithms of the gamma function.
    """
    if chance <= 0:
        return 1.0 if good == 0 else 0.0
    if chance >= 1:
        return 1.0 if good == trials else 0.0
    ways = lgamma(trials + 1) - lgamma(good + 1) - lgamma(trials - good + 1)
    return exp(ways + good * log(chance) + (trials - good) * log1p(-chance))


def binomial_at_least(trials: int, chance: float, wanted: int) -> float:
    """P(Binomial(trials, chance) ≥ wanted).

    trials, wanted  whole numbers
    chance          of each, 0 to 1

    >>> round(binomial_at_least(113, 0.92, 100), 6), round(binomial_at_least(114, 0.92, 100), 6)
    (0.932509, 0.961361)

    Source: I_chance(wanted, trials − wanted + 1), DLMF 8.17.5.
    """
    if wanted <= 0:
        return 1.0
    if wanted > trials:
        return 0.0
    return incomplete_beta(chance, wanted, trials - wanted + 1)


def incomplete_beta(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta function I_x(a, b).

    x     from 0 to 1; a, b  above 0

    >>> round(incomplete_beta(0.5, 2, 2), 12)
    0.5

    Source: DLMF 8.17.
    """
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(x, a, b) / a
    return 1.0 - front * _beta_fraction(1.0 - x, b, a) / b


def _beta_fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of I_x(a, b) by Lentz's method."""
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    fraction = d
    for m in range(1, 100_000):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        for step in (even, odd):
            d = 1.0 + step * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + step / c
            c = c if abs(c) > tiny else tiny
            fraction *= c * d
        if abs(c * d - 1.0) < 1e-15:
            return fraction
    return fraction
