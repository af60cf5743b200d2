"""What records teach, against published examples, scipy and simulation."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from orders.costing.errors import CostingError
from orders.learning.sums import fit_scatter, mean, p_chart, ratio, weighed, wilson
from workshop.physics.spread import t_quantile

D = Decimal


# -- shares --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "whole", "low", "high"),
    [
        # Source: R. G. Newcombe, Statistics in Medicine 17 (1998) 857–872, table I, method 3
        # (from memory)
        (81, 263, "0.2553", "0.3662"),
        (15, 148, "0.0624", "0.1605"),
        (0, 20, "0.0000", "0.1611"),
        (1, 29, "0.0061", "0.1718"),
        # Source: a public code challenge on Wilson's interval, at z = 1.96
        (10, 100, "0.0552", "0.1744"),
        (1, 11, "0.0162", "0.3774"),
    ],
)
def test_wilson_s_interval_of_published_examples(part, whole, low, high):
    found = wilson(part, whole, 0.95)
    assert round(found.low, 4) == D(low)
    assert round(found.high, 4) == D(high)


@given(st.integers(1, 5000), st.data(), st.sampled_from([0.8, 0.9, 0.95]))
def test_wilson_s_interval_is_scipy_s(whole, data, confidence):
    part = data.draw(st.integers(0, whole))
    found = wilson(part, whole, confidence)
    theirs = stats.binomtest(part, whole).proportion_ci(confidence, method="wilson")
    assert float(found.low) == pytest.approx(theirs.low, abs=1e-9)
    assert float(found.high) == pytest.approx(theirs.high, abs=1e-9)
    assert found.low <= found.value <= found.high
    assert found.agrees_with(found.value)


@pytest.mark.parametrize(
    ("part", "whole", "sentence"),
    [
        (0, 0, "There are no records to learn from yet."),
        (5, 4, "5 of 4 cannot be: a record counts more rejects than beads."),
        (-1, 4, "A record is below 0"),
    ],
)
def test_records_that_cannot_be_are_refused(part, whole, sentence):
    with pytest.raises(CostingError, match=sentence):
        wilson(part, whole)


# -- means and ratios ----------------------------------------------------------------------


@given(st.floats(0.5001, 0.9999), st.integers(1, 400))
def test_student_s_quantile_is_scipy_s(chance, freedom):
    theirs = stats.t.ppf(chance, freedom)
    assert t_quantile(chance, freedom) == pytest.approx(theirs, rel=1e-8, abs=1e-9)


@given(st.lists(st.integers(500, 2000), min_size=2, max_size=30))
def test_the_interval_of_a_mean_is_scipy_s(milligrams):
    masses = [D(value) / 1000 for value in milligrams]
    found = mean(masses, 0.95)
    floats = [float(mass) for mass in masses]
    if len(set(floats)) > 1:
        low, high = stats.t.interval(
            0.95, len(floats) - 1, loc=sum(floats) / len(floats), scale=stats.sem(floats)
        )
        assert float(found.low) == pytest.approx(low, abs=1e-9)
        assert float(found.high) == pytest.approx(high, abs=1e-9)
    facts = weighed(masses)
    assert (facts.count, facts.mean_g) == (len(masses), found.value)


def test_a_yield_is_all_that_came_out_by_all_that_went_in():
    # 8.1 of 9, 17 of 20, 4.4 of 5 kg: 29.5 ÷ 34, not the mean of the three shares
    pairs = [(D("8.1"), D(9)), (D(17), D(20)), (D("4.4"), D(5))]
    found = ratio(pairs)
    assert found.value == D("29.5") / 34
    # Cochran 1977: residuals y − R x with R = 0.867647: 0.291176, −0.352941, 0.061765;
    # s² = 0.213166 ÷ 2; standard error = 0.326470 √3 ÷ 34 = 0.016631; t(0.95, 2) = 2.919986
    assert float(found.high - found.value) == pytest.approx(2.919986 * 0.016631, abs=2e-6)


def test_one_record_gives_a_value_and_no_interval():
    assert mean([D("1.2")]).low is None
    found = ratio([(D(9), D(10))])
    assert (found.value, found.low) == (D("0.9"), None)
    assert not found.agrees_with(D("0.9"))


def test_no_records_teach_nothing():
    for learn in (lambda: mean([]), lambda: ratio([]), lambda: p_chart([])):
        with pytest.raises(CostingError, match="no records to learn from yet"):
            learn()
    with pytest.raises(CostingError, match="below 0"):
        weighed([D(1), D(0)])


# -- control chart -------------------------------------------------------------------------

# Source: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.3.2: chips misregistered on each of 30
# wafers of 50 chips; mean share 0.2313, limits 0.0524 and 0.4102 (counts from memory, mean as
# published).
WAFERS = (12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22)
WAFERS += (8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6)


def test_the_p_chart_of_the_handbook():
    chart = p_chart([(count, 50) for count in WAFERS])
    assert chart.mean == pytest.approx(0.2313, abs=5e-5)
    assert chart.points[0].low == pytest.approx(0.0524, abs=5e-5)
    assert chart.points[0].high == pytest.approx(0.4102, abs=5e-5)
    # Wafers 15 and 23 lie above the upper limit.
    assert [place for place, point in enumerate(chart.points, 1) if point.out] == [15, 23]
    assert not chart.steady


def test_a_steady_process_has_no_point_outside():
    # Source: published np-chart of 50 lots of 200 wafers: centre 7.14, limits 0 and 15.01184
    lots = (8, 7, 11, 3, 6, 11, 4, 4, 5, 8, 8, 6, 7, 6, 10, 7, 9, 5, 6, 8, 8, 10, 4, 11, 4)
    lots += (11, 6, 6, 9, 5, 4, 7, 5, 7, 8, 5, 10, 9, 7, 9, 4, 9, 4, 7, 11, 8, 10, 8, 7, 5)
    chart = p_chart([(count, 200) for count in lots])
    assert chart.mean * 200 == pytest.approx(7.14)
    assert chart.points[0].low == 0
    assert chart.points[0].high * 200 == pytest.approx(15.01184, abs=1e-5)
    assert chart.steady


def test_a_small_load_has_wider_limits_than_a_large_one():
    small, large = p_chart([(5, 50), (100, 1000)]).points
    assert small.high - small.low > large.high - large.low


# -- scatter from load to load ---------------------------------------------------------------

SCATTERED = [(3, 120), (31, 110), (6, 140), (2, 95), (24, 130), (9, 120), (40, 118), (5, 125)]


def test_the_scatter_of_loads_is_fitted_as_scipy_fits_it():
    found = fit_scatter(SCATTERED)

    def minus_likelihood(logs):
        alpha, beta = 2.718281828459045 ** logs[0], 2.718281828459045 ** logs[1]
        return -sum(stats.betabinom.logpmf(r, n, alpha, beta) for r, n in SCATTERED)

    theirs = optimize.minimize(
        minus_likelihood, (0.0, 2.0), method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}
    )
    alpha, beta = (2.718281828459045**value for value in theirs.x)
    assert float(found.alpha) == pytest.approx(alpha, rel=1e-3)
    assert float(found.beta) == pytest.approx(beta, rel=1e-3)
    assert found.loads == 8
    assert found.shows


def test_loads_that_differ_by_chance_alone_have_one_rate():
    assert fit_scatter([(10, 100)] * 12) is None
    assert fit_scatter([(0, 50), (0, 60)]) is None
    assert fit_scatter([(8, 100)]) is None


@settings(max_examples=15)
@given(st.integers(0, 2**31))
def test_scatter_is_seldom_seen_where_there_is_none(seed):
    """Twenty loads of one rate: the fit may be slight, and its alpha and beta keep the mean."""
    import numpy

    drawn = numpy.random.default_rng(seed).binomial(120, 0.08, 20)
    found = fit_scatter([(int(count), 120) for count in drawn])
    if found is not None:
        assert float(found.mean) == pytest.approx(drawn.mean() / 120, rel=0.02)
        assert found.better_by < 25
