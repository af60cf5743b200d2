"""The working opens the whole lengths beside the one asked for: those there are, and no others."""

import pytest

from orders.costing.facts import PartFacts
from orders.costing.strand_figures import StrandFigures
from tests.costing.builders import D, make_bead, make_design, make_workshop

TWO = (PartFacts("pea", repeat=True), PartFacts("plum", repeat=True))
SINGLY = {"nearest": True, "whole_repeats": False}


@pytest.mark.parametrize(
    ("changes", "lengths"),
    [
        # Peas of 10 mm: 19.5 fit into 195 mm.
        ({"finished_mm": D(195)}, [190, 200]),
        ({"finished_mm": D(200)}, [200, 200]),
        # None fits into 8 mm, one is 10 mm long.
        ({"finished_mm": D(8), "made_to_length": True}, [10]),
        # Pea and plum are 25 mm: whole repeats 175 and 200; a pea more than 175 is 185.
        ({"finished_mm": D(190), "parts": TWO}, [175, 200]),
        ({"finished_mm": D(190), "parts": TWO} | SINGLY, [185, 200]),
        ({"finished_mm": D(8), "parts": TWO} | SINGLY, [10]),
    ],
)
def test_whole_lengths_below_and_above_are_opened_as_far_as_there_are_any(changes, lengths):
    workshop = make_workshop(
        beads={"pea": make_bead(), "plum": make_bead("plum", length_mm=D(15))},
        designs={"bracelet": make_design(**changes)},
    )
    found = StrandFigures(workshop, "bracelet").nearest()
    assert [figure.value for figure in found] == lengths
    layout = StrandFigures(workshop, "bracelet").layout
    told = [each for each in (layout.shorter_mm, layout.longer_mm) if each is not None]
    assert told == lengths
