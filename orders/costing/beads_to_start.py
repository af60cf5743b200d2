"""How many beads to start so that enough of them come good.

Good beads out of N started are binomial when each is spoiled or not by itself. The least N with
P(good ≥ needed) ≥ assurance is needed + the quantile of the negative binomial distribution
of the rejects that come before the last good one. The naive needed ÷ (1 − reject rate) gives
too few: about every second time there would be too few beads.

When records show that rejects come load by load, one reject rate is drawn for the load from a
beta distribution and the good beads are beta-binomial.

Sources: N. L. Johnson, A. W. Kemp, S. Kotz, Univariate Discrete Distributions, ch. 5 (negative
binomial), ch. 6 (beta-binomial), from memory; the continued fraction of the incomplete beta
function is 8.17.22 of the NIST Digital Library of Mathematical Functions, evaluated
by Lentz's method. Checked in the tests against scipy.
"""

from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import comb, exp, isfinite, lgamma, log, sqrt
from statistics import NormalDist

from orders.costing.errors import CostingError
from workshop.physics.chance import binomial_at_least
from workshop.physics.sentences import gettext_noop

MOST_BEADS = 10_000_000
# Closer than this to the assurance, floating point cannot say on which side a chance lies.
NEARLY_TIED = 1e-10
# Up to this many beads a tie is settled with whole numbers; beyond, exact ties do not occur.
EXACT_UP_TO = 4000

ALL_REJECTED = gettext_noop(
    "A reject rate of 100 %% leaves no good bead. Write a rate below 100 %%, such as 8 %%."
)
RATE_NOT_A_SHARE = gettext_noop(
    "The reject rate is %(found)s, and a rate lies between 0 %% and 100 %%. Write it as a "
    "percentage, such as 8 %%."
)
ASSURANCE_NOT_A_SHARE = gettext_noop(
    "The assurance must lie above 0 and below 100 per cent; it is %(found)s. Write one such as 95."
)
TOO_MANY = gettext_noop(
    "That takes more than %(most)s beads, more than can be costed. Check the quantity and the "
    "reject rate."
)
SCATTER_NOT_POSITIVE = gettext_noop(
    "The scatter of rejects needs two numbers above 0; fit it again from the firing records."
)


def beads_to_start(needed: int, reject_rate: Decimal, assurance: Decimal) -> int:
    """The least number to start so that P(good ≥ needed) ≥ assurance.

    needed       good beads wanted, a whole number from 0 up
    reject_rate  share rejected, 0 ≤ q < 1; for two firings 1 − (1 − q1)(1 − q2)
    assurance    0 < p < 1

    Raises CostingError for a rate of 100 % or an assurance that is none.

    >>> beads_to_start(100, Decimal("0.08"), Decimal("0.95"))
    114

    Source: quantile of the negative binomial distribution (see the head of the module).
    """
    _check(needed, reject_rate, assurance)
    return _least_start(needed, Decimal(reject_rate), Decimal(assurance))


@lru_cache(maxsize=65536)
def _least_start(needed: int, reject_rate: Decimal, assurance: Decimal) -> int:
    if needed <= 0:
        return 0
    if reject_rate == 0:
        return needed
    rate, wanted = float(reject_rate), float(assurance)
    good = 1.0 - rate
    log_good, log_rate = log(good), log(rate)

    def last_at(trial: int) -> float:
        """Chance that the bead which makes it enough is exactly the one with this number."""
        return exp(
            lgamma(trial)
            - lgamma(needed)
            - lgamma(trial - needed + 1)
            + needed * log_good
            + (trial - needed) * log_rate
        )

    spare = NormalDist().inv_cdf(min(max(wanted, 1e-12), 1 - 1e-12))
    mean = needed * rate / good
    spread = sqrt(mean / good)
    started = max(needed, needed + int(mean + spare * spread + (spare * spare - 1) / 3))
    if started > MOST_BEADS:
        raise CostingError("quantity", TOO_MANY, most=f"{MOST_BEADS:,}")
    chance = binomial_at_least(started, good, needed)

    def enough(number: int, reached: float) -> bool:
        if abs(reached - wanted) > NEARLY_TIED or number > EXACT_UP_TO:
            return reached >= wanted
        return _reaches_exactly(number, needed, reject_rate, assurance)

    # P(N + 1) = P(N) + P(the last needed good one comes at N + 1), and back again.
    while not enough(started, chance):
        started += 1
        chance += last_at(started)
    while started > needed:
        before = chance - last_at(started)
        if not enough(started - 1, before):
            break
        started, chance = started - 1, before
    return started


def _reaches_exactly(started: int, needed: int, reject_rate: Decimal, assurance: Decimal) -> bool:
    """P(good ≥ needed) ≥ assurance in whole numbers, for chances too close to tell otherwise."""
    rate = Fraction(reject_rate)
    bad, whole = rate.numerator, rate.denominator
    good = whole - bad
    too_few = sum(comb(started, k) * good**k * bad ** (started - k) for k in range(needed))
    return Fraction(too_few, whole**started) <= 1 - Fraction(assurance)


def beads_to_start_scattered(needed: int, alpha: Decimal, beta: Decimal, assurance: Decimal) -> int:
    """The least number to start when the reject rate of a load is drawn from a beta distribution.

    needed       good beads wanted, a whole number from 0 up
    alpha, beta  of the reject rate, mean alpha ÷ (alpha + beta), as fitted from loads on record
    assurance    0 < p < 1

    All beads are taken to share the fate of one load, which is the cautious reading.

    >>> beads_to_start_scattered(100, Decimal(4), Decimal(46), Decimal("0.95"))
    120

    Source: beta-binomial distribution (see the head of the module).
    """
    _check(needed, Decimal(0), assurance)
    check_scatter(alpha, beta)
    return _least_scattered(needed, float(alpha), float(beta), float(assurance))


def check_scatter(alpha: Decimal, beta: Decimal) -> None:
    """Raise CostingError for numbers that no beta distribution has."""
    if not (isfinite(alpha) and isfinite(beta) and alpha > 0 and beta > 0):
        raise CostingError("scatter", SCATTER_NOT_POSITIVE)


@lru_cache(maxsize=16384)
def _least_scattered(needed: int, alpha: float, beta: float, assurance: float) -> int:
    """Steps N up from needed: P(N + 1) = P(N) + P(the needed-th good one is bead N + 1).

    That chance, of r rejects before the needed-th good bead, is the beta negative binomial
    C(needed + r − 1, r) B(beta + needed, alpha + r) ÷ B(alpha, beta), by a recurrence in r. It
    begins where the chance first counts: of many beads, that of no reject at all is too small for
    floating point.
    """
    if needed <= 0:
        return 0
    rejects = _first_that_counts(needed, alpha, beta)
    chance = exp(_log_chance_of_rejects(rejects, needed, alpha, beta))
    total = chance
    while total < assurance:
        chance *= (needed + rejects) * (alpha + rejects)
        chance /= (rejects + 1) * (alpha + beta + needed + rejects)
        rejects += 1
        total += chance
        if rejects > MOST_BEADS // 10:
            raise CostingError("scatter", TOO_MANY, most=f"{MOST_BEADS // 10:,}")
    return needed + rejects


def _log_chance_of_rejects(rejects: int, needed: int, alpha: float, beta: float) -> float:
    """log of C(needed + r − 1, r) B(beta + needed, alpha + r) ÷ B(alpha, beta)."""
    ways = lgamma(needed + rejects) - lgamma(needed) - lgamma(rejects + 1)
    fate = lgamma(beta + needed) + lgamma(alpha + rejects) - lgamma(alpha + beta + needed + rejects)
    return ways + fate + lgamma(alpha + beta) - lgamma(alpha) - lgamma(beta)


def _first_that_counts(needed: int, alpha: float, beta: float) -> int:
    """The least number of rejects with a chance of e⁻⁶⁰ or more; all below it add up to nothing.

    The chance rises up to the likeliest number, where the recurrence's factor falls below 1.
    """
    low, high = 0, max(0, int((needed * alpha - alpha - beta - needed) / (beta + 1)))
    while low < high:
        middle = (low + high) // 2
        if _log_chance_of_rejects(middle, needed, alpha, beta) < -60:
            low = middle + 1
        else:
            high = middle
    return low


def _check(needed: int, reject_rate: Decimal, assurance: Decimal) -> None:
    if needed > MOST_BEADS:
        raise CostingError("quantity", TOO_MANY, most=f"{MOST_BEADS:,}")
    if not isfinite(reject_rate) or reject_rate < 0 or reject_rate > 1:
        raise CostingError("reject_rate", RATE_NOT_A_SHARE, found=reject_rate)
    if reject_rate == 1:
        raise CostingError("reject_rate", ALL_REJECTED)
    if not isfinite(assurance) or not 0 < assurance < 1:
        raise CostingError("assurance", ASSURANCE_NOT_A_SHARE, found=assurance)
