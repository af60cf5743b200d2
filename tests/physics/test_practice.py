"""Facts of the trade that have no source but common practice, and the bottles themselves."""

import pytest

from workshop.physics.annealing import DESIGN_STRESS_MPA
from workshop.physics.bottles import (
    BOTTLES,
)
from workshop.physics.expansion import CAUTION_UP_TO, FINE_UP_TO
from workshop.physics.practice import (
    FIRING_WINDOWS,
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


@pytest.mark.parametrize(
    "ask",
    [
        lambda: programme_advice("clay", 700, 25),
        lambda: programme_advice("powder", None, 25),
        lambda: programme_advice("powder", 700, float("nan")),
    ],
)
def test_what_is_no_programme_is_answered_with_a_sentence(ask) -> None:
    with pytest.raises(PhysicsError) as refused:
        ask()
    assert refused.value.sentence.endswith(".")


def test_every_bottle_names_its_source() -> None:
    for key, bottle in BOTTLES.items():
        assert bottle.key == key
        assert 100 < bottle.mass_g < 600
        assert bottle.source


def test_beads_are_pierced_where_the_glass_is_soft_enough():
    """Common practice, no source: at 10⁶ to 10⁴ Pa.s, for bottle glass 763 to 913 °C."""
    assert [round(CONTAINER.temperature_c(level)) for level in (6, 4)] == [763, 913]
