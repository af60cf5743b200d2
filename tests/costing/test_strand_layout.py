"""Beads along the cord, against published charts and sums by hand."""

from dataclasses import replace
from decimal import Decimal
from math import floor, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.costing.cord import Pattern, graduated_mm, graduated_sizes, repeats
from orders.costing.errors import CostingError
from orders.costing.facts import CordFacts, FindingFacts, Key, PartFacts, SpacerFacts
from orders.costing.layout import lay_out
from orders.costing.strand import StrandLayout
from tests.costing.builders import D, make_bead, make_design, make_workshop
from tests.costing.checks import ROWS, agrees
from workshop.formats import Habits, strung_length, written_as

STRAND_MM = D("406.4")  # 16 inches of 25.4 mm


def laid_out(beads: dict[Key, str] | None = None, **changes) -> StrandLayout:
    """A design on beads of so many millimetres along the cord (by default peas of 10)."""
    lengths = {"pea": "10"} if beads is None else beads
    workshop = make_workshop(
        beads={key: make_bead(key, length_mm=D(mm)) for key, mm in lengths.items()},
        designs={"bracelet": make_design(**changes)},
    )
    return lay_out(workshop, "bracelet")


# Source: Fire Mountain Gems, Beads per Inch chart: beads per 16 inch strand; 14 and 18 computed.
CHART_16_INCH = {
    "3": "135.47",
    "4": "101.6",
    "5": "81.28",
    "7": "58.06",
    "10": "40.64",
    "11": "36.95",
    "14": "29.03",
    "18": "22.58",
}


@pytest.mark.parametrize(("size", "chart"), CHART_16_INCH.items())
def test_a_16_inch_strand_holds_the_whole_beads_of_the_chart(size, chart):
    layout = laid_out({"pea": size}, finished_mm=STRAND_MM)
    assert layout.bead_count == floor(float(chart))
    assert float(STRAND_MM / D(size)) == pytest.approx(float(chart), abs=0.01)


@pytest.mark.parametrize(
    ("size", "published", "within"),
    [
        # Source: Taszel, Sizing and Bead Quantity for Round Bead Strands, 2008
        ("6", 66, 0.08),
        ("8", 50, 0.08),
        # Source: The Bead Book, Bead Size Chart
        ("4", 100, 0.04),
        ("6", 65, 0.04),
        ("10", 40, 0.04),
        ("14", 28, 0.04),
    ],
)
def test_other_published_charts_agree_within_their_tolerance(size, published, within):
    layout = laid_out({"pea": size}, finished_mm=STRAND_MM)
    assert layout.bead_count == pytest.approx(published, rel=within)


def test_a_15_inch_strand_of_10_mm_and_8_inches_of_6_mm():
    # Sources: Oyindoubara, How Many Beads per Strand, 2013 (38.1); Artbeads (33.87)
    assert laid_out({"pea": "10"}, finished_mm=D("381")).bead_count == 38
    assert laid_out({"pea": "6"}, finished_mm=D("203.2")).bead_count == 33


@pytest.mark.parametrize(("size", "count"), [("6", 58), ("8", 45), ("10", 37), ("12", 31)])
def test_knots_stand_between_beads_only(size, count):
    # Source: computed, floor((L + k) ÷ (d + k)), L = 406.4, knots of 1 mm (common practice)
    layout = laid_out({"pea": size}, finished_mm=STRAND_MM, gap_mm=D(1), knotted=True)
    assert layout.bead_count == count
    assert layout.finished_mm == count * D(size) + count - 1


def test_made_to_length_rounds_up_and_a_standard_strand_down():
    # 18 in of 8 mm: 457.2 ÷ 8 = 57.15; counter rule: order 58
    eighteen = D("457.2")
    assert laid_out({"pea": "8"}, finished_mm=eighteen).bead_count == 57
    made = laid_out({"pea": "8"}, finished_mm=eighteen, made_to_length=True)
    assert made.bead_count == 58
    assert (made.shorter_mm, made.longer_mm) == (D(456), D(464))


def test_a_length_that_comes_out_whole_is_reached_either_way():
    for made_to_length in (False, True):
        layout = laid_out(finished_mm=D(200), made_to_length=made_to_length)
        assert layout.bead_count == 20
        assert layout.finished_mm == layout.shorter_mm == layout.longer_mm == D(200)


def test_a_bored_round_bead_is_shorter_than_its_diameter():
    bead = make_bead(
        volume_mm3=None,
        length_mm=None,
        shape="round",
        dimensions=(("diameter_mm", D(10)), ("bore_mm", D(6))),
    )
    workshop = make_workshop(beads={"pea": bead})
    assert lay_out(workshop, "bracelet").bead_count == 25  # 200 ÷ √(100 − 36)
    thin = make_workshop(
        beads={
            "pea": make_bead(
                volume_mm3=None,
                length_mm=None,
                shape="round",
                dimensions=(("diameter_mm", D(10)), ("bore_mm", D(2))),
            )
        }
    )
    assert lay_out(thin, "bracelet").bead_count == floor(200 / sqrt(96))  # 20.4


def test_findings_take_their_length_first():
    clasp = FindingFacts("Clasp", D(15), count=2)
    layout = laid_out(findings=(clasp,))
    assert layout.bead_count == 17  # (200 − 30) ÷ 10
    assert layout.finished_mm == D(200)


def test_a_pattern_repeats_while_its_whole_repeat_fits():
    parts = (PartFacts("pea", 2, repeat=True), PartFacts("plum", repeat=True))
    layout = laid_out({"pea": "10", "plum": "15"}, parts=parts, gap_mm=D(1))
    # (200 + 1) ÷ (2 × 10 + 15 + 3 × 1) = 201 ÷ 38 = 5.3
    assert dict(layout.beads) == {"pea": 10, "plum": 5}
    assert layout.finished_mm == 5 * 35 + 14  # 14 gaps between 15 beads
    assert (layout.shorter_mm, layout.longer_mm) == (D(189), D(227))


def test_parts_that_stand_once_leave_room_for_the_pattern_between_them():
    parts = (
        PartFacts("plum", 2),
        PartFacts("pea", repeat=True),
        PartFacts("ring", 1, spacer=True),
    )
    layout = laid_out({"pea": "10", "plum": "15"}, parts=parts)
    # 2 × 15 + 2 = 32 stand once; (200 − 32) ÷ 10 = 16.8
    assert dict(layout.beads) == {"plum": 2, "pea": 16}
    assert dict(layout.spacers) == {"ring": 1}
    kinds = [piece.item for piece in layout.rows[0].laid]
    assert kinds == ["plum"] * 2 + ["pea"] * 16 + ["ring"]


def test_a_mirrored_strand_is_the_same_from_both_ends():
    parts = (
        PartFacts("pea", repeat=True),
        PartFacts("plum"),
        PartFacts("moon", centre=True),
    )
    layout = laid_out({"pea": "10", "plum": "15", "moon": "30"}, parts=parts, mirrored=True)
    # (200 − 2 × 15 − 30) ÷ (2 × 10) = 7 on each side
    assert dict(layout.beads) == {"pea": 14, "plum": 2, "moon": 1}
    kinds = [piece.item for piece in layout.rows[0].laid]
    assert kinds == kinds[::-1]
    assert kinds[len(kinds) // 2] == "moon"
    assert layout.finished_mm == D(200)


def test_a_multi_row_piece_has_each_row_longer_than_the_one_inside_it():
    layout = laid_out(rows=3, row_step_mm=D(20))
    assert [len(row.laid) for row in layout.rows] == [20, 22, 24]
    assert layout.bead_count == 66
    assert layout.finished_mm == D(200)


# -- graduated -----------------------------------------------------------------------------

SIZES = tuple(D(size) for size in (6, 7, 8, 9, 10))


def test_a_linear_graduation_of_nine_beads_is_70_mm():
    # Source: computed, m (smallest + largest) + smallest with m = 4: 4 × 16 + 6
    assert graduated_mm(SIZES, 4, D(0), None) == 70
    keys = {f"size {size}": str(size) for size in SIZES}
    parts = tuple(PartFacts(key) for key in keys)
    layout = laid_out(keys, parts=parts, graduated=True, finished_mm=D(70))
    assert layout.finished_mm == D(70)
    along = [piece.length_mm for piece in layout.rows[0].laid]
    assert along == [6, 7, 8, 9, 10, 9, 8, 7, 6]


@given(st.integers(0, 60), st.booleans())
def test_sizes_rise_to_the_middle_and_follow_a_straight_line(pairs, centre):
    places = graduated_sizes(SIZES, pairs, centre)
    assert places == sorted(places)
    if not centre and pairs:
        # The sum of the nearest sizes stays within half a step a bead of the arithmetic series.
        exact = pairs * (SIZES[0] + SIZES[-1]) + SIZES[0]
        assert abs(graduated_mm(SIZES, pairs, D(0), None) - exact) <= Decimal("0.5") * 2 * pairs


@given(
    st.integers(60, 900).map(Decimal),
    st.integers(0, 20).map(lambda n: Decimal(n) / 10),
    st.booleans(),
)
def test_a_graduated_strand_is_as_full_as_it_can_be(finished_mm, gap_mm, made_to_length):
    keys = {f"size {size}": str(size) for size in SIZES}
    layout = laid_out(
        keys,
        parts=tuple(PartFacts(key) for key in keys),
        graduated=True,
        finished_mm=finished_mm,
        gap_mm=gap_mm,
        made_to_length=made_to_length,
    )
    row = layout.rows[0]
    assert layout.finished_mm == sum(piece.length_mm for piece in row.laid) + gap_mm * (
        len(row.laid) - 1
    )
    if made_to_length:
        assert layout.finished_mm >= finished_mm > layout.finished_mm - row.less_mm
    else:
        assert layout.finished_mm <= finished_mm < layout.finished_mm + row.more_mm


def test_a_centrepiece_may_stand_in_the_middle_of_a_graduated_strand():
    keys = {f"size {size}": str(size) for size in SIZES} | {"moon": "30"}
    parts = tuple(PartFacts(key) for key in keys if key != "moon")
    parts += (PartFacts("moon", centre=True),)
    layout = laid_out(keys, parts=parts, graduated=True)
    kinds = [piece.item for piece in layout.rows[0].laid]
    assert kinds.count("moon") == 1 and kinds[len(kinds) // 2] == "moon"
    assert kinds == kinds[::-1]


# -- cord ----------------------------------------------------------------------------------


def test_knotting_cord_is_as_much_as_a_stringer_used():
    # Source: Podobnik 2013: 107 in of silk for a 60 in strand, ratio 1.78
    cord = CordFacts("Silk", ratio=D(107) / 60)
    layout = laid_out(finished_mm=D(1524), cord=cord, made_to_length=False)
    reached_in = layout.finished_mm / D("25.4")
    assert float(layout.cord_mm / D("25.4")) == pytest.approx(float(reached_in) * 107 / 60)
    assert float(D(107) / 60) == pytest.approx(1.78, abs=0.005)


def test_cord_is_its_ratio_of_the_length_reached_and_the_tails_for_every_row():
    layout = laid_out(rows=2, cord=CordFacts("Cotton", ratio=D("1.5"), tails_mm=D(100)))
    assert layout.cord_mm == 2 * (D("1.5") * 200 + 100)


# -- properties ----------------------------------------------------------------------------


@given(
    st.integers(10, 2000).map(Decimal),
    st.integers(0, 30).map(lambda n: Decimal(n) / 10),
    st.integers(10, 400).map(lambda n: Decimal(n) / 10),
)
def test_one_more_bead_would_not_fit(cord_mm, gap_mm, bead_mm):
    count = repeats(cord_mm, Pattern(gap_mm, D(0), 0, bead_mm, 1))
    assert count * bead_mm + max(0, count - 1) * gap_mm <= cord_mm
    assert (count + 1) * bead_mm + count * gap_mm > cord_mm
    made = repeats(cord_mm, Pattern(gap_mm, D(0), 0, bead_mm, 1), made_to_length=True)
    assert made * bead_mm + (made - 1) * gap_mm >= cord_mm
    assert made - count in (0, 1)


def test_thirds_of_a_millimetre_do_not_lose_a_bead():
    third = D(1) / 3
    assert repeats(D(10), Pattern(D(0), D(0), 0, third, 1)) == 30


# -- refusals ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        (
            {"findings": (FindingFacts("Clasp", D(250)),)},
            "findings",
            "The findings of Bracelet take 250 mm and the finished length is only 200 mm, so no "
            "cord is left for beads. Make it longer, or choose shorter findings.",
        ),
        (
            {"parts": (PartFacts("pea", 30), PartFacts("pea", repeat=True))},
            "finished_mm",
            "The parts of Bracelet that stand once take 300 mm and only 200 mm of cord are left "
            "between the findings. Make it longer, or take a part away.",
        ),
        (
            {"parts": (PartFacts("pea", 30, repeat=True),)},
            "finished_mm",
            "One repeat of Bracelet takes 300 mm and only 200 mm of cord are left between the "
            "findings, so nothing fits. Make it longer, or repeat fewer beads.",
        ),
        ({"parts": ()}, "parts", "The design Bracelet has no beads on it."),
        (
            {
                "parts": (
                    PartFacts("pea", repeat=True),
                    PartFacts("pea"),
                    PartFacts("pea", repeat=True),
                )
            },
            "parts",
            "do not stand next to each other",
        ),
        ({"parts": (PartFacts("pea", centre=True),)}, "parts", "is not mirrored about it"),
        (
            {"parts": (PartFacts("pea", centre=True), PartFacts("pea")), "mirrored": True},
            "parts",
            "put the centrepiece last",
        ),
        ({"parts": (PartFacts("nothing"),)}, "parts", "names a bead that the workshop does not"),
        ({"finished_mm": D("NaN")}, "finished_mm", "is not a number"),
        ({"finished_mm": D(-5)}, "finished_mm", "must be more than 0"),
        ({"finished_mm": D("1e9")}, "finished_mm", "can be no more than 50000"),
        ({"gap_mm": D(-1)}, "gap_mm", "must be at least 0"),
        ({"rows": 0}, "rows", "must be at least 1"),
        ({"finished_mm": D(50000), "rows": 9}, "finished_mm", "more than 20000 beads"),
    ],
)
def test_a_design_that_cannot_be_strung_says_why(changes, field, sentence):
    with pytest.raises(CostingError) as refused:
        laid_out(**changes)
    assert refused.value.field == field
    assert sentence in refused.value.sentence


# --- finishing with single pieces, nearest to the length ------------------------------------------

NEAREST = {"nearest": True, "whole_repeats": False}
CLASP12, CLASP8 = FindingFacts("Clasp", D(12)), FindingFacts("Clasp", D(8))


def round_mm(across: str, bore: str) -> str:
    return str((D(across) ** 2 - D(bore) ** 2).sqrt())


def ellipsoid_mm(length: str, across: str, bore: str) -> str:
    return str(D(length) * (1 - (D(bore) / D(across)) ** 2).sqrt())


EGG = ellipsoid_mm("13", "11", "2.5")
PEA = round_mm("8", "2")


def strung(beads: dict[Key, str], parts, **changes) -> StrandLayout:
    """The six designs of the checks: parts as (bead, count), a spacer as ("sp", count, True)."""
    lengths = {key: mm for key, mm in beads.items() if key != "sp"}
    if not changes.get("graduated"):
        parts = [part if part.centre else replace(part, repeat=True) for part in parts]
    spacers = {"sp": SpacerFacts("sp", "spacer", D(beads["sp"]))} if "sp" in beads else {}
    workshop = make_workshop(
        beads={key: make_bead(key, length_mm=D(mm)) for key, mm in lengths.items()},
        spacers=spacers,
        designs={"bracelet": make_design(parts=tuple(parts), **NEAREST | changes)},
    )
    return lay_out(workshop, "bracelet")


def pieces(layout: StrandLayout) -> str:
    """What lies on it, as the checks write it."""
    return " ".join(f"{key}:{n}" for key, n in [*layout.beads, *layout.spacers])


def printed(strung_mm: Decimal, asked_mm: Decimal) -> str:
    with written_as(Habits()):
        return strung_length(strung_mm, asked_mm).replace("\N{NO-BREAK SPACE}", " ")


def is_as_checked(check: str, layout: StrandLayout) -> None:
    agrees(f"{check}-MM", layout.finished_mm)
    wanted = dict(each.split(":") for each in ROWS[f"{check}-N"]["expected"].split())
    assert {key: int(n) for key, n in wanted.items()} == dict(layout.beads) | dict(layout.spacers)
    assert printed(layout.finished_mm, layout.asked_mm) == ROWS[f"{check}-P"]["expected"]


def test_harbour_bracelet_stays_at_its_whole_repeats():
    round12 = round_mm("12", "3")
    beads = {"round": round12, "stripe": round12, "sp": "4"}
    parts = [PartFacts("round"), PartFacts("stripe"), PartFacts("sp", spacer=True)]
    layout = strung(beads, parts, finished_mm=D(180), findings=(CLASP12,))
    is_as_checked("LEN-HARB", layout)
    assert round(layout.longer_mm, 3) == D("187.046")


def test_tide_necklace_takes_one_egg_more_at_each_clasp():
    beads = {"reed": "20", "egg": EGG, "light": "30"}
    parts = [PartFacts("reed"), PartFacts("egg"), PartFacts("light", centre=True)]
    layout = strung(beads, parts, finished_mm=D(450), findings=(CLASP12,), mirrored=True)
    is_as_checked("LEN-TIDE", layout)
    assert [piece.item for piece in layout.rows[0].laid[:3]] == ["egg", "reed", "egg"]


def test_bottle_ice_finishes_with_two_eggs():
    parts = [PartFacts("egg"), PartFacts("e2"), PartFacts("e3")]
    layout = strung(
        {"egg": EGG, "e2": EGG, "e3": EGG}, parts, finished_mm=D(450), findings=(CLASP8,),
        gap_mm=D(1), knotted=True,
    )  # fmt: skip
    is_as_checked("LEN-ICE", layout)


def test_a_waist_strand_is_never_shorter_and_gives_no_beads_away():
    parts = [PartFacts("seed", 6), PartFacts("pea", 2), PartFacts("seed", 6), PartFacts("milk")]
    layout = strung(
        {"seed": "4", "pea": PEA, "milk": PEA}, parts, finished_mm=D(1000), nearest=False,
        made_to_length=True,
    )  # fmt: skip
    is_as_checked("LEN-WAIST", layout)


def test_pea_bracelet_finishes_with_two_peas():
    parts = [PartFacts("pea", 3), PartFacts("milk")]
    layout = strung({"pea": PEA, "milk": PEA}, parts, finished_mm=D(180), findings=(CLASP8,))
    is_as_checked("LEN-PEA", layout)


@pytest.mark.parametrize(("check", "asked"), [("LEN-TIE1", 97), ("LEN-TIE2", 107)])
def test_of_two_equally_near_whole_repeats_come_first_then_the_shorter(check, asked):
    parts = [PartFacts("a"), PartFacts("b", 2)]
    agrees(check, strung({"a": "8", "b": "10"}, parts, finished_mm=D(asked)).finished_mm)


def test_charts_of_one_bead_hold_either_way():
    parts = [PartFacts("pea")]
    fit = strung(
        {"pea": "8"}, parts, finished_mm=STRAND_MM, gap_mm=D(1), knotted=True, nearest=False
    )
    agrees("LEN-FIT", fit.bead_count)
    up = strung({"pea": "8"}, parts, finished_mm=D("457.2"), nearest=False, made_to_length=True)
    agrees("LEN-UP", up.bead_count)


def test_a_graduated_strand_takes_the_nearer_number_of_pairs():
    sizes = {str(n): str(n) for n in (6, 7, 8, 9, 10)} | {"light": "30"}
    parts = [*(PartFacts(str(n)) for n in (6, 7, 8, 9, 10)), PartFacts("light", centre=True)]
    layout = strung(
        sizes, parts, finished_mm=D(450), findings=(CLASP12,), gap_mm=D(1), knotted=True,
        graduated=True,
    )  # fmt: skip
    agrees("LEN-GRAD", layout.finished_mm)


def test_a_broken_repeat_never_ends_on_a_spacer():
    parts = [PartFacts("a"), PartFacts("sp", spacer=True), PartFacts("b")]
    # 4 × 24 = 96; one bead more 106, bead and spacer 110: 109 is nearest to the spacer's end
    layout = strung({"a": "10", "b": "10", "sp": "4"}, parts, finished_mm=D(109))
    assert layout.finished_mm == 106


def test_a_length_is_printed_as_strung_and_as_asked_from_three_per_cent_up():
    agrees("LEN-3", printed(D(97), D(100)))
    agrees("LEN-3B", printed(D("416.794"), D(450)))


@given(
    st.lists(st.tuples(st.integers(3, 30), st.booleans()), min_size=1, max_size=6),
    st.integers(60, 900), st.booleans(), st.booleans(), st.integers(0, 2),
)  # fmt: skip
def test_no_other_length_comes_nearer(parts, asked, mirrored, whole, gap):
    """Every candidate tried one by one, against the few that the program looks at."""
    facts = [PartFacts(f"p{i}", spacer=False) for i, _part in enumerate(parts)]
    lengths = {f"p{i}": str(mm) for i, (mm, _spacer) in enumerate(parts)}
    layout = strung(
        lengths, facts, finished_mm=D(asked), mirrored=mirrored, whole_repeats=whole, gap_mm=D(gap)
    )
    mm = [mm for mm, _spacer in parts]
    sides = 2 if mirrored else 1
    best = min(
        abs(sides * (k * sum(mm) + sum(mm[len(mm) - j :] if mirrored else mm[:j])) - asked
            + gap * (sides * (k * len(mm) + j) - 1))
        for k in range(asked // 3 + 2)
        for j in range(1 if whole else len(mm))
        if k or j
    )  # fmt: skip
    assert abs(layout.finished_mm - asked) == best
