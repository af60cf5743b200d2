"""Two floors of an order: what it costs in full, and what it takes out of the drawer.

April at Sandbar, an invented workshop with an employer's share of 0.25, pay of 7.20 an hour
(0.15 a minute) and workshop costs of 0.10 a minute. Each sum was worked by hand with fractions; the
rows of true_cost_checks.csv say so. Sources of the rules: IAS 2.10 to 16 (full cost); relevant cost
in published teaching texts (out of pocket).
"""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.costing.cost_order import cost_order
from orders.costing.facts import (
    BatchFacts,
    BeadFiringFacts,
    ChoiceFacts,
    ColourShare,
    FindingFacts,
    FormFacts,
    LineFacts,
    LoadPart,
    MouldFacts,
    NewLoad,
    OrderFacts,
    PartFacts,
    PolicyFacts,
    ProgrammeFacts,
    ReadyStrandFacts,
    StockFacts,
)
from orders.costing.new_loads import strands_that_pay, with_new_loads
from orders.costing.numbers import whole_up
from orders.costing.pocket import one_more
from orders.costing.pricing import LOSES, NO_SHARE, word_of
from orders.costing.results import OrderCosting
from orders.costing.working.terms import recompute
from orders.costing.working.tree import order_tree
from tests.costing.builders import (
    D,
    make_bead,
    make_colour,
    make_design,
    make_kiln,
    make_rate,
    make_workshop,
)
from tests.costing.checks import agrees
from tests.costing.strategies import orders
from tests.costing.test_working import same


def hand(step: str, basis: str, minutes: str, setup: int = 0, allowance: str = "0.10", **more):
    return make_rate(
        step,
        basis=basis,
        minutes_each=D(minutes),
        setup_min=D(setup),
        allowance=D(allowance),
        hourly=D("7.20"),
        employer_share=D("0.25"),
        **more,
    )


RATES = (
    hand("preparing", "kg", "30", 5),
    hand("moulding", "mould", "6.5", 8, "0.12"),
    hand("firing", "load", "55"),
    hand("polishing", "bead", "0.12", 12),
    hand("stringing", "strand", "5", 4),
    hand("packing", "order", "12"),
)


def bead(key: str, mould: str, fill: str, finished: str, loss: str, rejects: str, **more):
    """Weighed beads: the fill that is weighed out is given, so spill is what lies between."""
    fired = D(finished) / (1 - D(loss))
    return make_bead(
        key,
        firings=(BeadFiringFacts("fire", mould, D(rejects)),),
        volume_mm3=D(finished) * 400,
        polishing_loss=D(loss),
        spill=1 - fired / D(fill),
        **more,
    )


def sandbar(fuel: str = "0.14", **changes):
    yields = {"grinding_yield": D("0.90"), "washing_yield": D("0.97")}
    powder = FormFacts("powder", D(16940), value_per_kg=D("144.072468") / D("16.940"), **yields)
    plain = {
        "colours": {
            "green": make_colour(
                forms=(powder,), raw_free_g=D(30000), price_per_kg=D("0.16"), bottle_g=None
            )
        },
        "beads": {
            "tide": bead("tide", "round", "2.2", "2.09", "0.03", "0.08"),
            "night": bead(
                "night", "great", "3.5", "3.3", "0", "0.10",
                times_longer=(("moulding", D("1.8")),),
            ),
            "heart": bead("heart", "heart", "12.8", "12.0", "0.04", "0.18"),
        },
        "moulds": {
            "round": MouldFacts("round", "Round", 16, 20, 1, D(1200), D(6), D(40), D("0.02")),
            "great": MouldFacts("great", "Great", 12, 20, 1, D(1200), D(8), D(40), D("0.02")),
            "heart": MouldFacts("heart", "Heart", 4, 20, 2, D(1200), D(12), D(30), D("0.05")),
        },
        "programmes": {"fire": ProgrammeFacts("fire", "Fire", D(760), D(30))},
        "kilns": (
            make_kiln(
                "clay", places=24, fuel_per_load=D(30), fuel_price=D(fuel), usual_fill=D("0.40"),
                wear_per_load=D("1.20"),
            ),
        ),
        "rates": RATES,
        "workshop_minute": D("0.10"),
        "policy": PolicyFacts(overhead=D("0.08"), margin=D("0.25"), step=D("0.10")),
        "choices": ChoiceFacts(assurance=D("0.95")),
    }  # fmt: skip
    return make_workshop(**(plain | changes))


BRACELET = make_design(
    finished_mm=D(150),
    parts=(PartFacts("tide", repeat=True),),
    findings=(FindingFacts("Clasp", D(0), D("0.30")),),
)
SHELF = StockFacts(
    (BatchFacts(1, "Batch 1", "tide", 28, D("10.158433") / 28),),
    (ReadyStrandFacts("bracelet", 2, D("14.484035") / 2),),
)
# One load of the seven fills.
ONE_LOAD = (NewLoad("clay", (LoadPart("tide", 1, 7),)),)


def ten_bracelets(loads=ONE_LOAD, **order) -> OrderCosting:
    """Ten bracelets of 15; two lie strung, 28 beads on the shelf, 92 are made."""
    workshop = sandbar(designs={"bracelet": BRACELET}, stock=SHELF)
    facts = OrderFacts(workshop, (LineFacts(10, design="bracelet"),), **order)
    return with_new_loads(cost_order(facts), loads)


NECKLACE = make_design(
    "necklace",
    finished_mm=D(330),
    parts=(
        PartFacts("tide", 16),
        PartFacts("night", 16),
        PartFacts("heart", 1),
    ),
    findings=(FindingFacts("Cord and clasp", D(0), D("0.329")),),
)
THREE_LOADS = (
    NewLoad("clay", (LoadPart("tide", 1, 2),)),
    NewLoad("clay", (LoadPart("night", 1, 2),)),
    NewLoad("clay", (LoadPart("heart", 1, 1),)),
)


def one_necklace(loads=THREE_LOADS, fuel: str = "0.14", price: Decimal | None = None):
    workshop = sandbar(fuel, designs={"necklace": NECKLACE})
    facts = OrderFacts(workshop, (LineFacts(1, design="necklace", price=price),))
    return with_new_loads(cost_order(facts), loads)


# Gas at 17.10 a load of 30.
GAS = "0.57"


# --- ten bracelets -----------------------------------------------------------------------------


def test_ten_bracelets_as_the_reference_works_them():
    costing = ten_bracelets()
    (beads,) = costing.beads
    assert (beads.needed, beads.from_shelf, beads.to_make) == (120, 28, 92)
    agrees("FLOOR-START", beads.start)
    assert beads.firings[0].fills == 7
    agrees("FLOOR-V", beads.of_all)
    agrees("FLOOR-PART", beads.cost)
    agrees("FLOOR-FULL", costing.cost)
    agrees("FLOOR-OOP", costing.pocket)
    agrees("FLOOR-OOP-JOIN", ten_bracelets(()).pocket)


def test_ten_bracelets_part_by_part():
    costing = ten_bracelets()
    (beads,), (line,) = costing.beads, costing.lines

    def near(value, expected: str) -> bool:
        return abs(value - D(expected)) < D("0.000001")

    assert near(beads.glass_cost, "1.964625")  # 231 g of 16,940 g worth 144.072468
    # 50.96 min of moulding and 13.86 of polishing at 0.15 and 0.10; the load's part is the kiln's
    load = D(7) / D("9.6")
    assert near(beads.labour_cost - load * D("9.075"), "9.723")  # 64.82 × 0.15
    assert near(beads.workshop_cost - load * D("6.05"), "6.482")
    assert near(beads.mould_cost, "1.19")
    kiln = beads.fuel_cost + beads.wear_cost + load * (D("9.075") + D("6.05"))
    assert near(kiln, "14.966146")
    assert near(beads.scrap, "0.002896")
    assert near(line.shelf_cost, "24.642468")  # 14.484035 + 10.158433
    assert near(line.findings_cost, "2.40")
    assert near(line.labour_cost + line.workshop_cost, "11.00")
    assert near(line.order_cost, "7.98")  # set-ups 24 min, packing 13.2 min at pay alone
    assert near(line.cost / D("1.08"), "78.710920")
    assert near(line.loads_cost, "5.40")


def test_one_more_tide_bead_out_of_pocket():
    agrees("FLOOR-AGAIN", round(one_more(sandbar(), "tide").value, 6))


def test_prices_stand_on_the_greater_floor():
    (line,) = ten_bracelets().lines
    agrees("FLOOR-LOW", line.lowest)
    agrees("FLOOR-SUGG", line.suggested)
    (gross,) = ten_bracelets(tax=D("0.23")).lines
    agrees("FLOOR-SUGG-GROSS", gross.suggested)
    # the floor stays without VAT; a price that holds it must reach 8.500779 × 1.23 = 10.4560
    assert gross.cost == line.cost
    assert gross.lowest == D("10.46")
    assert abs(gross.price_net - gross.price_total / D("1.23")) < D("1e-20")
    assert abs(gross.margin - (1 - gross.cost / gross.price_net)) < D("1e-20")


def test_a_gross_price_is_compared_without_its_vat():
    (line,) = ten_bracelets(tax=D("0.23")).lines
    word = word_of(D(8) / D("1.23"), line.cost_each, line.pocket_each)
    agrees("FLOOR-WORD", word)
    assert word_of(D("1.50") / D("1.23"), line.cost_each, line.pocket_each) == LOSES
    assert word_of(D("10.46") / D("1.23"), line.cost_each, line.pocket_each) == ""


# --- a small order that lights kilns for itself -------------------------------------------------


def test_one_necklace_in_wood():
    costing = one_necklace()
    assert [bead.start for bead in costing.beads] == [20, 20, 2]
    assert [bead.firings[0].places for bead in costing.beads] == [2, 2, 2]
    agrees("FLOOR-LONE-FULL", costing.cost)
    agrees("FLOOR-LONE-OOP", costing.pocket)
    (line,) = costing.lines
    assert line.lowest == D("35.71")  # full cost warns
    assert not line.pocket_rules


def test_one_necklace_in_gas_is_ruled_by_what_it_takes_out_of_the_drawer():
    costing = one_necklace(fuel=GAS)
    agrees("FLOOR-GAS-FULL", costing.cost)
    agrees("FLOOR-GAS-OOP", costing.pocket)
    (line,) = costing.lines
    agrees("FLOOR-LOW-GAS", line.lowest)
    assert line.pocket_rules
    (joined,) = one_necklace((), GAS).lines
    assert joined.lowest == D("42.58")
    # the price suggested pays at least what leaves the drawer: 42.575304 ÷ 0.75 = 56.77
    assert line.suggested == D("56.80")


def test_from_how_many_strands_the_loads_are_paid():
    (line,) = one_necklace(fuel=GAS, price=D(20)).lines
    # 3 × 18.30 ÷ (20 − 1.584585) = 2.98
    assert strands_that_pay(line) == 3
    (cheap,) = one_necklace(fuel=GAS, price=D("1.50")).lines
    assert strands_that_pay(cheap) is None  # below what one strand takes: no number pays
    (joined,) = one_necklace((), GAS, D(20)).lines
    assert strands_that_pay(joined) is None


@pytest.mark.parametrize(
    ("price", "word"),
    [("17.78", LOSES), ("17.79", NO_SHARE), ("35.70", NO_SHARE), ("35.71", "")],
)
def test_words_by_price(price, word):
    (line,) = one_necklace(price=D(price)).lines
    assert line.word == word
    assert line.below_cost == bool(word)


# --- what leaves the drawer ----------------------------------------------------------------------


def test_prepared_glass_is_bought_again_at_the_price_of_today():
    dear = make_colour(
        forms=(FormFacts("powder", D(16940), D("0.90"), D("0.97"), value_per_kg=D("8.50")),),
        price_per_kg=D("0.16"),
        price_now=D("0.32"),
    )
    workshop = sandbar(designs={"bracelet": BRACELET}, stock=SHELF, colours={"green": dear})
    costing = cost_order(OrderFacts(workshop, (LineFacts(10, design="bracelet"),)))
    raw = 231 / D("0.873") * D("0.16") / 1000
    shelf = 58 * D("2.2") / D("0.873") * D("0.16") / 1000 / D("0.92")
    assert abs(costing.pocket - D("7.143966") - raw - shelf) < D("0.000002")


def test_hours_count_where_hands_are_paid_only_when_they_work():
    workshop = sandbar(
        designs={"bracelet": BRACELET},
        policy=PolicyFacts(overhead=D("0.08"), hours_when_worked=True),
    )
    costing = with_new_loads(
        cost_order(OrderFacts(workshop, (LineFacts(10, design="bracelet"),))), ONE_LOAD
    )
    usual = sandbar(designs={"bracelet": BRACELET})
    without = with_new_loads(
        cost_order(OrderFacts(usual, (LineFacts(10, design="bracelet"),))), ONE_LOAD
    )
    # all pay but tending, which is paid by the load that is lit: 55 × 1.10 × 0.15
    tending = sum(bead.firings[0].share for bead in costing.beads) * D("9.075")
    hours = costing.labour_cost - tending + D("9.075")
    assert abs(costing.pocket - without.pocket - hours) < D("1e-20")


def test_pay_by_the_piece_leaves_the_drawer_with_the_employers_share():
    by_piece = (*RATES[:4], replace(RATES[4], piece=D("0.40")), RATES[5])
    workshop = sandbar(designs={"bracelet": BRACELET}, rates=by_piece)
    plain = sandbar(designs={"bracelet": BRACELET})
    lines = (LineFacts(10, design="bracelet"),)
    more = (
        cost_order(OrderFacts(workshop, lines)).pocket - cost_order(OrderFacts(plain, lines)).pocket
    )
    assert abs(more - 10 * D("0.50")) < D("1e-20")


def test_a_striped_bead_is_paid_by_the_piece_as_its_work_is():
    rate = replace(RATES[1], piece=D("0.05"), employer_share=D("0.22"), setup_min=D(0))
    lines = (LineFacts(12, bead="night"),)

    def pay(**changes) -> Decimal:
        workshop = sandbar(rates=(rate,))
        night = replace(workshop.beads["night"], **changes)
        costing = cost_order(OrderFacts(sandbar(rates=(rate,), beads={"night": night}), lines))
        return costing.labour_cost / costing.beads[0].fills

    agrees("PIECE-FACTOR", pay(times_longer=(("moulding", D(2)),)))
    agrees("PIECE-OWN", pay(own_pieces=(("moulding", D("0.09")),)))


def test_a_load_shared_by_two_beads_of_the_order_is_paid_once():
    both = (NewLoad("clay", (LoadPart("tide", 1, 2), LoadPart("night", 1, 2))), THREE_LOADS[2])
    costing = one_necklace(both)
    assert abs(costing.loads_cost - 2 * D("5.40")) < D("1e-20")
    assert abs(costing.pocket - D("1.584585") - 2 * D("5.40")) < D("0.000002")


def test_a_load_is_priced_in_the_kiln_in_which_it_is_lit():
    kilns = (
        sandbar().kilns[0],
        make_kiln("pit", places=12, fuel_per_load=D(10), fuel_price=D("0.14")),
    )
    workshop = sandbar(designs={"necklace": NECKLACE}, kilns=kilns)
    facts = OrderFacts(workshop, (LineFacts(1, design="necklace"),))
    loads = (*THREE_LOADS[:2], NewLoad("pit", THREE_LOADS[2].parts))
    costing = with_new_loads(cost_order(facts), loads)
    assert abs(costing.loads_cost - 2 * D("5.40") - D("1.40")) < D("1e-20")


# --- full cost ---------------------------------------------------------------------------------


def test_a_bead_made_to_order_only_is_borne_whole():
    workshop = sandbar(designs={"bracelet": BRACELET}, stock=SHELF)
    tide = replace(workshop.beads["tide"], made_to_order=True)
    whole = replace(workshop, beads={**workshop.beads, "tide": tide})
    costing = cost_order(OrderFacts(whole, (LineFacts(10, design="bracelet"),)))
    agrees("FLOOR-V", costing.beads[0].cost)
    assert costing.left_over == 0


def test_glass_that_is_not_ready_bears_its_preparing():
    """Half of what is needed lies prepared at 8.50; the rest is 0.16 ÷ 0.873 and 33 min a kg."""
    form = FormFacts("powder", D("115.5"), D("0.90"), D("0.97"), value_per_kg=D("8.50"))
    colours = {"green": make_colour(forms=(form,), price_per_kg=D("0.16"))}
    workshop = sandbar(designs={"bracelet": BRACELET}, stock=SHELF, colours=colours)
    costing = cost_order(OrderFacts(workshop, (LineFacts(10, design="bracelet"),)))
    half = D("0.1155")
    assert abs(costing.glass_cost - half * D("8.50") - half * D("0.16") / D("0.873")) < D("1e-20")
    work = next(work for work in costing.labour if work.step == "preparing")
    assert work.minutes == 5 + half * 33


def test_relevant_cost_of_material_in_regular_use():
    """400 kg needed, 200 of them in stock, bought at 10; 15 today: published answer 6,000."""
    form = FormFacts("powder", D(200_000), value_per_kg=D(10))
    colours = {"green": make_colour(forms=(form,), price_per_kg=D(10), price_now=D(15))}
    slab = make_bead(
        "slab",
        volume_mm3=D(160_000),  # 400 g at 2.5 g/cm³
        colours=(ColourShare("green", D(1)),),
        firings=(BeadFiringFacts("fire", "round"),),
    )
    kiln = make_kiln(fuel_price=D(0))
    mould = MouldFacts("round", "Round", 1000, 10, 1)
    workshop = sandbar(
        colours=colours, beads={"slab": slab}, moulds={"round": mould}, kilns=(kiln,), rates=()
    )
    agrees("REL-1", cost_order(OrderFacts(workshop, (LineFacts(1000, bead="slab"),))).pocket)


# --- any order -----------------------------------------------------------------------------------


@st.composite
def lit(draw: st.DrawFn, costing: OrderCosting) -> tuple[NewLoad, ...]:
    """Loads lit for some of an order's firings."""
    kilns = [kiln.key for kiln in costing.facts.workshop.kilns]
    loads = []
    for bead_ in costing.beads:
        for firing in bead_.firings:
            if draw(st.booleans()):
                part = LoadPart(bead_.key, firing.number, draw(st.integers(1, firing.fills)))
                loads.append(NewLoad(draw(st.sampled_from(kilns)), (part,)))
    return tuple(loads)


@settings(max_examples=30)
@given(orders(), st.data())
def test_both_floors_of_any_order_hold(order: OrderFacts, data):
    plain = cost_order(order)
    costing = with_new_loads(plain, data.draw(lit(plain)))
    for line in costing.lines:
        assert line.lowest * line.quantity >= max(line.cost, line.pocket)
        assert line.suggested * line.quantity >= line.pocket
        assert line.below_cost == (line.price_net < max(line.cost, line.pocket))
        assert line.pocket >= line.pocket_alone >= 0
    assert same(sum(line.pocket for line in costing.lines), costing.pocket)
    assert same(sum(line.loads_cost for line in costing.lines), costing.loads_cost)
    assert costing.cost == plain.cost
    for path, term in order_tree(costing).paths():
        assert same(recompute(term), term.value), (path, term.how)


@settings(max_examples=30)
@given(orders())
def test_what_is_made_is_borne_by_the_order_or_left_on_the_shelf(order: OrderFacts):
    costing = cost_order(order)
    for each in costing.beads:
        if each.start:
            assert same(each.cost + each.left_over, each.of_all)
            good = each.start * (1 - each.reject_rate)
            assert each.left_over == 0 or each.to_make < good
            assert each.start >= whole_up(D(each.to_make))
