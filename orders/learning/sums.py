"""What the records say beside the standard in use: a value, how many it rests on, its interval.

shares counted in pieces (rejects)         Wilson's interval
ratios of totals (yields, minutes, fuel)   ratio of sums with its standard error
means of weighed things                    Student's interval
rejects load by load                       p-chart, and a beta-binomial fit for their scatter

Sources: E. B. Wilson, J. American Statistical Association 22 (1927) 209–212; W. G. Cochran,
Sampling Techniques, 3rd ed. 1977, ch. 6 (ratio estimator, from memory); Student, Biometrika 6
(1908) 1–25; p-chart limits: ISO 7870-2 (title from memory), NIST/SEMATECH e-Handbook of
Statistical Methods 6.3.3.2; J. G. Skellam, J. Royal Statistical Society B 10 (1948) 257–261
(beta-binomial, from memory).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import exp, inf, lgamma, log, sqrt

from orders.costing.errors import CostingError
from orders.costing.facts import ScatterFacts, WeighedFacts
from workshop.physics.sentences import gettext_noop
from workshop.physics.spread import normal_quantile, standard_deviation, t_quantile, wilson_interval

NO_RECORDS = gettext_noop("There are no records to learn from yet. Log some first.")
MORE_THAN_ALL = gettext_noop(
    "%(part)s of %(whole)s cannot be: a record counts more rejects than beads. Correct the record."
)
NEGATIVE = gettext_noop("A record is below 0, which cannot be. Correct the record.")
CONFIDENCE = 0.90
DIGITS = 12


@dataclass(frozen=True, slots=True)
class Learned:
    """A value from records with its interval.

    count       how many records (for shares of pieces: how many pieces) it rests on
    low, high   None where one record alone gives no interval
    method      "wilson", "ratio", "student"
    """

    value: Decimal
    count: int
    low: Decimal | None
    high: Decimal | None
    confidence: float
    method: str

    def agrees_with(self, standard: Decimal) -> bool:
        """Whether the standard in use lies inside the interval."""
        return self.low is not None and self.high is not None and self.low <= standard <= self.high


def _exact(value: float) -> Decimal:
    return Decimal(repr(round(value, DIGITS)))


def wilson(part: int, whole: int, confidence: float = CONFIDENCE) -> Learned:
    """A share counted in pieces, such as rejects, with Wilson's score interval.

    >>> found = wilson(15, 148, 0.95)
    >>> round(found.low, 4), round(found.high, 4)
    (Decimal('0.0624'), Decimal('0.1605'))

    Raises CostingError for no pieces or more rejects than pieces.
    Source: Wilson 1927; the values are those of R. G. Newcombe, Statistics in Medicine 17 (1998)
    857–872, table I, method 3 (from memory; scipy gives the same).
    """
    if whole <= 0:
        raise CostingError("records", NO_RECORDS)
    if part < 0:
        raise CostingError("records", NEGATIVE)
    if part > whole:
        raise CostingError("records", MORE_THAN_ALL, part=part, whole=whole)
    low, high = wilson_interval(part, whole, normal_quantile((1 + confidence) / 2))
    return Learned(
        value=_exact(part / whole),
        count=whole,
        low=_exact(low),
        high=_exact(high),
        confidence=confidence,
        method="wilson",
    )


def lasting(uses: int, gone: int) -> Learned:
    """How many uses a thing lasts, from all its uses and how many have gone: uses ÷ gone.

    >>> found = lasting(430, 11)
    >>> round(found.value, 2), round(found.low, 1), round(found.high, 1), found.count
    (Decimal('39.09'), Decimal('24.2'), Decimal('63.6'), 11)

    Every use may be the last with one chance, so that chance has Wilson's interval and the life is
    its inverse. Where most go of age, lives scatter less, and the interval is on the safe side.
    """
    share = wilson(gone, uses)
    if not gone:
        raise CostingError("records", NO_RECORDS)
    assert share.low is not None and share.high is not None
    return Learned(
        value=Decimal(uses) / gone,
        count=gone,
        low=1 / share.high,
        high=1 / share.low,
        confidence=share.confidence,
        method="wilson",
    )


def ratio(pairs: Sequence[tuple[Decimal, Decimal]]) -> Learned:
    """Total of one thing by total of another: yield = g out ÷ g in, minutes ÷ units, kg ÷ load.

    pairs  (out, in) of each record; the ins above 0

    The interval uses Student's t with one degree less than there are records.
    Source: Cochran 1977: s² = Σ(y − Rx)² ÷ (n − 1), standard error = s √n ÷ Σx.
    """
    if not pairs:
        raise CostingError("records", NO_RECORDS)
    if any(y < 0 or x <= 0 for y, x in pairs):
        raise CostingError("records", NEGATIVE)
    total_y = sum((y for y, _x in pairs), Decimal(0))
    total_x = sum((x for _y, x in pairs), Decimal(0))
    value = total_y / total_x
    count = len(pairs)
    if count == 1:
        return Learned(value, 1, None, None, CONFIDENCE, "ratio")
    squares = sum(float(y - value * x) ** 2 for y, x in pairs)
    error = sqrt(squares / (count - 1) * count) / float(total_x)
    half = _exact(t_quantile((1 + CONFIDENCE) / 2, count - 1) * error)
    low = max(Decimal(0), value - half)
    return Learned(value, count, low, value + half, CONFIDENCE, "ratio")


def mean(values: Sequence[Decimal], confidence: float = CONFIDENCE) -> Learned:
    """The mean of measured things with Student's interval.

    >>> found = mean([Decimal(v) for v in ("1.2", "1.3", "1.25", "1.35", "1.15")], 0.95)
    >>> found.value, round(found.low, 4), round(found.high, 4)
    (Decimal('1.25'), Decimal('1.1518'), Decimal('1.3482'))

    Source: Student 1908: mean ± t s ÷ √n; here s = 0.0790569, t = 2.77645, √5.
    """
    if not values:
        raise CostingError("records", NO_RECORDS)
    count = len(values)
    value = sum(values, Decimal(0)) / count
    if count == 1:
        return Learned(value, 1, None, None, confidence, "student")
    spread = standard_deviation([float(one) for one in values])
    half = _exact(t_quantile((1 + confidence) / 2, count - 1) * spread / sqrt(count))
    return Learned(value, count, value - half, value + half, confidence, "student")


def weighed(masses_g: Sequence[Decimal]) -> WeighedFacts:
    """Beads weighed one by one: what costing uses in place of volume × density."""
    if any(mass <= 0 for mass in masses_g):
        raise CostingError("records", NEGATIVE)
    found = mean(masses_g, 0.95)
    return WeighedFacts(found.count, found.value)


# -- rejects load by load ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One load on the control chart."""

    rejects: int
    beads: int
    share: float
    low: float
    high: float

    @property
    def out(self) -> bool:
        """Whether the load lies outside its limits: something other than chance was at work."""
        return not self.low <= self.share <= self.high


@dataclass(frozen=True, slots=True)
class ControlChart:
    """A p-chart: the mean share of rejects and each load with its own limits."""

    mean: float
    points: tuple[ChartPoint, ...]

    @property
    def steady(self) -> bool:
        return not any(point.out for point in self.points)


def p_chart(loads: Sequence[tuple[int, int]]) -> ControlChart:
    """Rejects of each load against limits of three standard deviations.

    loads  (rejects, beads fired) of each load

    limits = p ± 3 √(p (1 − p) ÷ n), kept between 0 and 1; p from all loads together.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.3.2.
    """
    _check_loads(loads)
    share = sum(rejects for rejects, _n in loads) / sum(beads for _r, beads in loads)
    points = []
    for rejects, beads in loads:
        reach = 3 * sqrt(share * (1 - share) / beads)
        low, high = max(0.0, share - reach), min(1.0, share + reach)
        points.append(ChartPoint(rejects, beads, rejects / beads, low, high))
    return ControlChart(share, tuple(points))


def _check_loads(loads: Sequence[tuple[int, int]]) -> None:
    if not loads:
        raise CostingError("records", NO_RECORDS)
    for rejects, beads in loads:
        if rejects < 0 or beads <= 0:
            raise CostingError("records", NEGATIVE)
        if rejects > beads:
            raise CostingError("records", MORE_THAN_ALL, part=rejects, whole=beads)


@dataclass(frozen=True, slots=True)
class Scatter:
    """A beta-binomial fit: how rejects scatter from load to load.

    better_by  twice the gain in log-likelihood over one rate for every load; above 2.71 there is
               less than one chance in twenty that the loads differ by luck alone (half a
               chi-square with one degree of freedom, as the scatter lies on its border)
    """

    alpha: Decimal
    beta: Decimal
    loads: int
    better_by: float

    @property
    def mean(self) -> Decimal:
        return self.alpha / (self.alpha + self.beta)

    @property
    def shows(self) -> bool:
        """Whether the records show that rejects come load by load."""
        return self.better_by > 2.7055

    def facts(self) -> ScatterFacts:
        return ScatterFacts(self.alpha, self.beta, self.loads)


def fit_scatter(loads: Sequence[tuple[int, int]]) -> Scatter | None:
    """Fit a beta-binomial to the rejects of loads by greatest likelihood.

    loads  (rejects, beads fired) of each load; at least two

    None when the loads differ no more than chance makes them: one rate then says it all.
    Source: Skellam 1948; golden-section search on ln(alpha + beta), within it on the mean.
    """
    _check_loads(loads)
    rejects = sum(r for r, _n in loads)
    beads = sum(n for _r, n in loads)
    if len(loads) < 2 or rejects in (0, beads):
        return None

    def best_at(log_size: float) -> tuple[float, float]:
        size = exp(log_size)
        return _golden(lambda logit: _log_likelihood(loads, _expit(logit), size), -12.0, 4.0)

    log_size, likelihood = _golden(lambda s: best_at(s)[1], log(0.05), log(1e6))
    share = rejects / beads
    single = sum(r * log(share) + (n - r) * log(1 - share) for r, n in loads)
    better_by = 2 * (likelihood - single)
    if better_by <= 1e-3:
        return None
    average, size = _expit(best_at(log_size)[0]), exp(log_size)
    return Scatter(
        alpha=Decimal(f"{average * size:.9g}"),
        beta=Decimal(f"{(1 - average) * size:.9g}"),
        loads=len(loads),
        better_by=better_by,
    )


def _expit(logit: float) -> float:
    return 1 / (1 + exp(-logit))


def _log_likelihood(loads: Sequence[tuple[int, int]], average: float, size: float) -> float:
    """Of the beta-binomial, less the binomial coefficients, which do not depend on the fit."""
    alpha, beta = average * size, (1 - average) * size
    if alpha <= 0 or beta <= 0:
        return -inf
    once = lgamma(size) - lgamma(alpha) - lgamma(beta)
    return sum(once + lgamma(r + alpha) + lgamma(n - r + beta) - lgamma(n + size) for r, n in loads)


def _golden(function: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """Where a function with one peak is greatest, and how great it is."""
    golden = (sqrt(5) - 1) / 2
    left, right = high - golden * (high - low), low + golden * (high - low)
    at_left, at_right = function(left), function(right)
    while high - low > 1e-7:
        if at_left < at_right:
            low, left, at_left = left, right, at_right
            right = low + golden * (high - low)
            at_right = function(right)
        else:
            high, right, at_right = right, left, at_left
            left = high - golden * (high - low)
            at_left = function(left)
    return (left, at_left) if at_left > at_right else (right, at_right)
