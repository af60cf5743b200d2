"""Pictures are drawn afresh for every row of every list: how long one takes."""

from tests.workshop.test_drawing_beads import CLEAR, GREEN, make_bead
from workshop.drawing import DrawnStrand, LoadBar, TrayDots, kiln_week_svg, strand_svg


def test_drawing_a_bracelet(benchmark) -> None:
    stripes = make_bead("round", [GREEN, CLEAR], "stripes", diameter_mm=9, bore_mm=2)
    disc = make_bead("disc", finish="fused")
    strand = DrawnStrand((make_bead(), stripes, disc) * 8, ends="clasp")
    assert len(benchmark(strand_svg, strand, width=320)) < 8_000


def test_drawing_a_graduated_necklace_of_forty_sizes(benchmark) -> None:
    beads = tuple(
        make_bead("round", finish="fused", diameter_mm=4 + 0.2 * abs(20 - n), bore_mm=1)
        for n in range(41)
    )
    strand = DrawnStrand(beads, gap_mm=1, knotted=True)
    assert len(benchmark(strand_svg, strand, width=640)) < 30_000


def test_drawing_a_fortnight_of_four_kilns(benchmark) -> None:
    loads = [
        LoadBar(
            f"Kiln {n % 4}",
            n * 300,
            n * 300 + 60,
            n * 300 + 200,
            n * 300 + 280,
            str(n),
            foot=("24 of 24 · 96 beads",),
            trays=(TrayDots("#2f6b4a", 24),),
            href="/",
        )
        for n in range(60)
    ]
    days = [f"Day {n}" for n in range(14)]
    kilns = [(f"Kiln {n}", "closed, 24 places") for n in range(4)]
    assert len(benchmark(kiln_week_svg, kilns, days, loads)) < 120_000
