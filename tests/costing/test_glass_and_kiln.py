"""Glass by colour, moulds, kiln and fuel, against published values and sums by hand."""

from dataclasses import replace
from math import ceil, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.costing.bead_unit import bead_unit
from orders.costing.cost_order import cost_order
from orders.costing.facts import (
    BatchFacts,
    BeadFiringFacts,
    ChoiceFacts,
    ColourShare,
    FormFacts,
    LineFacts,
    MouldFacts,
    ReadyStrandFacts,
    StockFacts,
    WeighedFacts,
)
from orders.costing.notices import order_notices
from orders.costing.results import BeadCosting, FiringCosting
from orders.costing.working.tree import order_tree
from tests.costing.builders import (
    D,
    make_bead,
    make_colour,
    make_kiln,
    make_order,
    make_workshop,
)
from workshop.physics.heat import heat_mj, heating_value_mj


def unit_of(glass=None, choices=None, **changes):
    glass = glass or {"green": make_colour(), "amber": make_colour("amber")}
    workshop = make_workshop(
        beads={"pea": make_bead(**changes)}, colours=glass, choices=choices or ChoiceFacts()
    )
    return bead_unit(workshop, "pea")


# -- one bead ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameter", "bore", "grams", "within"),
    [
        # Source: geometry (napkin ring), density 2.5 g/cm³
        ("6", "1", 0.271, 5e-4),
        ("8", "1.5", 0.6352, 5e-4),
        ("12", "2", 2.1684, 5e-4),
        ("10", "2", 1.231248, 1.3e-6),
    ],
)
def test_mass_of_a_round_bead(diameter, bore, grams, within):
    unit = unit_of(
        volume_mm3=None,
        length_mm=None,
        shape="round",
        dimensions=(("diameter_mm", D(diameter)), ("bore_mm", D(bore))),
    )
    assert float(unit.finished_g.value) == pytest.approx(grams, abs=within)


def test_losses_stand_between_the_finished_bead_and_the_mould_fill():
    unit = unit_of(porosity=D("0.05"), polishing_loss=D("0.10"), spill=D("0.05"))
    assert unit.finished_g.value == D("0.95")  # 400 mm³ × 2.5 × 0.95
    assert unit.fired_g.value == D("0.95") / D("0.90")
    assert unit.fill_g.value == unit.fired_g.value / D("0.95")


def test_glass_pushed_out_by_piercing_is_filled_in_as_well():
    assert unit_of(pierced_waste=D("0.20")).fill_g.value == D("1.25")  # 1 g ÷ 0.8


def test_a_bead_of_two_glasses_has_the_density_of_their_mixture():
    glass = {
        "green": make_colour(density_g_cm3=D("2.4")),
        "amber": make_colour("amber", density_g_cm3=D("2.6")),
    }
    unit = unit_of(glass, colours=(ColourShare("green", D("0.5")), ColourShare("amber", D("0.5"))))
    # Half the mass of each: 1 ÷ (0.5 ÷ 2.4 + 0.5 ÷ 2.6) = 2.496
    solid, _pores = unit.finished_g.parts
    _volume, density = solid.parts
    assert density.value == D("2.496")


def test_weighed_mass_is_used_once_enough_beads_were_weighed():
    weighed = WeighedFacts(25, D("1.10"))
    assert unit_of(weighed=weighed).finished_g.value == D("1.10")
    few = replace(weighed, count=19)
    assert unit_of(weighed=few).finished_g.value == D("1.000")
    assert unit_of(weighed=few, choices=ChoiceFacts(min_weighed=10)).finished_g.value == D("1.10")


def test_the_working_says_which_mass_was_used():
    workshop = make_workshop(beads={"pea": make_bead(weighed=WeighedFacts(25, D("1.10")))})
    tree = order_tree(cost_order(make_order(5, workshop)))
    fill = tree.find("beads", "bead pea", "fill")
    assert fill.find("fired", "finished").source == "mean of 25 weighed"


# -- glass by colour -------------------------------------------------------------------------


def test_ten_kilograms_through_three_yields():
    # Source: computed: 10 ÷ (0.95 × 0.90 × 0.85) = 13.7599 kg; here the last yield is the spill
    bead = make_bead(
        volume_mm3=D(4_000_000),
        spill=D("0.15"),
        firings=(BeadFiringFacts("low fire", "dimpled tray"),),
    )
    colour = make_colour(
        forms=(FormFacts("powder", grinding_yield=D("0.95"), washing_yield=D("0.90")),)
    )
    workshop = make_workshop(beads={"pea": bead}, colours={"green": colour})
    costing = cost_order(make_order(workshop=workshop, lines=(LineFacts(1, bead="pea"),)))
    assert float(costing.glass[0].raw_g) == pytest.approx(13759.9, abs=0.1)


def test_bottles_for_fifty_kilograms():
    # Source: n = ceil(kg ÷ (m y y)): 50 kg, 0.38 kg a bottle, yields 0.95 and 0.85: 163
    bead = make_bead(
        volume_mm3=D(20_000_000), firings=(BeadFiringFacts("low fire", "dimpled tray"),)
    )
    colour = make_colour(
        forms=(FormFacts("powder", grinding_yield=D("0.85"), washing_yield=D("0.95")),),
        bottle_g=D(380),
    )
    workshop = make_workshop(beads={"pea": bead}, colours={"green": colour})
    costing = cost_order(make_order(workshop=workshop, lines=(LineFacts(1, bead="pea"),)))
    assert costing.glass[0].bottles == 163


def test_what_is_free_on_the_shelf_is_used_first_prepared_then_raw():
    yields = {"grinding_yield": D("0.90"), "washing_yield": D("0.95")}
    colour = make_colour(forms=(FormFacts("powder", free_g=D(14), **yields),), raw_free_g=D(50))
    (glass,) = cost_order(make_order(5, make_workshop(colours={"green": colour}))).glass
    assert glass.needed_g == 114
    assert glass.forms[0].free_used_g == 14
    assert glass.to_prepare_g == 100
    assert glass.raw_g == D(100) / D("0.90") / D("0.95")  # 116.96
    assert glass.short_g == glass.raw_g - 50
    assert glass.bottles == 1


def test_glass_from_the_shelf_costs_what_its_raw_glass_cost():
    plenty = make_colour(forms=(FormFacts("powder", free_g=D(10_000)),))
    none = make_colour(forms=(FormFacts("powder"),))
    costs = [
        cost_order(make_order(5, make_workshop(colours={"green": colour}))).glass_cost
        for colour in (plenty, none)
    ]
    assert costs[0] == costs[1] == D("114") * D("0.40") / 1000


def test_two_colours_share_a_bead_by_mass():
    bead = make_bead(colours=(ColourShare("green", D("0.6")), ColourShare("amber", D("0.4"))))
    costing = cost_order(make_order(5, make_workshop(beads={"pea": bead})))
    assert [glass.needed_g for glass in costing.glass] == [D("68.4"), D("45.6")]  # of 114 g


def test_broken_beads_are_not_made_from_bottles():
    colour = make_colour(
        forms=(FormFacts("broken", free_g=D(14), washing_yield=D("0.5"), from_raw=False),),
        raw_free_g=D(9999),
    )
    bead = make_bead(kind="remade", form="broken")
    workshop = make_workshop(colours={"green": colour}, beads={"pea": bead})
    (glass,) = cost_order(make_order(5, workshop)).glass
    assert glass.raw_g == 0
    assert glass.short_g == 200  # 100 g more, half of which is lost in washing
    assert glass.bottles == 0


def test_pigment_is_dosed_on_the_glass_filled():
    bead = make_bead(pigment_g_per_kg=D(5), pigment_price_per_kg=D(30), spill=D("0.05"))
    (made,) = cost_order(make_order(5, make_workshop(beads={"pea": bead}))).beads
    fill_kg = D(114) / D("0.95") / 1000
    assert made.pigment_g == fill_kg * 5
    assert made.pigment_cost == fill_kg * 5 * 30 / 1000


# -- kiln ------------------------------------------------------------------------------------


def fired(order=None, **changes) -> tuple[BeadCosting, FiringCosting]:
    bead = cost_order(order or make_order(5, make_workshop(**changes))).beads[0]
    return bead, bead.firings[0]


def test_fills_places_and_fair_share():
    _bead, firing = fired()
    assert firing.fills == 10  # 114 ÷ 12 = 9.5
    assert firing.share == D("0.5")  # 10 of 20 places
    assert firing.load_min == 180  # 60 + 30 + 90
    assert firing.kiln_min == 90
    assert firing.alone_min == 180


def test_no_load_holds_more_fills_than_there_are_moulds():
    few = {"dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 3, 1)}
    assert fired(moulds=few)[1].loads_alone == 4  # ten fills, three trays


def test_no_load_holds_part_of_a_mould():
    wide = {"dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 50, 7)}
    # 20 places hold two trays of 7: five loads, though 70 places ÷ 20 would be four
    assert fired(moulds=wide)[1].loads_alone == 5


def test_the_first_kiln_that_is_hot_and_large_enough_is_taken():
    cool = make_kiln("cool", highest_c=D(700))
    small = make_kiln("small", places=1)
    wide = {"dimpled tray": MouldFacts("dimpled tray", "Dimpled tray", 12, 50, 2)}
    firing = fired(kilns=(cool, small, make_kiln("drum")), moulds=wide)[1]
    assert firing.kiln == "drum"


def test_the_owner_may_choose_the_kiln():
    kilns = (make_kiln("drum"), make_kiln("pit", places=40))
    firing = fired(kilns=kilns, choices=ChoiceFacts(kiln="pit"))[1]
    assert (firing.kiln, firing.share) == ("pit", D("0.25"))


def test_weighed_fuel_is_shared_out_by_places():
    _bead, firing = fired()
    assert firing.fuel_amount == 12  # half of 24 kg
    assert firing.fuel_cost == 3


def test_five_kilograms_of_glass_and_forty_of_clay_to_800():
    # Source: worked example of the heat capacities: 35.34 MJ; 24.7 kg of wood at 20 % moisture and
    # 10 % efficiency, 16.5 kg at 15 %
    heat = heat_mj(D(5000), D(40000), D(800))
    assert round(heat, 2) == D("35.34")
    wood = heating_value_mj("wood", D("0.20"))
    assert float(heat / D("0.10") / wood) == pytest.approx(24.7, abs=0.05)
    assert float(heat / D("0.15") / wood) == pytest.approx(16.5, abs=0.05)


def test_unweighed_fuel_follows_from_the_heat_of_this_order_s_glass_and_clay():
    kiln = make_kiln(fuel_per_load=None, efficiency=D("0.10"), moisture=D("0.20"))
    _bead, firing = fired(kilns=(kiln,))
    # a place bears its own mould's heat: ten trays of 12 beads of 1 g and 900 g of clay, to 780 °C
    heat = (0.120 * 1.12 + 9.0 * 1.0) * (780 - 25) / 1000
    assert float(firing.fuel_amount) == pytest.approx(heat / 0.10 / (18.5 * 0.8 - 2.443 * 0.2))


def test_the_second_firing_heats_only_the_beads_that_reach_it():
    firing = BeadFiringFacts("low fire", "dimpled tray", D("0.10"))
    twice = make_bead(firings=(firing, firing))
    kiln = make_kiln(fuel_per_load=None)
    bead = cost_order(make_order(5, make_workshop(beads={"pea": twice}, kilns=(kiln,)))).beads[0]
    first, second = bead.firings
    assert (first.beads, second.beads) == (133, 120)  # 133 × 0.9 = 119.7
    assert (first.fills, second.fills) == (12, 10)


# -- the shelf -------------------------------------------------------------------------------


@given(
    st.lists(st.integers(0, 60), max_size=6),
    st.integers(1, 12),
    st.integers(0, 14),
)
def test_the_shelf_never_gives_more_than_it_has(free, strands, ready):
    batches = tuple(BatchFacts(n, f"Batch {n}", "pea", count) for n, count in enumerate(free))
    stock = StockFacts(batches, (ReadyStrandFacts("bracelet", ready),))
    costing = cost_order(make_order(strands, make_workshop(stock=stock)))
    (line,) = costing.lines
    assert line.ready_taken == min(strands, ready)
    if line.to_string == 0:
        assert costing.beads == ()
        return
    (bead,) = costing.beads
    assert bead.needed == 20 * line.to_string
    assert bead.from_shelf == min(bead.needed, sum(free))
    assert bead.to_make == bead.needed - bead.from_shelf
    # Older batches are emptied before younger ones are touched.
    taken = {part.key: part.count for part in bead.taken}
    for number, count in enumerate(free):
        if any(taken.get(later) for later in range(number + 1, len(free))):
            assert taken.get(number, 0) == count


def test_ready_strands_are_given_to_the_first_line_that_asks():
    stock = StockFacts(strands=(ReadyStrandFacts("bracelet", 7),))
    lines = (LineFacts(5, design="bracelet"), LineFacts(4, design="bracelet"))
    costing = cost_order(make_order(workshop=make_workshop(stock=stock), lines=lines))
    assert [line.ready_taken for line in costing.lines] == [5, 2]


def test_beads_that_all_lie_on_the_shelf_need_no_mould_and_no_kiln():
    stock = StockFacts((BatchFacts(1, "Batch 1", "pea", 100),))
    workshop = make_workshop(stock=stock, moulds={}, kilns=())
    costing = cost_order(make_order(5, workshop))
    assert costing.beads[0].start == 0
    assert costing.firings == ()
    assert costing.glass == ()


def test_the_order_s_own_stock_goes_before_the_workshop_s():
    stock = StockFacts((BatchFacts(1, "Batch 1", "pea", 100),))
    costing = cost_order(make_order(5, make_workshop(), stock=stock))
    assert costing.beads[0].to_make == 0


def test_beads_from_the_shelf_count_at_their_value_if_they_have_one():
    valued = StockFacts((BatchFacts(1, "Batch 1", "pea", 100, D("0.12")),))
    costing = cost_order(make_order(5, make_workshop(), stock=valued))
    assert costing.shelf_cost == 12
    assert costing.cost == 12
    assert costing.lines[0].cost_each == D("2.4")
    unvalued = StockFacts((BatchFacts(1, "Batch 1", "pea", 100),))
    without = cost_order(make_order(5, make_workshop(), stock=unvalued))
    assert without.cost == 0
    assert "at no value" in order_notices(without)[0].sentence


# -- more is never less ------------------------------------------------------------------------


@given(st.integers(1, 300), st.integers(0, 60), st.integers(1, 30))
def test_more_strands_never_take_less_glass_kiln_or_money(strands, rejects, more):
    firing = BeadFiringFacts("low fire", "dimpled tray", D(rejects) / 100)
    workshop = make_workshop(beads={"pea": make_bead(firings=(firing,))})
    few, many = (cost_order(make_order(n, workshop)) for n in (strands, strands + more))
    assert many.needed_g >= few.needed_g
    assert many.short_g >= few.short_g
    assert many.kiln_min >= few.kiln_min
    assert many.cost >= few.cost
    worse = make_bead(firings=(replace(firing, reject_rate=firing.reject_rate + D("0.05")),))
    worse_order = make_order(strands, make_workshop(beads={"pea": worse}))
    assert cost_order(worse_order).needed_g >= few.needed_g


def test_a_whole_order_weighs_what_geometry_says():
    bead = make_bead(
        volume_mm3=None,
        length_mm=None,
        shape="tube",
        dimensions=(("diameter_mm", D(8)), ("length_mm", D(12)), ("bore_mm", D(2))),
        firings=(BeadFiringFacts("low fire", "dimpled tray"),),
    )
    costing = cost_order(make_order(5, make_workshop(beads={"pea": bead})))
    beads = 5 * ceil(200 // 12)  # 16 on each
    assert float(costing.needed_g) == pytest.approx(beads * pi / 4 * 60 * 12 * 2.5 / 1000)
