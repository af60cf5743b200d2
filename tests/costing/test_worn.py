"""How a closed strand sits, against a ring of round beads laid one by one and published sums."""

from decimal import Decimal
from math import asin, pi

import pytest

from orders.costing.worn import EASE_MM, inside_mm, sits, strung_for


@pytest.mark.parametrize("across", [4, 6, 8, 10, 12])
@pytest.mark.parametrize("around", [140, 155, 170, 185])
def test_a_ring_of_touching_beads_is_as_long_as_the_sum_says(around, across):
    # n equal circles that touch each other and one circle of radius r stand on a regular polygon:
    # sin(π / n) = (d / 2) / (r + d / 2); the chain is n × d long (plane geometry).
    radius = around / (2 * pi)
    beads = pi / asin((across / 2) / (radius + across / 2))
    strung = strung_for("wrist", Decimal(around), Decimal(across)) - EASE_MM["wrist"]
    # A chain of beads cuts the corners of the circle: at most one part in a hundred shorter.
    assert beads * across == pytest.approx(float(strung), rel=0.01)
    assert beads * across < float(strung)


@pytest.mark.parametrize(
    ("around", "across", "ease", "expected"),
    [
        # A published guide to sizing bracelets: length = wrist + ease + thickness × 3.14, in inches
        # there; 6 3/8 in round, 1/4 in thick, 1/2 in of ease: 6.375 + 0.5 + 0.785 = 7.66 in.
        ("161.925", "6.35", "12.7", "194.564"),
        # A bead seller's rule of thumb adds three beads: 160 + 10 + 3 × 8 = 194, and π instead of
        # 3 makes 1.1 mm more.
        ("160", "8", "10", "195.133"),
    ],
)
def test_published_sums_of_bracelets_agree(around, across, ease, expected):
    strung = strung_for("wrist", Decimal(around), Decimal(across))
    strung += Decimal(ease) - EASE_MM["wrist"]
    assert float(strung) == pytest.approx(float(expected), abs=0.15)


def test_thick_beads_sit_tighter_on_the_same_length():
    # 180 mm of 4 mm beads leave 167.4 mm inside, of 12 mm beads 142.3 mm: 8 π = 25.1 mm less.
    thin, thick = (inside_mm(Decimal(180), Decimal(mm)) for mm in (4, 12))
    assert float(thin - thick) == pytest.approx(8 * pi, abs=1e-6)
    assert not sits(Decimal(180), Decimal(4), Decimal(155)).is_too_small
    tight = sits(Decimal(180), Decimal(12), Decimal(155))
    assert tight.is_too_small and float(tight.ease_mm) == pytest.approx(142.301 - 155, abs=0.001)


def test_a_strand_made_for_a_size_leaves_the_ease_of_its_place():
    for where, ease_mm in EASE_MM.items():
        strung = strung_for(where, Decimal(300), Decimal(9))
        assert round(sits(strung, Decimal(9), Decimal(300)).ease_mm, 6) == ease_mm
