"""Strands are drawn to one scale, and honestly where they are too long to be drawn whole."""

from itertools import pairwise
from math import hypot
from xml.etree import ElementTree

import pytest

from tests.workshop.test_drawing_beads import CLEAR, GREEN, make_bead
from workshop.drawing import DrawnStrand, Glass, hanging_svg, spacer, strand_svg
from workshop.drawing.strands import LEAST_BEAD_PX, MOST_BEADS

SMALL = make_bead("round", diameter_mm=5, bore_mm=1)
LARGE = make_bead("round", [CLEAR], diameter_mm=10, bore_mm=2)
CENTRE = make_bead(
    "barrel", finish="centrepiece", diameter_mm=22, end_diameter_mm=12, length_mm=24, bore_mm=3
)
DISC = make_bead("disc", diameter_mm=4.5, length_mm=2.5, bore_mm=1)


def read(picture: str):
    root = ElementTree.fromstring(picture)
    uses = [node for node in root.iter() if node.tag.endswith("use")]
    _, _, wide_mm, _high_mm = (float(side) for side in root.get("viewBox").split())
    return root, uses, wide_mm, float(root.get("width")) / wide_mm


def test_a_strand_is_as_long_as_its_beads_and_gaps():
    cube = make_bead("cube")  # 8 mm
    strand = DrawnStrand((cube,) * 5, gap_mm=2)
    assert strand.beaded_mm == 5 * 8 + 4 * 2
    assert strand.middles_mm() == [4, 14, 24, 34, 44]


def test_beads_lie_where_their_lengths_put_them():
    strand = DrawnStrand((make_bead("cube"), make_bead("tube"), make_bead("cube")), gap_mm=1)
    _, uses, _, _ = read(strand_svg(strand, width=400))
    at = [float(use.get("x")) for use in uses]
    # half a cube, the gap, half a tube: 4 + 1 + 6 mm between middles
    assert at[1] - at[0] == pytest.approx(11)
    assert at[2] - at[1] == pytest.approx(11)


def test_one_scale_holds_for_the_whole_drawing():
    root, _, _wide_mm, scale = read(strand_svg(DrawnStrand((SMALL, LARGE) * 4), width=320))
    high_mm = float(root.get("viewBox").split()[3])
    assert float(root.get("height")) == pytest.approx(high_mm * scale, abs=0.05)
    assert float(root.get("width")) <= 320


def test_a_short_strand_is_not_blown_up():
    _, _, _, scale = read(strand_svg(DrawnStrand((SMALL,)), width=900))
    assert scale <= 4.01


def test_a_strand_that_fits_shows_every_bead():
    _, uses, _, _ = read(strand_svg(DrawnStrand((LARGE,) * 18), width=320))
    assert len(uses) == 18


def test_a_long_strand_is_broken_rather_than_squeezed():
    strand = DrawnStrand((DISC,) * 400)
    root, uses, _, scale = read(strand_svg(strand, width=320))
    assert len(uses) < 400
    assert [node for node in root.iter() if node.get("class") == "sd-break"]
    assert scale * DISC.across_mm >= min(LEAST_BEAD_PX, 1.8 * DISC.across_mm) - 0.01


def test_the_centre_of_a_long_necklace_is_always_seen():
    side = (make_bead("tube"), LARGE) * 60
    _, uses, _, _ = read(strand_svg(DrawnStrand((*side, CENTRE, *side)), width=320))
    assert sum(use.get("href").endswith(CENTRE.mark) for use in uses) == 1


def test_a_thousand_beads_cost_no_more_than_a_page_can_bear():
    strand = DrawnStrand((SMALL, DISC, LARGE) * 400, gap_mm=0.5, knotted=True)
    picture = strand_svg(strand, width=1000)
    root, uses, _, _ = read(picture)
    assert len(uses) <= MOST_BEADS
    assert len(list(root.iter())) < MOST_BEADS + 80
    assert len(picture) < 20_000


def test_every_bead_used_is_defined_once():
    root, uses, _, _ = read(strand_svg(DrawnStrand((SMALL, LARGE) * 6), prefix="p7"))
    names = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(names) == len(set(names))
    assert all(name.startswith("p7-") for name in names)
    assert {use.get("href")[1:] for use in uses} <= set(names)


def test_a_clasp_or_a_knot_closes_the_strand():
    for ends, mark in (("clasp", "sd-metal"), ("knot", "sd-cord-end")):
        strand = DrawnStrand((LARGE,) * 4, ends=ends)
        for picture in (strand_svg(strand), hanging_svg(strand)):
            root, *_ = read(picture)
            assert sum(node.get("class") == mark for node in root.iter()) == 2


def test_there_is_a_knot_in_every_gap_of_a_knotted_strand():
    strand = DrawnStrand((LARGE,) * 6, gap_mm=1.5, knotted=True, ends="bare")
    root, *_ = read(strand_svg(strand))
    knots = next(node for node in root.iter() if node.get("class") == "sd-cord-end")
    assert knots.get("d").count("M") == 5


def test_an_empty_strand_is_a_bare_cord():
    ElementTree.fromstring(strand_svg(DrawnStrand(()), title="nothing laid yet"))


def test_paper_has_no_soft_gradients():
    strand = DrawnStrand((SMALL, LARGE, make_bead(finish="fused"), spacer(2, 4)))
    assert "Gradient" in strand_svg(strand)
    assert "Gradient" not in strand_svg(strand, paper=True)


def test_a_hanging_strand_shows_all_its_beads_along_a_cord_of_its_length():
    strand = DrawnStrand((LARGE,) * 40, gap_mm=1)
    _root, uses, _, _ = read(hanging_svg(strand, width=640))
    assert len(uses) == 40
    places = []
    for use in uses:
        inside = use.get("transform").split("(")[1].split(")")[0]
        places.append(tuple(float(number) for number in inside.split()))
    steps = [hypot(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(places)]
    # Neighbours stay one bead and one gap apart, however the cord bends (chord against arc: 1 %).
    pitch = LARGE.length_mm + 1
    assert all(step == pytest.approx(pitch, rel=0.015) for step in steps)


def test_what_is_typed_as_a_name_cannot_break_the_page():
    picture = strand_svg(DrawnStrand((make_bead(glass=[GREEN, Glass("#fff")]),)), title="</svg><b>")
    root, *_ = read(picture)
    assert root.get("aria-label") == "</svg><b>"
