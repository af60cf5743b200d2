"""What is written down about beads, designs and the business reaches the costing."""

from datetime import date
from decimal import Decimal as D

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.working.tree import order_tree
from orders.facts.order import facts_for
from orders.models import DesignPart, Finding, StrandDesign, WantedLine
from tests.builders import make_bead, make_customer, make_design, make_mould, make_rate


def cost(design, strands=1, **given):
    return cost_order(facts_for([WantedLine(design.pk, strands)], **given))


def test_a_graduated_strand_rises_to_its_middle(workshop):
    # One size each of 6, 8 and 10 mm tubes and a centre of 12: 90 mm hold 2 × (6 + 8 + 10 + …).
    beads = {
        mm: make_bead(
            f"Tube {mm}", shape="tube", diameter_mm=D(8), length_mm=D(mm),
            mould=make_mould(f"Tube {mm}", shape="tube", bead_across_mm=D(8)),
        )
        for mm in (6, 8, 10, 12)
    }  # fmt: skip
    design = make_design(
        "Rising", beads=[(beads[6], 1), (beads[8], 1), (beads[10], 1)],
        graduated=True, finished_mm=D(60),
    )  # fmt: skip
    DesignPart.objects.create(
        design=design, position=4, bead=beads[12], count=1, role=DesignPart.Role.CENTRE
    )
    layout = cost(design).lines[0].layout
    lengths = [int(piece.length_mm) for piece in layout.rows[0].laid]
    # 2 × (6 + 8 + 10) + 12 = 60 mm exactly.
    assert lengths == [6, 8, 10, 12, 10, 8, 6]
    assert layout.finished_mm == 60


def test_each_row_is_longer_than_the_one_inside_it_by_the_step(workshop):
    design = make_design("Two rows", beads=workshop["bead"], rows=2, row_step_mm=D(20))
    rows = cost(design).lines[0].layout.rows
    assert [row.available_mm for row in rows] == [180, 200]


def test_the_tails_of_the_cord_are_counted(workshop):
    cord = Finding.objects.create(name="Silk", kind="cord", price=D("1.00"))
    design = make_design(
        "Knotted", beads=workshop["bead"], cord=cord, cord_ratio=D("1.5"), cord_tails_mm=D(100)
    )
    layout = cost(design).lines[0].layout
    assert layout.cord_mm == D("1.5") * layout.finished_mm + 100


def test_what_the_hole_takes_is_weighed_out_too(workshop):
    before = cost(workshop["design"]).beads[0].fill_g
    workshop["bead"].pierced_waste = D("0.05")
    workshop["bead"].save()
    assert cost(workshop["design"]).beads[0].fill_g == pytest.approx(before / D("0.95"))


def test_new_hands_follow_wrights_curve(workshop):
    # T. P. Wright, J. Aeronautical Sciences 3 (1936): first one 100 min, 80 % curve, ten of them
    # take 476.51 min (worked example of the cumulative average).
    make_rate("Winding", minutes_each=D(100), valid_from=date(2026, 1, 2))
    design = workshop["design"]
    StrandDesign.objects.filter(pk=design.pk).update(
        learning_rate=D("0.8"), learning_first=D(1), learning_made=0
    )
    labour = {row.step: row for row in cost(design, 10).labour}
    assert round(labour["Winding"].minutes, 2) == D("476.51")


def test_a_step_paid_by_the_piece_costs_its_pieces(workshop):
    make_rate("Winding", minutes_each=D(1), piece=D("0.30"))
    labour = {row.step: row for row in cost(workshop["design"], 7).labour}
    assert labour["Winding"].cost == D("2.10")


def test_a_group_of_customers_has_a_margin_of_its_own(workshop):
    business = workshop["business"]
    business.margin_trader, business.price_step = D("0.10"), D("0.01")
    business.save()
    trader = cost(workshop["design"], 10, group="trader").lines[0]
    shop = cost(workshop["design"], 10, group="shop").lines[0]
    assert trader.suggested == pytest.approx(trader.cost_each / D("0.90"), abs=D("0.01"))
    assert shop.suggested == pytest.approx(shop.cost_each / D("0.75"), abs=D("0.01"))


def test_a_weighed_mass_counts_from_as_many_beads_as_the_owner_says(workshop):
    workshop["bead"].weighed_mg, workshop["bead"].weighed_count = 1500, 24
    workshop["bead"].save()
    business = workshop["business"]
    business.min_weighed = 25
    business.save()
    computed = cost(workshop["design"])
    business.min_weighed = 24
    business.save()
    weighed = cost(workshop["design"])
    bead = weighed.beads[0]
    assert bead.finished_g == D("1.5")
    assert computed.beads[0].finished_g != weighed.beads[0].finished_g
    sources = {term.source for term in order_tree(weighed).walk()}
    assert any("24" in source and "weigh" in source for source in sources), sources


def test_density_is_that_of_the_colour(workshop):
    light = cost(workshop["design"]).beads[0].finished_g
    colour = workshop["bead"].colours.get().colour
    colour.density_g_cm3 = D("3.000")
    colour.save()
    assert cost(workshop["design"]).beads[0].finished_g == pytest.approx(light * 3 / D("2.5"))


def test_a_quantity_reaches_its_list_price(workshop):
    from orders.models import DesignPrice

    for least, price in ((1, "5.00"), (24, "4.50")):
        DesignPrice.objects.create(
            design=workshop["design"],
            from_strands=least,
            price=D(price),
            valid_from=date(2026, 1, 1),
        )
    assert cost(workshop["design"], 23).lines[0].price_each == D("5.00")
    assert cost(workshop["design"], 24).lines[0].price_each == D("4.50")


def test_all_of_it_is_read_in_22_queries_and_then_in_8(workshop, django_assert_max_num_queries):
    designs = [
        make_design(f"Design {n}", beads=make_bead(f"Bead {n}"), learning_rate=D("0.8"))
        for n in range(15)
    ]
    customer, wanted = make_customer(), [WantedLine(d.pk, 3) for d in designs]
    with django_assert_max_num_queries(22):
        facts = facts_for(wanted, customer=customer)
    assert len(facts.workshop.beads) == 15
    with django_assert_max_num_queries(8):
        again = facts_for(wanted, customer=customer)
    assert again.workshop.beads is facts.workshop.beads
