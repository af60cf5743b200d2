"""A bead's glass, its length on the cord, and what leaves no glass."""

from dataclasses import FrozenInstanceError
from decimal import Decimal
from math import cos, pi, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from tests.physics.builders import (
    AROUND_THE_BORE,
    FAIR_BEADS,
    HEIGHT_AT,
    any_bead,
    any_sizes,
    fair_bead,
)
from workshop.physics.flat_shapes import bore_through_ellipse_mm3, bore_through_polygon_mm3
from workshop.physics.shapes import (
    SHAPE_CLASSES,
    SHAPE_FIELDS,
    SHAPE_WORDS,
    ShapeError,
    bead_shape,
)


@pytest.mark.parametrize("kind", HEIGHT_AT)
def test_a_turned_bead_is_the_sum_of_its_shells(kind: str) -> None:
    for bore_share in (0, 0.2, 0.8):
        narrowest = min(FAIR_BEADS[kind][name] for name in AROUND_THE_BORE[kind])
        bead = fair_bead(kind, bore_mm=bore_share * narrowest)
        bend = getattr(bead, "end_diameter_mm", bead.diameter_mm) / 2
        shells, _ = quad(
            lambda r, bead=bead: 2 * pi * r * HEIGHT_AT[kind](bead, r),
            bead.bore_mm / 2,
            bead.diameter_mm / 2,
            points=[bend] if bead.bore_mm / 2 < bend < bead.diameter_mm / 2 else None,
            epsrel=1e-11,
            limit=200,
        )
        assert bead.volume_mm3() == pytest.approx(shells, rel=1e-8)


@pytest.mark.parametrize("share", [1e-6, 0.01, 0.019999, 0.02, 0.3, 0.7, 0.99, 1.0])
def test_a_bore_along_a_coin_takes_its_chords(share: float) -> None:
    """Against the double integral of the chord over the round of the bore."""
    bore_mm = 20 * share
    chords, _ = dblquad(
        lambda angle, rho: rho * bore_mm**2 / 4 * 20 * sqrt(1 - (share * rho * sin(angle)) ** 2),
        0,
        1,
        0,
        2 * pi,
        epsrel=1e-11,
    )
    assert bore_through_ellipse_mm3(20, 20, bore_mm) == pytest.approx(chords, rel=1e-9)


def test_a_narrow_bore_through_a_coin_follows_the_printed_series() -> None:
    """(pi d² D/4)(1 - x/8 - x²/64 - 5x³/1024), x = (d/D)²: expansion of the elliptic integrals."""
    x = 0.1**2
    series = pi * 4 * 20 / 4 * (1 - x / 8 - x**2 / 64 - 5 * x**3 / 1024)
    assert bore_through_ellipse_mm3(20, 20, 2) == pytest.approx(series, rel=1e-9)


def test_a_bore_from_tip_to_tip_of_a_square_takes_its_shortening_chords() -> None:
    """A diamond with half-diagonal 10: chord 2 (10 - |x|), mean of |x| over the bore 4r/(3 pi)."""
    diamond = [(0.0, 10.0), (10.0, 0.0), (0.0, -10.0), (-10.0, 0.0)]
    by_hand = pi * 3**2 * 2 * (10 - 4 * 3 / (3 * pi))
    assert bore_through_polygon_mm3(diamond, 6) == pytest.approx(by_hand, rel=1e-12)


def test_a_round_bead_is_shorter_on_the_cord_than_across() -> None:
    assert fair_bead("round").length_on_cord_mm() == pytest.approx(sqrt(10**2 - 2**2))
    assert fair_bead("round").across_mm() == 10


@pytest.mark.parametrize(
    ("kind", "length_mm", "across_mm"),
    [
        ("tube", 12, 8),
        ("disc", 4, 12),
        ("coin", 20, 20),
        ("barrel", 15, 12),
        ("bicone", 14, 12),
        ("sharp_bicone", 20 * (1 - 3 / 12), 12),
        ("ellipsoid", 16 * sqrt(1 - 0.2**2), 10),
        ("oblate", 8, 14),
        ("ring", 4, 12),
        ("cube", 8, 8),
        # Tip up, two tips down at 36° from straight down; widest at 72° from up.
        ("star", 10 + 10 * cos(pi / 5), 2 * 10 * sin(2 * pi / 5)),
        ("cross", 20, 14),
        ("fish", 24, 9),
    ],
)
def test_what_a_bead_takes_of_the_cord_and_across_it(
    kind: str, length_mm: float, across_mm: float
) -> None:
    bead = fair_bead(kind)
    assert bead.length_on_cord_mm() == pytest.approx(length_mm)
    assert bead.across_mm() == pytest.approx(across_mm)


def test_an_even_star_lies_tip_to_tip_along_the_cord() -> None:
    assert fair_bead("star", points=6).length_on_cord_mm() == pytest.approx(20)


def test_a_star_of_many_points_nears_the_ring_between_its_circles() -> None:
    """Area n R r sin(pi/n) -> pi R r."""
    star = fair_bead("star", points=60, bore_mm=0)
    assert star.volume_mm3() == pytest.approx(pi * 10 * 4 * 4, rel=1e-3)


def test_a_barrel_or_bicone_as_wide_at_the_ends_is_a_tube() -> None:
    tube = fair_bead("tube", diameter_mm=12, length_mm=15, bore_mm=3)
    for kind in ("barrel", "bicone"):
        bead = fair_bead(kind, diameter_mm=12, end_diameter_mm=12, length_mm=15, bore_mm=3)
        assert bead.volume_mm3() == pytest.approx(tube.volume_mm3())


def test_an_ellipsoid_as_long_as_wide_is_round() -> None:
    assert fair_bead("ellipsoid", length_mm=10).volume_mm3() == pytest.approx(
        fair_bead("round").volume_mm3()
    )


def test_a_round_bead_ground_no_further_than_its_bore_is_still_round() -> None:
    bead = fair_bead("oblate", diameter_mm=10, bore_mm=2, length_mm=sqrt(96))
    assert bead.volume_mm3() == pytest.approx(fair_bead("round").volume_mm3())


@given(any_bead())
def test_every_bead_holds_glass_and_takes_cord(bead) -> None:
    assert bead.volume_mm3() > 0
    assert bead.length_on_cord_mm() > 0
    assert bead.across_mm() > 0


@given(any_bead())
def test_a_bead_fits_in_the_box_around_it(bead) -> None:
    box_mm3 = bead.length_on_cord_mm() * bead.across_mm() ** 2
    assert bead.volume_mm3() <= box_mm3 * (1 + 1e-9)


@given(any_sizes(), st.floats(0, 1))
def test_a_narrower_bore_leaves_more_glass(drawn, share: float) -> None:
    kind, sizes = drawn
    if kind == "ring":  # its hole makes its section
        return
    narrower = bead_shape(kind, **{**sizes, "bore_mm": sizes["bore_mm"] * share})
    bead = bead_shape(kind, **sizes)
    assert narrower.volume_mm3() >= bead.volume_mm3() * (1 - 1e-12)
    assert narrower.length_on_cord_mm() >= bead.length_on_cord_mm() * (1 - 1e-12)


@given(any_sizes(), st.floats(0.5, 2))
def test_a_bead_twice_as_large_holds_eight_times_the_glass(drawn, scale: float) -> None:
    kind, sizes = drawn
    grown = {name: value * (scale if name != "points" else 1) for name, value in sizes.items()}
    bead, larger = bead_shape(kind, **sizes), bead_shape(kind, **grown)
    assert larger.volume_mm3() == pytest.approx(scale**3 * bead.volume_mm3(), rel=1e-7)
    assert larger.length_on_cord_mm() == pytest.approx(scale * bead.length_on_cord_mm(), rel=1e-9)


@given(any_bead())
def test_no_bead_is_longer_on_the_cord_than_it_was_before_boring(bead) -> None:
    before = {"round": "diameter_mm", "coin": "diameter_mm"}.get(bead.kind, "length_mm")
    if hasattr(bead, before):
        assert bead.length_on_cord_mm() <= getattr(bead, before) * (1 + 1e-12)


@pytest.mark.parametrize("kind", FAIR_BEADS)
def test_a_bore_as_wide_as_the_bead_leaves_no_glass(kind: str) -> None:
    for name in AROUND_THE_BORE[kind]:
        with pytest.raises(ShapeError) as refused:
            fair_bead(kind, bore_mm=FAIR_BEADS[kind][name])
        assert refused.value.field == "bore_mm"
        assert "Make the bore narrower than" in refused.value.sentence


@pytest.mark.parametrize("kind", FAIR_BEADS)
@pytest.mark.parametrize("found", [0, -1, float("nan"), float("inf"), 501, "wide", True])
def test_a_size_that_is_no_size_is_named(kind: str, found: object) -> None:
    for name in SHAPE_FIELDS[kind]:
        if name == "bore_mm" and found == 0:
            assert fair_bead(kind, bore_mm=0).volume_mm3() > 0  # not pierced yet
            continue
        with pytest.raises(ShapeError) as refused:
            fair_bead(kind, **{name: found})
        assert refused.value.field == name
        assert str(refused.value).endswith(".")


def test_a_slip_of_the_unit_is_caught_and_shown_shortly() -> None:
    with pytest.raises(ShapeError, match="Check the unit") as refused:
        fair_bead("round", diameter_mm=1e300)
    assert len(str(refused.value)) < 120


@pytest.mark.parametrize(
    ("kind", "changed", "field"),
    [
        ("barrel", {"end_diameter_mm": 13}, "end_diameter_mm"),
        ("bicone", {"end_diameter_mm": 12.01}, "end_diameter_mm"),
        ("star", {"inner_diameter_mm": 20}, "inner_diameter_mm"),
        ("star", {"points": 2}, "points"),
        ("star", {"points": 5.5}, "points"),
        ("star", {"points": 61}, "points"),
        ("cross", {"arm_mm": 14}, "arm_mm"),
        ("oblate", {"length_mm": 13.7}, "length_mm"),  # sqrt(14² - 3²) = 13.675
    ],
)
def test_sizes_that_contradict_each_other_are_refused(
    kind: str, changed: dict[str, float], field: str
) -> None:
    with pytest.raises(ShapeError) as refused:
        fair_bead(kind, **changed)
    assert refused.value.field == field


def test_a_missing_size_is_asked_for_by_its_name() -> None:
    with pytest.raises(ShapeError) as refused:
        bead_shape("tube", diameter_mm=8, bore_mm=2)
    assert refused.value.field == "length_mm"
    assert "needs its length" in str(refused.value)


def test_a_size_the_shape_does_not_have_is_refused_unless_empty() -> None:
    assert bead_shape("round", diameter_mm=10, bore_mm=2, points=None) == fair_bead("round")
    with pytest.raises(ShapeError) as refused:
        bead_shape("round", diameter_mm=10, bore_mm=2, points=5)
    assert refused.value.field == "points"


def test_an_unknown_shape_is_answered_with_the_known_ones() -> None:
    with pytest.raises(ShapeError, match="sharp bicone") as refused:
        bead_shape("donut", diameter_mm=10, bore_mm=2)
    assert refused.value.field == "kind"


def test_decimals_and_whole_numbers_are_taken_as_they_are() -> None:
    assert fair_bead("round", diameter_mm=Decimal("10.0"), bore_mm=2) == fair_bead("round")
    assert hash(fair_bead("round")) == hash(fair_bead("round", bore_mm=2.0))


def test_a_bead_cannot_be_changed_once_shaped() -> None:
    with pytest.raises(FrozenInstanceError):
        fair_bead("round").bore_mm = 3


def test_every_kind_has_its_sizes_its_word_and_its_class() -> None:
    assert set(SHAPE_FIELDS) == set(SHAPE_CLASSES) == set(SHAPE_WORDS) == set(FAIR_BEADS)
    assert all("bore_mm" in names for names in SHAPE_FIELDS.values())
    for kind, sizes in FAIR_BEADS.items():
        assert fair_bead(kind).dimensions() == sizes
        assert fair_bead(kind).kind == kind
