"""One order worked by hand from end to end: 30 bracelets and 12 necklaces, half the beads in stock.

The workshop is invented. Each expected figure stands with its sum; the numbers of beads to start
are scipy 1.17 `nbinom.ppf`, the volumes solid geometry (napkin ring; hollow cylinder).
"""

from decimal import Decimal
from math import ceil, pi

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.facts import (
    BatchFacts,
    BeadFiringFacts,
    ColourShare,
    CordFacts,
    FindingFacts,
    FormFacts,
    LineFacts,
    MouldFacts,
    OrderFacts,
    PartFacts,
    PolicyFacts,
    ProgrammeFacts,
    StockFacts,
)
from orders.costing.results import OrderCosting
from tests.costing.builders import (
    D,
    make_bead,
    make_colour,
    make_design,
    make_kiln,
    make_rate,
    make_workshop,
)

CORD = CordFacts("Waxed cotton", ratio=D("1.5"), tails_mm=D(100), price_per_m=D("0.12"))


def the_order() -> OrderFacts:
    yields = {"grinding_yield": D("0.90"), "washing_yield": D("0.95")}
    harbour = make_bead(
        "harbour",
        colours=(ColourShare("green", D("0.7")), ColourShare("amber", D("0.3"))),
        firings=(BeadFiringFacts("low fire", "dimpled tray", D("0.08")),),
        volume_mm3=None,
        length_mm=None,
        shape="round",
        dimensions=(("diameter_mm", D(10)), ("bore_mm", D(6))),
        porosity=D("0.05"),
        polishing_loss=D("0.04"),
        spill=D("0.02"),
    )
    anchor = make_bead(
        "anchor",
        kind="painted",
        colours=(ColourShare("amber", D(1)),),
        firings=(
            BeadFiringFacts("low fire", "trough", D("0.10")),
            BeadFiringFacts("paint fire", "trough", D("0.05")),
        ),
        volume_mm3=None,
        length_mm=None,
        shape="tube",
        dimensions=(("diameter_mm", D(8)), ("length_mm", D(12)), ("bore_mm", D(2))),
        porosity=D("0.05"),
        polishing_loss=D("0.04"),
        spill=D("0.02"),
        painted=True,
        paint_price_each=D("0.02"),
    )
    workshop = make_workshop(
        colours={
            "green": make_colour(
                forms=(FormFacts("powder", free_g=D(100), **yields),), raw_free_g=D(150)
            ),
            "amber": make_colour(
                "amber",
                forms=(FormFacts("powder", **yields),),
                price_per_kg=D("0.60"),
                bottle_g=D(350),
            ),
        },
        beads={"harbour": harbour, "anchor": anchor},
        moulds={
            "dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 20, 1, D(900)),
            "trough": MouldFacts("trough", "Trough", 6, 8, 2, D(1500)),
        },
        programmes={
            "low fire": ProgrammeFacts("low fire", "Low fire", D(780), D(30)),
            "paint fire": ProgrammeFacts("paint fire", "Paint fire", D(620), D(20)),
        },
        kilns=(make_kiln(places=24, fuel_per_load=D(24), fuel_price=D("0.25")),),
        rates=(
            make_rate("preparing", basis="kg", minutes_each=D(30), allowance=D("0.10")),
            make_rate("moulding", hourly=D(10), setup_min=D(15), allowance=D("0.15")),
            make_rate("firing", basis="load", minutes_each=D(40)),
            make_rate("polishing", basis="bead", minutes_each=D("0.05"), hourly=D(8)),
            make_rate(
                "painting", basis="bead", minutes_each=D("0.8"), hourly=D(12), setup_min=D(10)
            ),
            make_rate(
                "threading", skill="stringing", basis="bead", minutes_each=D("0.06"), hourly=D(8)
            ),
            make_rate(
                "finishing", skill="stringing", basis="strand", minutes_each=D(4), hourly=D(8)
            ),
            make_rate("packing", basis="order", minutes_each=D(20), hourly=D(8)),
        ),
        designs={
            "bracelet": make_design(
                finished_mm=D(180),
                gap_mm=D("0.4"),
                parts=(PartFacts("harbour", repeat=True),),
                findings=(FindingFacts("Hook", D(20), D("0.30")),),
                cord=CORD,
            ),
            "necklace": make_design(
                "necklace",
                finished_mm=D(450),
                gap_mm=D("0.4"),
                parts=(PartFacts("harbour", 3, repeat=True), PartFacts("anchor", repeat=True)),
                findings=(FindingFacts("Toggle", D(30), D("0.45")),),
                cord=CORD,
            ),
        },
        stock=StockFacts(
            batches=(
                BatchFacts("B7", "Batch 7", "harbour", 200),
                BatchFacts("B9", "Batch 9", "harbour", 283),
                BatchFacts("B8", "Batch 8", "anchor", 66),
            )
        ),
        policy=PolicyFacts(overhead=D("0.12"), margin=D("0.25"), step=D("0.10")),
    )
    lines = (LineFacts(30, design="bracelet"), LineFacts(12, design="necklace"))
    return OrderFacts(workshop, lines, reference="Order 214")


@pytest.fixture(scope="module")
def costing() -> OrderCosting:
    return cost_order(the_order())


def near(value: Decimal, expected: float, rel: float = 1e-12) -> bool:
    return float(value) == pytest.approx(expected, rel=rel)


# What is left of a 10 mm ball with a 6 mm bore is √(100 − 36) = 8 mm long and π 8³/6 mm³ large.
HARBOUR_MM3 = pi * 8**3 / 6
ANCHOR_MM3 = pi / 4 * (8**2 - 2**2) * 12
HARBOUR_FILL_G = HARBOUR_MM3 / 1000 * 2.5 * 0.95 / 0.96 / 0.98  # 0.67676 g
ANCHOR_FILL_G = ANCHOR_MM3 / 1000 * 2.5 * 0.95 / 0.96 / 0.98  # 1.42754 g
STARTED = {"harbour": 536, "anchor": 83}
FIRED_G = {"harbour": HARBOUR_FILL_G * 0.98, "anchor": ANCHOR_FILL_G * 0.98}
SCRAP = {
    "harbour": 536 * 0.08 * FIRED_G["harbour"] * (0.7 * 0.40 + 0.3 * 0.60) / 1000,
    "anchor": 83 * (0.10 + 0.9 * 0.05 * 0.96) * FIRED_G["anchor"] * 0.60 / 1000,
}
# Good ones likely to come: 536 × 0.92 of which 483 are needed, 83 × 0.855 of which 66 are.
BORNE = {"harbour": 483 / (536 * 0.92), "anchor": 66 / (83 * 0.855)}


def test_beads_on_each_strand(costing):
    bracelet, necklace = costing.lines
    # (180 − 20 + 0.4) ÷ (8 + 0.4) = 19.09
    assert bracelet.layout.beads == (("harbour", 19),)
    # (450 − 30 + 0.4) ÷ (3 × 8 + 12 + 4 × 0.4) = 420.4 ÷ 37.6 = 11.18 repeats
    assert necklace.layout.beads == (("harbour", 33), ("anchor", 11))


def test_finished_lengths_reached(costing):
    bracelet, necklace = costing.lines
    assert bracelet.layout.finished_mm == D("179.2")  # 20 + 19 × 8 + 18 × 0.4
    assert necklace.layout.finished_mm == D("443.2")  # 30 + 11 × 36 + 43 × 0.4
    assert necklace.layout.longer_mm == D("480.8")  # one repeat of 37.6 more


def test_half_the_beads_come_from_the_shelf_the_older_batch_first(costing):
    harbour, anchor = costing.beads
    assert harbour.needed == 966  # 30 × 19 + 12 × 33
    assert anchor.needed == 132  # 12 × 11
    assert [(part.name, part.count) for part in harbour.taken] == [
        ("Batch 7", 200),
        ("Batch 9", 283),
    ]
    assert (harbour.to_make, anchor.to_make) == (483, 66)


def test_beads_to_start(costing):
    harbour, anchor = costing.beads
    # scipy: 483 + nbinom.ppf(0.95, 483, 0.92) = 536; naive 483 ÷ 0.92 would be 525
    assert harbour.start == 536
    # two firings: 1 − 0.9 × 0.95 = 0.145; 66 + nbinom.ppf(0.95, 66, 0.855) = 83
    assert anchor.reject_rate == D("0.145")
    assert anchor.start == 83


def test_glass_weighed_out_for_one_bead(costing):
    harbour, anchor = costing.beads
    assert near(harbour.fill_g, HARBOUR_FILL_G)
    assert near(anchor.fill_g, ANCHOR_FILL_G)
    assert near(harbour.fill_g, 0.6767603222018829)


def test_glass_by_colour(costing):
    green, amber = costing.glass
    # 536 × 0.67676 × 0.7
    assert near(green.needed_g, 253.92047289014644)
    # 536 × 0.67676 × 0.3 + 83 × 1.42754
    assert near(amber.needed_g, 536 * HARBOUR_FILL_G * 0.3 + 83 * ANCHOR_FILL_G)
    assert near(green.to_prepare_g, 153.92047289014644)  # less 100 g of powder on the shelf
    assert near(green.raw_g, 153.92047289014644 / (0.90 * 0.95))  # 180.02 g
    assert near(green.short_g, 30.023944900756078, rel=1e-10)  # less 150 g raw
    assert green.bottles == 1  # 30 ÷ 400
    assert near(amber.short_g, 227.30898809556427 / (0.90 * 0.95))  # 265.86 g
    assert amber.bottles == 1  # 265.86 ÷ 350


def test_moulds_places_and_loads(costing):
    harbour, anchor = costing.beads
    (low,) = harbour.firings
    assert (low.fills, low.places) == (45, 45)  # 536 ÷ 12 = 44.7
    assert low.loads_alone == 3  # 20 moulds owned: 45 ÷ 20
    first, second = anchor.firings
    assert (first.beads, first.fills, first.places) == (83, 14, 28)  # 83 ÷ 6 = 13.8; 2 places each
    assert anchor.painted == 75  # 83 × 0.9 = 74.7
    assert (second.beads, second.fills, second.places) == (75, 13, 26)
    assert first.loads_alone == second.loads_alone == 2  # 8 moulds owned


def test_kiln_time_and_fuel(costing):
    harbour, anchor = costing.beads
    assert harbour.firings[0].kiln_min == D("337.5")  # (60 + 30 + 90) × 45 ÷ 24
    assert near(anchor.firings[0].kiln_min, 210)  # 180 × 28 ÷ 24
    assert near(anchor.firings[1].kiln_min, 170 * 26 / 24)  # 184.17
    wood = sum(firing.fuel_amount for firing in costing.firings if firing.fuel == "wood")
    assert near(wood, 99)  # 24 kg × (45 + 28 + 26) ÷ 24
    assert near(costing.fuel_cost, 24.75)


def test_minutes_of_labour_by_step(costing):
    minutes = {work.step: work.minutes for work in costing.labour}
    # 30 × 1.10 × (0.15392 + 0.22731) kg still to be prepared
    assert near(minutes["preparing"], 12.580572212528454)
    assert near(minutes["moulding"], 422.1)  # 15 + 6 × 1.15 × (45 + 14)
    assert near(minutes["firing"], 165)  # 40 × (45 + 28 + 26) ÷ 24
    assert near(minutes["polishing"], 30.95)  # 0.05 × (536 + 83)
    assert near(minutes["painting"], 70)  # 10 + 0.8 × 75
    assert near(minutes["threading"], 65.88)  # 0.06 × (30 × 19 + 12 × 44)
    assert near(minutes["finishing"], 168)  # 4 × 42
    assert near(minutes["packing"], 20)
    assert near(costing.labour_min, 954.5105722125285)


def test_cost(costing):
    # glass: (253.92 × 0.40 + 227.31 × 0.60) ÷ 1000 ÷ 0.855
    assert near(costing.glass_cost, 0.2783082830566049)
    assert near(costing.pigment_cost, 1.50)  # paint: 75 × 0.02
    # 12.58 min at 9, 422.1 at 10, 165 at 9, 30.95 at 8, 70 at 12, 65.88 at 8, 168 at 8, 20 at 8
    assert near(costing.labour_cost, 148.96441916521258)
    # 30 × (0.30 + 0.12 × (1.5 × 179.2 + 100)/1000) + 12 × (0.45 + 0.12 × (1.5 × 443.2 + 100)/1000)
    assert near(costing.findings_cost, 16.828992)
    # Rejects bring the raw glass they replace: harbour 536 × 0.08 of its fired mass, anchor
    # 83 × 0.10 of it and 83 × 0.9 × 0.05 finished
    assert near(costing.scrap, SCRAP["harbour"] + SCRAP["anchor"])
    # (0.27831 + 1.50 + 24.75 + 148.96442 + 16.82899 − scrap − what the shelf keeps) × 1.12
    goods = 192.3217194482692 - float(costing.scrap) - float(costing.left_over)
    assert near(costing.overhead_cost, goods * 0.12)
    assert near(costing.cost, goods * 1.12)


def test_lines_share_the_cost_and_are_priced(costing):
    """The same sums again in plain floating point, line by line."""
    raw = 0.90 * 0.95
    prepared_share = {"green": 153.92047289014644 / 253.92047289014644, "amber": 1.0}
    glass = 536 * HARBOUR_FILL_G * (0.7 * 0.40 + 0.3 * 0.60) / raw / 1000
    to_prepare_kg = 536 * HARBOUR_FILL_G * (0.7 * prepared_share["green"] + 0.3) / 1000
    harbour = (
        glass
        + 24 * 45 / 24 * 0.25
        + to_prepare_kg * 33 * 9 / 60
        + 45 * 6.9 * 10 / 60
        + 45 / 24 * 40 * 9 / 60
        + 536 * 0.05 * 8 / 60
    )
    anchor = (
        83 * ANCHOR_FILL_G * 0.60 / raw / 1000
        + 75 * 0.02
        + 24 * (28 + 26) / 24 * 0.25
        + 83 * ANCHOR_FILL_G / 1000 * 33 * 9 / 60
        + 14 * 6.9 * 10 / 60
        + (28 + 26) / 24 * 40 * 9 / 60
        + 83 * 0.05 * 8 / 60
        + 75 * 0.8 * 12 / 60
    )
    # each less its scrap, and as far as the order bears it; the rest is for the shelf
    harbour = (harbour - SCRAP["harbour"]) * BORNE["harbour"]
    anchor = (anchor - SCRAP["anchor"]) * BORNE["anchor"]
    own = [
        harbour * 570 / 966 + 30 * (0.30 + 0.12 * 0.3688) + (30 * 19 * 0.06 + 30 * 4) * 8 / 60,
        harbour * 396 / 966
        + anchor
        + 12 * (0.45 + 0.12 * 0.7648)
        + (12 * 44 * 0.06 + 12 * 4) * 8 / 60,
    ]
    once = 15 * 10 / 60 + 10 * 12 / 60 + 20 * 8 / 60  # set-ups of moulding, painting; packing
    costs = [part * (1 + once / sum(own)) * 1.12 for part in own]
    assert near(sum(map(Decimal, costs)), float(costing.cost), rel=1e-9)
    for line, cost, quantity in zip(costing.lines, costs, (30, 12), strict=True):
        assert near(line.cost, cost, rel=1e-10)
        assert near(line.cost_each, cost / quantity, rel=1e-10)
        assert float(line.lowest) == ceil(cost / quantity * 100) / 100
        assert float(line.suggested) == pytest.approx(ceil(cost / quantity / 0.75 * 10) / 10)
        assert line.price_total == line.suggested * quantity
        assert not line.below_cost
    assert costing.price_total == sum(line.price_total for line in costing.lines)
