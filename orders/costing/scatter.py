"""Reject rates that scatter load by load, over one firing or several.

One firing: the beta distribution fitted to its records. Several: what is left after all of them
is the product of independent survivals; a beta distribution with the same mean and variance stands
for it. That is exact for one firing and close for more (see the tests); a firing without a
fitted scatter has its one rate and no variance.

Source: mean a ÷ (a + b) and variance a b ÷ ((a + b)² (a + b + 1)) of the beta distribution
(textbook); the variance of a product of independent things from their first two moments.
"""

from collections.abc import Sequence
from decimal import Decimal

from orders.costing.facts import BeadFiringFacts, ScatterFacts
from orders.costing.numbers import ONE, ZERO

Moments = tuple[Decimal, Decimal]


def beta_mean(alpha: Decimal, beta: Decimal) -> Decimal:
    """Mean of a beta distribution; alpha and beta above 0.

    >>> beta_mean(Decimal(4), Decimal(46))
    Decimal('0.08')

    Source: a ÷ (a + b) (textbook).
    """
    return alpha / (alpha + beta)


def beta_variance(alpha: Decimal, beta: Decimal) -> Decimal:
    """Variance of a beta distribution; alpha and beta above 0.

    >>> round(beta_variance(Decimal(4), Decimal(46)), 6)
    Decimal('0.001443')

    Source: a b ÷ ((a + b)² (a + b + 1)) (textbook).
    """
    size = alpha + beta
    return alpha * beta / (size * size * (size + 1))


def moments(firing: BeadFiringFacts) -> Moments:
    """Mean and variance of a firing's reject rate (a share, 0 to 1); 0 without a fitted scatter.

    Source: `beta_mean`, `beta_variance`.
    """
    if firing.scatter is None:
        return firing.reject_rate, ZERO
    alpha, beta = firing.scatter.alpha, firing.scatter.beta
    return beta_mean(alpha, beta), beta_variance(alpha, beta)


def chained(stages: Sequence[Moments]) -> tuple[Decimal, Decimal]:
    """alpha and beta of the reject rate over all firings, each given by mean and variance.

    >>> alpha, beta = chained([(beta_mean(Decimal(4), Decimal(46)),
    ...                         beta_variance(Decimal(4), Decimal(46)))])
    >>> round(alpha, 9), round(beta, 9)
    (Decimal('4.000000000'), Decimal('46.000000000'))

    Source: variance of a product of independent variables, from their first two moments.
    """
    good, square = ONE, ONE
    for mean, variance in stages:
        good *= ONE - mean
        square *= variance + (ONE - mean) ** 2
    size = good * (ONE - good) / (square - good * good) - 1
    return (ONE - good) * size, good * size


def scatter_over(firings: Sequence[BeadFiringFacts]) -> ScatterFacts | None:
    """The scatter over all firings of a bead; None when no firing has one."""
    fitted = [firing.scatter for firing in firings if firing.scatter is not None]
    if not fitted:
        return None
    if len(firings) == 1:
        return fitted[0]
    alpha, beta = chained([moments(firing) for firing in firings])
    return ScatterFacts(alpha, beta, min(one.loads for one in fitted))
