"""Dates under doubt: sums checked against scipy's binomials and a simulation."""

from math import ceil, comb
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, nbinom

from orders.planning.doubt import (
    NEGLIGIBLE,
    days_for,
    done_by,
    extra_rounds,
    quantile,
    simulate_board,
)
from workshop.physics.chance import binomial, binomial_at_least
from workshop.physics.spread import wilson_interval


@given(trials=st.integers(0, 400), chance=st.floats(0.01, 0.99), wanted=st.integers(-2, 420))
def test_binomial_tails_agree_with_scipy(trials, chance, wanted):
    assert binomial_at_least(trials, chance, wanted) == pytest.approx(
        binom.sf(wanted - 1, trials, chance), abs=1e-9
    )


def test_a_small_binomial_by_hand():
    # P(Bin(3, 1/2) >= 2) = (3 + 1) / 8.
    assert binomial_at_least(3, 0.5, 2) == pytest.approx((comb(3, 2) + comb(3, 3)) / 8)


@pytest.mark.parametrize("days", [1, 5, 12])
@pytest.mark.parametrize("lost", [0.05, 0.15, 0.4])
@pytest.mark.parametrize("assurance", [0.5, 0.9])
def test_days_to_allow_are_a_negative_binomial_quantile(days, lost, assurance):
    # scipy's nbinom counts the lost days before the last firing day.
    assert days_for(days, lost, [1.0], assurance) == days + nbinom.ppf(assurance, days, 1 - lost)


def test_rounds_and_days_of_the_worked_example():
    # Worked by the recursion: 4 firing days, 15 % lost, 100 good of 109 fired, 8 % rejected.
    rounds = extra_rounds(100, 109, 0.08)
    assert rounds[:4] == pytest.approx([0.625888, 0.361646, 0.012372, 0.000094], abs=5e-7)
    by = [done_by(4, 0.15, rounds, days) for days in range(4, 9)]
    assert by == pytest.approx([0.326717, 0.683212, 0.881737, 0.962177, 0.989157], abs=5e-7)
    assert days_for(4, 0.15, rounds, 0.5) == 5
    assert days_for(4, 0.15, rounds, 0.9) == 7


def test_rounds_agree_with_playing_them():
    rng = Random(7)
    runs, counts = 20_000, [0, 0, 0, 0]
    for _ in range(runs):
        short, batch, extra = 10, 11, 0
        while True:
            good = sum(rng.random() < 0.8 for _ in range(batch))
            if good >= short:
                break
            short -= good
            batch = -(-short * 10 // 8)
            extra += 1
        counts[min(extra, 3)] += 1
    rounds = extra_rounds(10, 11, 0.2)
    # Three standard errors of 20,000 runs are at most 0.011.
    for n in range(3):
        assert counts[n] / runs == pytest.approx(rounds[n], abs=0.011)


def test_chances_of_all_rounds_add_up_to_one():
    assert sum(extra_rounds(40, 42, 0.3)) == pytest.approx(1, abs=1e-9)


def plain_rounds(needed: int, fired: int, good: float) -> list[float]:
    """The same, each chance worked out where it is met: nothing kept, nothing left out early."""
    state, result = {needed: 1.0}, []
    while state:
        done, following = 0.0, {}
        for short, weight in state.items():
            batch = ceil(short / good - 1e-9) if result else fired
            for got in range(min(short, batch + 1)):
                chance = weight * binomial(batch, got, good)
                if chance >= NEGLIGIBLE:
                    following[short - got] = following.get(short - got, 0.0) + chance
            done += weight * binomial_at_least(batch, good, short)
        result.append(done)
        state = following
    return result


@given(needed=st.integers(1, 120), more=st.integers(0, 30), reject=st.floats(0, 0.9))
def test_rounds_that_are_kept_are_the_same_to_the_last_digit(needed, more, reject):
    found = extra_rounds(needed, needed + more, reject)
    assert found == plain_rounds(needed, needed + more, 1 - reject)


def test_no_rejects_no_further_round():
    assert extra_rounds(50, 50, 0.0) == [1.0]


def test_wilson_interval_of_a_published_kind():
    # Zero of ten at 95 %: z²/(n + z²) = 3.8416 / 13.8416.
    assert wilson_interval(0, 10, 1.96) == (0.0, pytest.approx(3.8416 / 13.8416))


def test_a_lost_day_hits_all_orders_of_the_board_together():
    board = {"O1": [0, 1], "O2": [1], "O3": [2]}
    outcomes = simulate_board(board, range(40), 0.15, runs=4000, seed=3)
    assert outcomes["O1"] == outcomes["O2"]
    # Each order alone is a negative binomial: the day of its second or third firing day.
    for order, firing_days in (("O2", 2), ("O3", 3)):
        for assurance in (0.5, 0.9):
            expected = days_for(firing_days, 0.15, [1.0], assurance) - 1
            assert quantile(outcomes[order], assurance) == expected


@pytest.mark.parametrize(
    ("firing_days", "lost", "needed", "fired", "reject"),
    [(4, 0.15, 100, 109, 0.08), (1, 0.3, 20, 22, 0.05), (8, 0.1, 40, 41, 0.2)],
)
def test_the_two_dates_are_kept_as_often_as_they_say(firing_days, lost, needed, fired, reject):
    """Day by day and bead by bead, from nothing but the rules: see the sums' own docstrings."""
    rng, runs = Random(11), 3000
    days_taken = sorted(
        _played_days(rng, firing_days, lost, needed, fired, reject) for _ in range(runs)
    )
    rounds = extra_rounds(needed, fired, reject)
    for assurance in (0.5, 0.9):
        days = days_for(firing_days, lost, rounds, assurance)
        by_then = sum(taken <= days for taken in days_taken) / runs
        a_day_less = sum(taken < days for taken in days_taken) / runs
        # Four standard errors of 3,000 runs are at most 0.037.
        assert by_then >= assurance - 0.037
        assert a_day_less < assurance + 0.037
        assert by_then == pytest.approx(done_by(firing_days, lost, rounds, days), abs=0.037)


def _played_days(rng, firing_days, lost, needed, fired, reject):
    """Working days until enough good beads are out, if each day may be lost."""
    days, fires_left, short, batch = 0, firing_days, needed, fired
    while True:
        days += 1
        if rng.random() < lost:
            continue
        fires_left -= 1
        if fires_left:
            continue
        short -= sum(rng.random() >= reject for _ in range(batch))
        if short <= 0:
            return days
        fires_left, batch = 1, ceil(short / (1 - reject) - 1e-9)


def test_a_plan_that_outlives_the_calendar_is_not_given_a_date():
    outcomes = simulate_board({"O1": [2]}, range(3), 0.5, runs=500, seed=1)
    assert quantile(outcomes["O1"], 0.9) is None


def test_refiring_makes_an_order_later():
    plain = simulate_board({"O1": [3]}, range(60), 0.1, runs=2000, seed=1)
    again = simulate_board(
        {"O1": [3]}, range(60), 0.1, runs=2000, seed=1, refire_chance={"O1": 0.4}
    )
    assert quantile(again["O1"], 0.9) > quantile(plain["O1"], 0.9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: extra_rounds(10, 11, 1.0),
        lambda: days_for(3, 0.1, [1.0], 1.0),
        lambda: days_for(3, -0.1, [1.0], 0.5),
        lambda: simulate_board({}, [0], 1.0),
    ],
)
def test_chances_out_of_range_are_refused(call):
    with pytest.raises(ValueError, match="should be"):
        call()
