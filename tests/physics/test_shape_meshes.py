"""The closed forms against solids cut from meshes (trimesh and manifold3d)."""

from math import cos, pi, sin

import manifold3d
import numpy as np
import pytest
import trimesh

from tests.physics.builders import fair_bead

ROUND = 720  # sides of a circle: its area is short by 1.3e-5


def _rod(diameter_mm: float, length_mm: float) -> manifold3d.Manifold:
    """A long rod along y, as the bore runs in the flat shapes."""
    rod = manifold3d.Manifold.cylinder(length_mm, diameter_mm / 2, -1, ROUND, True)
    return rod.rotate((90, 0, 0))


def _slab(outline: list[tuple[float, float]], thickness_mm: float) -> manifold3d.Manifold:
    section = manifold3d.CrossSection([np.array(outline, dtype=float)])
    return section.extrude(thickness_mm).translate((0, 0, -thickness_mm / 2))


def _ring_of_points(count: int, radii: tuple[float, ...]) -> list[tuple[float, float]]:
    """Corners counter-clockwise, the first straight up."""
    corners = ((radii[i % len(radii)], 2 * pi * i / count) for i in range(count))
    return [(-radius * sin(angle), radius * cos(angle)) for radius, angle in corners]


@pytest.mark.parametrize("points", [3, 4, 5, 6, 7, 12])
@pytest.mark.parametrize("bore_mm", [1.0, 3.5])
def test_a_star_bored_from_tip_to_foot(points: int, bore_mm: float) -> None:
    bead = fair_bead("star", points=points, bore_mm=bore_mm)
    star = _slab(_ring_of_points(2 * points, (10.0, 4.0)), 4.0)
    assert bead.volume_mm3() == pytest.approx((star - _rod(bore_mm, 30)).volume(), rel=2e-5)
    low, high = star.bounding_box()[1], star.bounding_box()[4]
    assert bead.length_on_cord_mm() == pytest.approx(high - low, rel=1e-6)
    left, right = star.bounding_box()[0], star.bounding_box()[3]
    assert bead.across_mm() == pytest.approx(right - left, rel=1e-6)


def test_a_cross_bored_along_its_height() -> None:
    upright = _slab([(-2.5, -10), (2.5, -10), (2.5, 10), (-2.5, 10)], 4.0)
    across = _slab([(-7, -2.5), (7, -2.5), (7, 2.5), (-7, 2.5)], 4.0)
    cross = (upright + across) - _rod(2, 40)
    assert fair_bead("cross").volume_mm3() == pytest.approx(cross.volume(), rel=2e-5)


def test_a_fish_bored_from_nose_to_tail() -> None:
    body = _slab([(4.5 * x / 10, 9 * y / 10) for x, y in _ring_of_points(ROUND, (10.0,))], 4.0)
    tail = _slab([(-4, -15), (4, -15), (0, -9)], 4.0)
    bored = (body - _rod(2, 60)).volume() + (tail - _rod(2, 60)).volume()
    assert fair_bead("fish").volume_mm3() == pytest.approx(bored, rel=5e-5)


def test_a_coin_bored_along_a_diameter() -> None:
    coin = _slab(_ring_of_points(ROUND, (10.0,)), 5.0)
    for bore_mm in (1.0, 2.0, 4.5):
        bead = fair_bead("coin", bore_mm=bore_mm)
        assert bead.volume_mm3() == pytest.approx((coin - _rod(bore_mm, 30)).volume(), rel=2e-5)


TURNED = 240  # sides of a turned solid: its volume is short by 1.1e-4, sin(x)/x of 2 pi/240


def _turned(outline: list[tuple[float, float]]) -> trimesh.Trimesh:
    """The solid of an outline (r, z) turned about the bore, z upward."""
    return trimesh.creation.revolve(np.array(outline), sections=TURNED)


def _bored(solid: trimesh.Trimesh, bore_mm: float) -> float:
    drill = trimesh.creation.cylinder(bore_mm / 2, 100, sections=TURNED)
    return trimesh.boolean.difference([solid, drill], engine="manifold").volume


def test_a_bored_sphere() -> None:
    arc = [(5 * sin(pi * i / 180), -5 * cos(pi * i / 180)) for i in range(181)]
    arc[0], arc[-1] = (0.0, -5.0), (0.0, 5.0)
    assert fair_bead("round").volume_mm3() == pytest.approx(_bored(_turned(arc), 2), rel=3e-4)


def test_a_bored_bicone_with_its_tips_cut() -> None:
    solid = _turned([(0, -7), (2, -7), (6, 0), (2, 7), (0, 7)])
    assert fair_bead("bicone").volume_mm3() == pytest.approx(_bored(solid, 3), rel=3e-4)


def test_a_bored_sharp_bicone() -> None:
    solid = _turned([(0, -10), (6, 0), (0, 10)])
    assert fair_bead("sharp_bicone").volume_mm3() == pytest.approx(_bored(solid, 3), rel=3e-4)


def test_a_bored_barrel() -> None:
    side = [(6 - 2 * (z / 7.5) ** 2, z) for z in np.linspace(-7.5, 7.5, 101)]
    solid = _turned([(0, -7.5), *side, (0, 7.5)])
    assert fair_bead("barrel").volume_mm3() == pytest.approx(_bored(solid, 3), rel=3e-4)


def test_a_bored_cube() -> None:
    assert fair_bead("cube").volume_mm3() == pytest.approx(
        _bored(trimesh.creation.box((8, 8, 8)), 2), rel=3e-4
    )


def test_a_ring_of_round_section() -> None:
    torus = trimesh.creation.torus(4, 2, major_sections=TURNED, minor_sections=TURNED)
    assert fair_bead("ring").volume_mm3() == pytest.approx(torus.volume, rel=3e-4)
