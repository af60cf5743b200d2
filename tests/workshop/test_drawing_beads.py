"""Beads are drawn as big as they are; outlines are measured with fontTools, not our own code."""

from math import pi, sin, sqrt
from xml.etree import ElementTree

import pytest
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path

from workshop.drawing import Glass, bead_svg, drawn_bead, spacer
from workshop.drawing.colours import contrast, luminance, mix
from workshop.drawing.look import DrawnBead
from workshop.physics.shapes import bead_shape

GREEN, CLEAR = Glass("#2f6b4a"), Glass("#cfe3df")

SIZES = {
    "round": {"diameter_mm": 10, "bore_mm": 6},
    "tube": {"diameter_mm": 8, "length_mm": 12, "bore_mm": 2},
    "disc": {"diameter_mm": 12, "length_mm": 4, "bore_mm": 2},
    "coin": {"diameter_mm": 20, "thickness_mm": 5, "bore_mm": 2},
    "barrel": {"diameter_mm": 12, "end_diameter_mm": 8, "length_mm": 15, "bore_mm": 3},
    "bicone": {"diameter_mm": 12, "end_diameter_mm": 4, "length_mm": 14, "bore_mm": 3},
    "sharp_bicone": {"diameter_mm": 12, "length_mm": 20, "bore_mm": 3},
    "ellipsoid": {"diameter_mm": 10, "length_mm": 16, "bore_mm": 2},
    "oblate": {"diameter_mm": 14, "length_mm": 8, "bore_mm": 3},
    "ring": {"diameter_mm": 12, "bore_mm": 4},
    "cube": {"length_mm": 8, "bore_mm": 2},
    "star": {
        "diameter_mm": 20,
        "inner_diameter_mm": 8,
        "points": 5,
        "thickness_mm": 4,
        "bore_mm": 2,
    },
    "cross": {"width_mm": 14, "length_mm": 20, "arm_mm": 5, "thickness_mm": 4, "bore_mm": 2},
    "fish": {
        "body_length_mm": 18,
        "body_height_mm": 9,
        "tail_length_mm": 6,
        "tail_height_mm": 8,
        "thickness_mm": 4,
        "bore_mm": 2,
    },
}


def make_bead(kind="round", glass=(GREEN,), pattern="plain", finish="powder", **sizes) -> DrawnBead:
    shape = bead_shape(kind, **(sizes or SIZES[kind]))
    return drawn_bead(shape, list(glass), pattern=pattern, finish=finish)


def measure(path: str) -> tuple[float, float, float]:
    """Length, height and area of a drawn outline, mm and mm²."""
    bounds, area = BoundsPen(None), AreaPen()
    parse_path(path, bounds)
    parse_path(path, area)
    left, top, right, foot = bounds.bounds
    return right - left, foot - top, abs(area.value)


@pytest.mark.parametrize("kind", SIZES)
def test_every_shape_is_drawn_as_long_and_as_high_as_the_bead_is(kind):
    shape = bead_shape(kind, **SIZES[kind])
    bead = make_bead(kind)
    length, height, _ = measure(bead.outline.path)
    assert length == pytest.approx(shape.length_on_cord_mm(), abs=0.02)
    assert bead.length_mm == pytest.approx(shape.length_on_cord_mm(), abs=1e-9)
    assert height == pytest.approx(bead.across_mm, abs=0.02)


def test_a_bored_round_bead_is_shorter_than_its_diameter():
    # Pythagoras: sqrt(10² - 6²) = 8
    length, height, _ = measure(make_bead("round", diameter_mm=10, bore_mm=6).outline.path)
    assert (round(length, 2), round(height, 2)) == (8, 10)


@pytest.mark.parametrize(
    ("kind", "area_mm2"),
    [
        # Plane geometry, worked by hand from the sizes above.
        ("coin", pi * 10**2),  # a disc of radius 10
        ("barrel", 2 * (15 * 4 + 2 / 3 * 15 * 2)),  # a parabola's segment is 2/3 of its box
        ("bicone", 14 * (12 + 4) / 2),  # two trapezia
        ("star", 5 * 10 * 4 * sin(pi / 5)),  # ten triangles from the middle
        ("cross", 5 * (14 + 20 - 5)),  # two bars less their crossing
        ("fish", pi * 18 * 9 / 4 + 6 * 8 / 2),  # an ellipse and a triangle
    ],
)
def test_a_drawn_outline_encloses_what_plane_geometry_says(kind, area_mm2):
    _, _, area = measure(make_bead(kind).outline.path)
    assert area == pytest.approx(area_mm2, rel=1e-3)


def test_a_bead_twice_as_wide_is_drawn_twice_as_wide():
    small = make_bead("round", diameter_mm=5, bore_mm=1)
    large = make_bead("round", diameter_mm=10, bore_mm=2)
    assert measure(large.outline.path)[0] == pytest.approx(
        2 * measure(small.outline.path)[0], abs=0.02
    )
    assert large.across_mm == 2 * small.across_mm


def test_pixels_are_millimetres_times_the_scale_asked_for():
    picture = ElementTree.fromstring(bead_svg(make_bead("cube"), px_per_mm=5))
    _, _, wide_mm, high_mm = (float(side) for side in picture.get("viewBox").split())
    assert float(picture.get("width")) == pytest.approx(5 * wide_mm, abs=0.05)
    assert float(picture.get("height")) == pytest.approx(5 * high_mm, abs=0.05)


@pytest.mark.parametrize("paper", [False, True])
@pytest.mark.parametrize("finish", ["powder", "fused", "remade", "painted", "centrepiece"])
@pytest.mark.parametrize("pattern", ["plain", "layers", "stripes", "mixed"])
def test_every_finish_and_pattern_is_sound_svg_without_a_style(finish, pattern, paper):
    for kind in SIZES:
        for glass in ([GREEN], [GREEN, CLEAR, Glass("#a9391f")]):
            bead = make_bead(kind, glass, pattern, finish)
            picture = bead_svg(bead, title="A & B <bead>", prefix="x", paper=paper)
            root = ElementTree.fromstring(picture)
            assert not [node for node in root.iter() if "style" in node.attrib]
            assert not [node for node in root.iter() if node.tag.endswith(("style", "script"))]
            assert len(list(root.iter())) <= 60


def test_references_inside_a_drawing_lead_somewhere():
    for finish in ("powder", "fused", "remade", "painted", "centrepiece"):
        picture = bead_svg(make_bead("barrel", [GREEN, CLEAR], "stripes", finish), prefix="x")
        root = ElementTree.fromstring(picture)
        named = {node.get("id") for node in root.iter()}
        for node in root.iter():
            for value in node.attrib.values():
                if value.startswith("url(#"):
                    assert value[5:-1] in named


def test_words_are_escaped_and_the_title_is_said():
    picture = bead_svg(make_bead(), title='<script>"&')
    assert "<script>" not in picture
    assert ElementTree.fromstring(picture).get("aria-label") == '<script>"&'


def test_a_drawing_without_a_title_is_hidden_from_a_listener():
    assert ElementTree.fromstring(bead_svg(make_bead())).get("aria-hidden") == "true"


def test_what_is_no_colour_never_reaches_the_page():
    picture = bead_svg(make_bead(glass=[Glass('red" onload="x')]))
    assert "onload" not in picture


def test_a_bead_without_colours_is_still_drawn():
    ElementTree.fromstring(bead_svg(make_bead(glass=[])))


def test_shares_of_nothing_are_drawn_as_equal_parts():
    bead = make_bead("tube", [Glass("#111111", 0), Glass("#eeeeee", 0)], "layers")
    root = ElementTree.fromstring(bead_svg(bead))
    widths = [float(node.get("width")) for node in root.iter() if node.tag.endswith("rect")]
    assert widths[0] == widths[1] > 0


def test_bands_are_as_long_as_their_shares():
    bead = make_bead("tube", [Glass("#111111", 0.75), Glass("#eeeeee", 0.25)], "layers")
    root = ElementTree.fromstring(bead_svg(bead))
    # 12 mm long: 9 mm and 3 mm, each 0.05 mm longer so that no light shows between
    widths = [float(node.get("width")) for node in root.iter() if node.tag.endswith("rect")]
    assert widths == [pytest.approx(9.05), pytest.approx(3.05)]


def test_a_shape_nobody_drew_is_named():
    with pytest.raises(ValueError, match="spiral"):
        _ = DrawnBead("spiral", {}).outline


def test_equal_beads_share_a_name_and_different_ones_do_not():
    assert make_bead("cube").mark == make_bead("cube").mark
    assert make_bead("cube").mark != make_bead("cube", finish="fused").mark


def test_a_spacer_without_a_size_can_still_be_seen():
    assert spacer(0, 0).length_mm > 0


def test_contrast_of_black_on_white_and_of_a_middle_grey():
    # WCAG 2.2: black on white is 21:1. #767676 on white is the lightest grey that passes 4.5:1,
    # at 4.54 (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert luminance("#ffffff") == pytest.approx(1)
    assert mix("#000000", "#ffffff", 0.25) == "#404040"


def test_half_of_a_circle_lies_above_the_cord():
    # sqrt(r² - x²) at x = r / 2 is r · sqrt(3) / 2; the drawn curve must pass through it.
    bounds = BoundsPen(None)
    path = make_bead("round", diameter_mm=20, bore_mm=0.001).outline.path
    parse_path(path, bounds)
    assert max(abs(side) for side in bounds.bounds) == pytest.approx(10, abs=0.01)
    _, _, area = measure(path)
    assert sqrt(area / pi) == pytest.approx(10, rel=1e-3)
