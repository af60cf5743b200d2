"""Facts of the trade that have no source but common practice, and the bottles themselves."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.physics.annealing import DESIGN_STRESS_MPA
from workshop.physics.bottles import (
    BOTTLES,
    bottle_mass_from_weighing_g,
    bottles_to_collect,
)
from workshop.physics.expansion import CAUTION_UP_TO, FINE_UP_TO
from workshop.physics.practice import (
    FIRING_WINDOWS,
    polishing_advice,
    programme_advice,
    programme_warning,
)
from workshop.physics.sentences import PhysicsError
from workshop.physics.viscosity import CONTAINER, PIERCING_LOG_VISCOSITY


def test_powder_and_chunk_beads_are_fired_as_commonly_practised() -> None:
    """Common practice, no source."""
    powder, fused = FIRING_WINDOWS["powder"], FIRING_WINDOWS["fused"]
    assert (powder.from_min, powder.to_min, powder.from_c, powder.to_c) == (20, 35, 600, 800)
    assert (fused.from_min, fused.to_min, fused.from_c, fused.to_c) == (30, 45, 800, 1000)
    assert set(FIRING_WINDOWS) == {
        "powder", "fused", "remade", "painted", "enamel", "centrepiece",
    }  # fmt: skip


def test_the_other_rules_of_thumb_are_those_of_the_bench() -> None:
    """Common practice, no source: 2 MPa, differences of 2 and 5, piercing at 1e4 to 1e6 Pa.s."""
    assert DESIGN_STRESS_MPA == 2
    assert (FINE_UP_TO, CAUTION_UP_TO) == (2, 5)
    soft, stiff = (CONTAINER.temperature_c(level) for level in PIERCING_LOG_VISCOSITY)
    assert (round(stiff), round(soft)) == (763, 913)


@pytest.mark.parametrize("kind", FIRING_WINDOWS)
def test_a_programme_within_its_window_is_usual_up_to_its_edges(kind: str) -> None:
    window = FIRING_WINDOWS[kind]
    for hold_c in (window.from_c, window.to_c):
        for hold_min in (window.from_min, window.to_min):
            assert programme_warning(kind, hold_c, hold_min) is None
            assert programme_advice(kind, hold_c, hold_min).verdict == "usual"


@pytest.mark.parametrize(
    ("kind", "hold_c", "hold_min"),
    [
        ("powder", 599, 25),
        ("powder", 801, 25),
        ("powder", 700, 19),
        ("powder", 700, 36),
        ("fused", 799, 40),
        ("fused", 900, 46),
        ("painted", 900, 25),
    ],
)
def test_a_programme_outside_its_window_is_warned_about_and_not_refused(
    kind: str, hold_c: float, hold_min: float
) -> None:
    warning = programme_warning(kind, hold_c, hold_min)
    assert warning is not None
    assert warning.endswith("Keep it if it is meant.")
    advice = programme_advice(kind, hold_c, hold_min)
    assert (advice.in_range, advice.source) == (False, "common practice, no source")


def test_polishing_a_batch_commonly_takes_ten_to_fifteen_minutes() -> None:
    """Common practice, no source."""
    assert [polishing_advice(m).in_range for m in (9, 10, 15, 16)] == [False, True, True, False]


@pytest.mark.parametrize(
    "ask",
    [
        lambda: programme_advice("clay", 700, 25),
        lambda: programme_advice("powder", None, 25),
        lambda: programme_advice("powder", 700, float("nan")),
        lambda: polishing_advice("long"),
        lambda: bottles_to_collect(-1, 500),
        lambda: bottles_to_collect(float("nan"), 500),
        lambda: bottles_to_collect(1, 0),
        lambda: bottles_to_collect(1, 500, clean_yield=0),
        lambda: bottles_to_collect(1, 500, screen_yield=1.1),
        lambda: bottle_mass_from_weighing_g([]),
        lambda: bottle_mass_from_weighing_g([500, 0]),
    ],
)
def test_what_is_no_programme_or_bottle_is_answered_with_a_sentence(ask) -> None:
    with pytest.raises(PhysicsError) as refused:
        ask()
    assert refused.value.sentence.endswith(".")


@given(
    st.decimals(0, 1000, places=3),
    st.decimals(1, 2000, places=1),
    st.decimals("0.05", 1, places=2),
    st.decimals("0.05", 1, places=2),
)
def test_the_bottles_collected_suffice_and_one_fewer_would_not(need, bottle, clean, screen) -> None:
    count = bottles_to_collect(need, bottle, clean_yield=clean, screen_yield=screen)
    one = Fraction(bottle) * Fraction(clean) * Fraction(screen) / 1000
    assert count * one >= Fraction(need)
    assert (count - 1) * one < Fraction(need) or count == 0


def test_a_share_written_as_a_float_is_taken_as_it_prints() -> None:
    """1 kg from 100 g bottles at 0.1: 100 bottles, though 0.1 is no binary fraction."""
    assert bottles_to_collect(1, 100, clean_yield=0.1, screen_yield=1) == 100


def test_every_bottle_names_its_source() -> None:
    for key, bottle in BOTTLES.items():
        assert bottle.key == key
        assert 100 < bottle.mass_g < 600
        assert bottle.source


def test_beads_are_pierced_where_the_glass_is_soft_enough():
    """Common practice, no source: at 10⁶ to 10⁴ Pa.s, for bottle glass 763 to 913 °C."""
    assert [round(CONTAINER.temperature_c(level)) for level in (6, 4)] == [763, 913]
