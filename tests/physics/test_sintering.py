"""Whether grains bond: tables worked by hand, and the integral over a logged firing."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from workshop.physics.practice import FIRING_WINDOWS
from workshop.physics.sentences import PhysicsError
from workshop.physics.sintering import (
    FIRM_THETA,
    FUSED_THETA,
    bond_advice,
    curve_advice,
    reduced_time,
    reduced_time_over,
    temperature_needed_c,
    verdict_of,
)
from workshop.physics.viscosity import CONTAINER, FLOAT, SRM_710A

# °C for a firm (theta 1/6) and a fused (1) bead of container glass, by grain and minutes:
# Frenkel's equation with gamma 0.3 N/m and the container curve, worked by hand.
NEEDED = {
    0.05: {20: (674, 705), 30: (667, 698), 45: (661, 690)},
    0.15: {20: (692, 727), 30: (685, 719), 45: (679, 711)},
    0.5: {20: (715, 754), 30: (707, 745), 45: (700, 736)},
    1: {20: (729, 771), 30: (721, 761), 45: (713, 751)},
    2: {20: (745, 790), 30: (736, 779), 45: (727, 768)},
    5: {20: (767, 816), 30: (757, 804), 45: (747, 793)},
    10: {20: (785, 838), 30: (774, 825), 45: (764, 813)},
}


@pytest.mark.parametrize("grain_mm", NEEDED)
def test_the_temperature_needed_follows_the_table(grain_mm: float) -> None:
    for minutes, (firm_c, fused_c) in NEEDED[grain_mm].items():
        assert temperature_needed_c(minutes, grain_mm, FIRM_THETA) == pytest.approx(firm_c, abs=0.6)
        assert temperature_needed_c(minutes, grain_mm) == pytest.approx(fused_c, abs=0.6)


# Worked with the same equation and constants; the words are the bench's.
@pytest.mark.parametrize(
    ("temperature_c", "minutes", "grain_mm", "theta", "verdict"),
    [
        (600, 35, 0.15, 0.00035, "crumbly"),
        (650, 25, 0.15, 0.0145, "crumbly"),
        (700, 25, 0.15, 0.315, "porous"),
        (750, 25, 0.15, 3.5, "fused"),
        (700, 25, 0.5, 0.094, "weak"),
        (750, 25, 0.5, 1.05, "fused"),
        (800, 30, 5, 0.87, "nearly dense"),
        (850, 40, 5, 5.7, "runs"),
        (1000, 45, 5, 194, "runs"),
        (800, 45, 10, 0.65, "nearly dense"),
    ],
)
def test_what_a_hold_does_to_grains(
    temperature_c: float, minutes: float, grain_mm: float, theta: float, verdict: str
) -> None:
    found = reduced_time(temperature_c, minutes, grain_mm)
    assert found == pytest.approx(theta, rel=0.02)
    assert verdict_of(found) == verdict


def test_advice_says_what_would_do_and_how_surely() -> None:
    advice = bond_advice(600, 35, 0.15, wanted_theta=FIRM_THETA)
    assert advice.verdict == "crumbly"
    assert "Frenkel" in advice.source
    assert "±20 °C" in advice.range_note
    assert "About 683 °C, between 663 and 703, would make them porous" in advice.sentence
    assert "would make them fused" in bond_advice(700, 25, 0.15).sentence


def test_advice_outside_the_measured_curve_says_so_and_still_answers() -> None:
    assert bond_advice(500, 30, 0.15).in_range is False
    assert bond_advice(500, 30, 0.15).verdict == "crumbly"
    assert bond_advice(750, 30, 0.15).in_range is True


def test_common_practice_for_chunks_fuses_chunks_and_the_hot_end_for_powder_fuses_powder() -> None:
    """The windows are common practice, no source; the physics agrees but for cool powder."""
    powder, fused = FIRING_WINDOWS["powder"], FIRING_WINDOWS["fused"]
    assert reduced_time(fused.to_c, fused.from_min, 5) > FUSED_THETA
    assert reduced_time(powder.to_c, powder.from_min, 0.15) > FUSED_THETA
    assert reduced_time(powder.from_c, powder.to_min, 0.15) < 0.01


temperatures = st.floats(560, 1100)
minutes = st.floats(1, 600)
grains = st.floats(0.01, 20)


@given(temperatures, st.floats(1, 100), minutes, grains)
def test_hotter_bonds_more(low_c: float, more_c: float, minute: float, grain_mm: float) -> None:
    assert reduced_time(low_c + more_c, minute, grain_mm) > reduced_time(low_c, minute, grain_mm)


@given(temperatures, minutes, st.floats(1.01, 5), grains)
def test_longer_or_finer_bonds_more(
    temperature_c: float, minute: float, factor: float, grain_mm: float
) -> None:
    once = reduced_time(temperature_c, minute, grain_mm)
    assert reduced_time(temperature_c, minute * factor, grain_mm) == pytest.approx(once * factor)
    assert reduced_time(temperature_c, minute, grain_mm / factor) == pytest.approx(once * factor)


@given(minutes, grains, st.floats(0.01, 100), st.sampled_from([CONTAINER, FLOAT, SRM_710A]))
def test_the_temperature_needed_gives_the_bond_asked_for(
    minute: float, grain_mm: float, theta: float, curve
) -> None:
    needed_c = temperature_needed_c(minute, grain_mm, theta, curve=curve)
    assert reduced_time(needed_c, minute, grain_mm, curve=curve) == pytest.approx(theta, rel=1e-6)


@given(temperatures, minutes, grains)
def test_a_log_at_one_temperature_is_the_plain_hold(
    temperature_c: float, minute: float, grain_mm: float
) -> None:
    log = [(0, temperature_c), (minute / 3, temperature_c), (minute, temperature_c)]
    assert reduced_time_over(log, grain_mm) == pytest.approx(
        reduced_time(temperature_c, minute, grain_mm), rel=1e-12
    )


FIRING = [(0, 20), (45, 480), (75, 700), (90, 745), (115, 752), (130, 660), (300, 90)]


@pytest.mark.parametrize("curve", [CONTAINER, FLOAT, SRM_710A])
def test_a_logged_firing_is_integrated_as_quadrature_does(curve) -> None:
    total = 0.0
    for (start, from_c), (end, to_c) in pairwise(FIRING):

        def fluidity(
            minute: float, at=start, start_c=from_c, slope=(to_c - from_c) / (end - start)
        ):
            return 10 ** -curve.log10_viscosity(start_c + slope * (minute - at))

        total += quad(fluidity, start, end, epsrel=1e-12, limit=400)[0]
    by_quadrature = 0.3 * 60 / 75e-6 * total
    assert reduced_time_over(FIRING, 0.15, curve=curve) == pytest.approx(by_quadrature, rel=1e-8)


@given(st.lists(st.tuples(st.floats(0, 30), st.floats(20, 1000)), min_size=2, max_size=30))
def test_reading_the_gauge_once_more_on_the_way_changes_nothing(steps) -> None:
    minute, log = 0.0, []
    for wait, temperature_c in steps:
        minute += wait
        log.append((minute, temperature_c))
    (first, from_c), (second, to_c) = log[0], log[1]
    between = [((first + second) / 2, (from_c + to_c) / 2)]
    once = reduced_time_over(log, 1)
    assert reduced_time_over(log[:1] + between + log[1:], 1) == pytest.approx(
        once, rel=1e-7, abs=1e-12
    )


def test_a_log_warmer_than_the_hold_bonds_more_than_the_hold_alone() -> None:
    with_ramps = [(0, 20), (60, 750), (85, 750), (200, 100)]
    advice = curve_advice(with_ramps, 0.15)
    assert advice.number > reduced_time(750, 25, 0.15)
    assert "hottest 750 °C" in advice.sentence


def test_cold_glass_does_not_flow() -> None:
    assert reduced_time(20, 1e6, 0.15) == 0
    assert reduced_time_over([(0, 20), (100, 250)], 0.15) == 0


@pytest.mark.parametrize(
    "ask",
    [
        lambda: reduced_time(700, -1, 0.15),
        lambda: reduced_time(700, float("nan"), 0.15),
        lambda: reduced_time(700, 25, 0),
        lambda: reduced_time(700, 25, 0.15, surface_tension_n_m=0),
        lambda: temperature_needed_c(0, 0.15),
        lambda: temperature_needed_c(25, 0.15, 0),
        lambda: reduced_time_over([(0, 20)], 0.15),
        lambda: reduced_time_over([(0, 20), (5, float("nan"))], 0.15),
        lambda: reduced_time_over([(5, 20), (0, 700)], 0.15),
        lambda: CONTAINER.temperature_c(-3),
    ],
)
def test_what_cannot_be_fired_is_answered_with_a_sentence(ask) -> None:
    with pytest.raises(PhysicsError) as refused:
        ask()
    assert refused.value.sentence.endswith(".")
