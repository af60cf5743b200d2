"""How far colours lie apart, against the published data set and the standard's own white."""

import csv
from pathlib import Path

import pytest

from workshop.physics.colour import (
    Lab,
    apart,
    balanced,
    curved,
    lab_of,
    length_beside,
    linear,
    middle,
    rgb_of,
    spread,
    text_of,
)

# G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations", Color Research & Application 30 (2005),
# 21-30, table 1: 34 pairs, to four places. Taken as they stand in the tests of the registry
# package colour-science 0.4.7, whose own formula gives the same 34 figures.
PAIRS = Path(__file__).with_name("ciede2000_pairs.csv")


def pairs() -> list[tuple[Lab, Lab, float]]:
    with PAIRS.open(encoding="utf-8") as file:
        rows = [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]
    return [
        (Lab(r["l1"], r["a1"], r["b1"]), Lab(r["l2"], r["a2"], r["b2"]), r["apart"]) for r in rows
    ]


def test_the_published_pairs_lie_as_far_apart_as_published():
    found = pairs()
    assert len(found) == 34
    for one, other, published in found:
        assert apart(one, other) == pytest.approx(published, abs=5e-5), (one, other)
        assert apart(other, one) == pytest.approx(published, abs=5e-5), "either way round"


@pytest.mark.parametrize(
    ("text", "lab"),
    [
        # By colour-science 0.4.7, sRGB to CIELAB under D65 (matrices of IEC 61966-2-1).
        ("#ff0000", (53.23, 80.11, 67.22)),
        ("#00ff00", (87.74, -86.18, 83.19)),
        ("#0000ff", (32.30, 79.20, -107.85)),
        ("#2f6b4a", (40.60, -27.92, 12.73)),
        ("#808080", (53.59, 0.00, 0.00)),
    ],
)
def test_a_colour_of_a_screen_has_its_place_in_cielab(text, lab):
    found = lab_of(rgb_of(text))
    assert (found.light, found.a, found.b) == pytest.approx(lab, abs=0.01)


def test_the_curve_of_a_channel_leads_there_and_back():
    for step in range(256):
        assert 255 * curved(linear(step / 255)) == pytest.approx(step, abs=1e-4)


def test_a_white_takes_the_lamp_and_the_exposure_out():
    glass, lamp = rgb_of("#2f6b4a"), (0.9, 0.62, 0.35)  # a warm lamp: so much of each channel
    paper = tuple(255 * curved(0.85 * part) for part in lamp)
    seen = tuple(
        255 * curved(linear(each / 255) * part) for each, part in zip(glass, lamp, strict=True)
    )
    assert apart(lab_of(seen), lab_of(glass)) > 8
    assert text_of(balanced(seen, paper)) == "#2f6b4a"
    with pytest.raises(ValueError, match="too dark"):
        balanced(seen, (200, 150, 20))


def test_a_glint_does_not_move_the_middle_of_a_spot():
    spot = [(47.0, 107.0, 74.0)] * 60 + [(255.0, 255.0, 255.0)] * 40
    assert middle(spot) == (47.0, 107.0, 74.0)
    assert spread(spot) == 0


def test_a_bead_beside_a_coin_is_as_large_as_the_rule_of_three_says():
    # 250 points beside a coin of 24 mm on 500: 24 × 250 ÷ 500 = 12 mm. The doubt, by hand:
    # √2 · 3 ÷ 250 = 0.01697 and √2 · 3 ÷ 500 = 0.00849; √(0.01697² + 0.00849²) × 12 = 0.228.
    size, doubt = length_beside(250, 500, 24, slip=3)
    assert (size, round(doubt, 3)) == (12, 0.228)
    for nothing in ((0, 500, 24), (250, 0, 24), (250, 500, 0)):
        with pytest.raises(ValueError, match="nothing was measured"):
            length_beside(*nothing, slip=3)
