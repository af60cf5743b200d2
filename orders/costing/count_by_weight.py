"""Counting beads by weighing them: how many are in the bag, and how sure that is."""

from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, sqrt

from orders.costing.checks import number
from orders.costing.errors import CostingError
from orders.costing.spread import standard_deviation, t_quantile
from workshop.physics.sentences import gettext_noop

TOO_FEW = gettext_noop(
    "%(found)s beads were weighed by themselves, and it takes at least two to see how much they "
    "differ. Weigh ten."
)


@dataclass(frozen=True, slots=True)
class CountByWeight:
    """How many beads a net weight is: the nearest whole number and its 95 % interval.

    mean_g, spread_g  mean and standard deviation of the beads weighed one by one
    """

    count: int
    low: int
    high: int
    mean_g: Decimal
    spread_g: Decimal
    sample: int

    @property
    def exact(self) -> bool:
        """Whether the interval leaves one number only."""
        return self.low == self.high


def count_by_weight(
    net_g: Decimal,
    sample_g: list[Decimal],
    *,
    scale_g: Decimal = Decimal(0),
    confidence: float = 0.95,
) -> CountByWeight:
    """Beads in a net weight, from a sample weighed one by one.

    net_g     gross less tare
    sample_g  masses of at least two beads
    scale_g   smallest step of the scale; its rounding is taken into account

    count = net ÷ mean; its variance comes from the beads in the bag, which differ
    (n s² ÷ mean²), from the mean being that of k beads only (n² s² ÷ (k mean²)) and from the scale
    (step² ÷ (12 mean²)); the interval is ± t with k − 1 degrees of freedom.

    >>> masses = [Decimal(m) for m in ("1.22", "1.25", "1.23", "1.24", "1.26")]
    >>> found = count_by_weight(Decimal("124.0"), masses)
    >>> found.count, found.low, found.high
    (100, 99, 101)

    Raises CostingError for a net weight below 0 or a sample of fewer than two.
    Source: propagation of variances; uniform rounding error, JCGM 100:2008 (GUM) 4.3.7.
    """
    net = number(net_g, "mean_g", "the bag")
    if len(sample_g) < 2:
        raise CostingError("sample", TOO_FEW, found=len(sample_g))
    masses = [number(mass, "mean_g", "the sample", above=True) for mass in sample_g]
    size = len(masses)
    mean_g = sum(masses, Decimal(0)) / size
    spread = standard_deviation([float(mass) for mass in masses])
    estimate = float(net / mean_g)
    relative = (spread / float(mean_g)) ** 2
    variance = estimate * relative + estimate**2 * relative / size
    variance += (float(scale_g) / float(mean_g)) ** 2 / 12
    half = t_quantile((1 + confidence) / 2, size - 1) * sqrt(variance)
    count = round(estimate)
    return CountByWeight(
        count=count,
        low=max(0, min(count, ceil(estimate - half))),
        high=max(count, floor(estimate + half)),
        mean_g=mean_g,
        spread_g=Decimal(repr(spread)),
        sample=size,
    )
