"""Enough beads come good with the assurance asked for, and not one more is started than that."""

from decimal import Decimal
from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.stats import beta, betabinom, binom, nbinom

from orders.costing.beads_to_start import beads_to_start, beads_to_start_scattered
from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import BeadFiringFacts, ChoiceFacts, LineFacts, ScatterFacts
from orders.costing.scatter import beta_variance, scatter_over
from orders.costing.working.tree import order_tree
from tests.costing.builders import D, make_bead, make_order, make_workshop
from workshop.physics.chance import binomial_at_least

# n good, reject rate, assurance, N, P(N), P(N − 1): scipy 1.17, binomial search and
# negative-binomial quantile agreeing.
PUBLISHED = [
    (100, "0.08", "0.95", 114, 0.961361, 0.932509),
    (100, "0.08", "0.99", 117, 0.994495, 0.988989),
    (100, "0.15", "0.95", 125, 0.950088, 0.927106),
    (50, "0.10", "0.95", 60, 0.965791, 0.933411),
    (12, "0.20", "0.90", 18, 0.948729, 0.894299),
    (500, "0.05", "0.95", 535, 0.953994, 0.934904),
    (1000, "0.08", "0.95", 1103, 0.952259, 0.941848),
    (1, "0.30", "0.99", 4, 0.991900, 0.973000),
]


@pytest.mark.parametrize(("needed", "rate", "assurance", "start", "chance", "before"), PUBLISHED)
def test_worked_values(needed, rate, assurance, start, chance, before):
    assert beads_to_start(needed, D(rate), D(assurance)) == start
    assert binomial_at_least(start, 1 - float(rate), needed) == pytest.approx(chance, abs=5e-7)
    assert binomial_at_least(start - 1, 1 - float(rate), needed) == pytest.approx(before, abs=5e-7)


@pytest.mark.parametrize(("needed", "rate", "assurance", "start", "chance", "before"), PUBLISHED)
def test_dividing_by_the_good_share_gives_too_few(needed, rate, assurance, start, chance, before):
    naive = -(-needed // (1 - D(rate)))
    assert naive < start
    assert binomial_at_least(int(naive), 1 - float(rate), needed) < float(assurance)


def test_with_no_rejects_as_many_are_started_as_are_needed():
    assert beads_to_start(100, D(0), D("0.95")) == 100  # scipy: start_100_0_0.95


def test_nothing_needed_starts_nothing():
    assert beads_to_start(0, D("0.3"), D("0.95")) == 0


rates = st.integers(1, 900).map(lambda n: Decimal(n) / 1000)
assurances = st.integers(500, 9990).map(lambda n: Decimal(n) / 10000)


@given(st.integers(1, 20_000), rates, assurances)
def test_it_is_the_quantile_of_the_negative_binomial(needed, rate, assurance):
    """Against scipy.stats.nbinom and binom."""
    start = beads_to_start(needed, rate, assurance)
    expected = needed + int(nbinom.ppf(float(assurance), needed, 1 - float(rate)))
    if start != expected:  # only where floating point cannot tell the two apart
        assert (
            abs(binom.sf(needed - 1, min(start, expected), 1 - float(rate)) - float(assurance))
            < 1e-9
        )


@given(st.integers(1, 60), rates, assurances)
def test_it_is_enough_and_one_fewer_is_not(needed, rate, assurance):
    """In whole numbers, with no rounding at all."""
    start = beads_to_start(needed, rate, assurance)
    bad = Fraction(rate)

    def chance(started: int) -> Fraction:
        return sum(
            (comb(started, k) * (1 - bad) ** k * bad ** (started - k))
            for k in range(needed, started + 1)
        )

    assert start >= needed
    assert chance(start) >= Fraction(assurance)
    assert start == needed or chance(start - 1) < Fraction(assurance)


def test_a_chance_exactly_as_high_as_the_assurance_is_enough():
    # One bead of two at a reject rate of 0.3: 1 − 0.3² = 0.91 exactly.
    assert beads_to_start(1, D("0.3"), D("0.91")) == 2
    # 0.9³ = 0.729 exactly: three of three.
    assert beads_to_start(3, D("0.1"), D("0.729")) == 3


def test_two_firings_thin_the_same_beads_twice():
    twice = make_bead(
        firings=(
            BeadFiringFacts("low fire", "dimpled tray", D("0.10")),
            BeadFiringFacts("low fire", "dimpled tray", D("0.05")),
        )
    )
    bead = cost_order(make_order(5, make_workshop(beads={"pea": twice}))).beads[0]
    assert bead.reject_rate == D("0.145")  # 1 − 0.90 × 0.95
    assert bead.start == 100 + int(nbinom.ppf(0.95, 100, 0.855))


def test_whole_moulds_are_started_only_if_the_owner_says_so():
    part = cost_order(make_order(5)).beads[0]
    assert part.start == 114
    workshop = make_workshop(choices=ChoiceFacts(whole_moulds=True))
    whole = cost_order(make_order(5, workshop)).beads[0]
    assert whole.start == 120  # ten trays of 12


@given(
    st.integers(1, 400),
    st.integers(5, 200).map(lambda n: Decimal(n) / 10),
    st.integers(10, 2000).map(lambda n: Decimal(n) / 10),
    st.integers(500, 980).map(lambda n: Decimal(n) / 1000),
)
def test_rejects_that_come_load_by_load_follow_the_beta_binomial(needed, a, b, assurance):
    """Against scipy.stats.betabinom: good beads are beta-binomial with beta and alpha swapped."""
    start = beads_to_start_scattered(needed, a, b, assurance)
    a, b = float(a), float(b)
    assert betabinom.sf(needed - 1, start, b, a) >= float(assurance) - 1e-9
    if start > needed:
        assert betabinom.sf(needed - 1, start - 1, b, a) < float(assurance) + 1e-9


def test_scattered_rejects_need_more_beads_than_steady_ones_of_the_same_mean():
    scatter = ScatterFacts(D(4), D(46), 30)  # mean 8 %
    assert beads_to_start_scattered(100, D(4), D(46), D("0.95")) == 120
    assert beads_to_start(100, D("0.08"), D("0.95")) == 114
    bead = make_bead(
        firings=(BeadFiringFacts("low fire", "dimpled tray", D("0.08"), scatter=scatter),)
    )
    choices = ChoiceFacts(rejects_by_load=True)
    order = make_order(5, make_workshop(beads={"pea": bead}, choices=choices))
    costing = cost_order(order)
    assert costing.beads[0].start == 120
    start = order_tree(costing).find("beads", "bead pea", "start")
    assert "30 loads" in start.children[1].source


def test_scatter_over_two_firings_is_matched_closely():
    """Against numerical integration over both reject rates (scipy.integrate.dblquad)."""
    first, second = ScatterFacts(D(4), D(46), 30), ScatterFacts(D(2), D(48), 12)
    firings = tuple(
        BeadFiringFacts("low fire", "dimpled tray", D("0.06"), scatter=scatter)
        for scatter in (first, second)
    )
    both = scatter_over(firings)
    assert both.loads == 12
    start = beads_to_start_scattered(100, both.alpha, both.beta, D("0.95"))

    def chance(started: int) -> float:
        def density(u: float, v: float) -> float:
            good = binom.sf(99, started, (1 - u) * (1 - v))
            return good * beta.pdf(u, 4, 46) * beta.pdf(v, 2, 48)

        return dblquad(density, 0, 0.5, 0, 0.5, epsabs=1e-6)[0]

    # Exact would be this number or one beside it.
    assert chance(start + 1) >= 0.95
    assert chance(start - 2) < 0.95


def test_a_steady_firing_after_a_scattered_one_adds_no_scatter():
    scattered = BeadFiringFacts("low fire", "dimpled tray", scatter=ScatterFacts(D(4), D(46), 30))
    steady = BeadFiringFacts("low fire", "dimpled tray", D("0.05"))
    both = scatter_over((scattered, steady))
    # Mean survival 0.92 × 0.95; its variance 0.95² times that of the first alone.
    assert both.beta / (both.alpha + both.beta) == pytest.approx(D("0.874"))
    variance = beta_variance(both.alpha, both.beta)
    assert float(variance) == pytest.approx(0.95**2 * float(beta_variance(D(4), D(46))))
    assert scatter_over((steady, steady)) is None


def test_a_large_order_with_little_scatter_can_be_started():
    """Against scipy.stats.betabinom; the chance of no reject among so many is below any float."""
    start = beads_to_start_scattered(20_000, D(900), D(1200), D("0.95"))
    assert betabinom.sf(19_999, start, 1200, 900) >= 0.95
    assert betabinom.sf(19_999, start - 1, 1200, 900) < 0.95


def test_a_reject_rate_of_all_is_refused():
    bead = make_bead(firings=(BeadFiringFacts("low fire", "dimpled tray", D(1)),))
    with pytest.raises(CostingError) as refused:
        cost_order(make_order(5, make_workshop(beads={"pea": bead})))
    assert refused.value.field == "reject_rate"
    assert refused.value.subject == "Pea"
    assert refused.value.line == 0
    assert "100 % leaves no good bead" in refused.value.sentence


@pytest.mark.parametrize("assurance", ["0", "1", "1.5", "NaN", "-0.2"])
def test_an_assurance_that_is_none_is_refused(assurance):
    with pytest.raises(CostingError) as refused:
        beads_to_start(10, D("0.1"), D(assurance))
    assert refused.value.field == "assurance"


def test_a_million_million_beads_are_refused_with_a_sentence():
    with pytest.raises(CostingError, match="more than can be costed"):
        beads_to_start(10**12, D("0.1"), D("0.95"))


def test_loose_beads_are_sold_by_the_piece():
    order = make_order(lines=(LineFacts(100, bead="pea"),))
    costing = cost_order(order)
    assert costing.beads[0].start == 114
    assert costing.lines[0].layout is None
    assert costing.lines[0].cost_each == costing.cost / 100
