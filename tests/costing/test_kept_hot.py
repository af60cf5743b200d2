"""Kiln time and fuel of an order in a kiln kept hot, against the worked example.

The sums follow the worked example of rounds: change 10, hold 30, warm-up 70, waiting 15 a run of 7
rounds, a mould at 0.7 min with 2 hands.
"""

import pytest

from orders.costing.cost_order import cost_order
from orders.costing.facts import BeadFiringFacts, LoadPart, MouldFacts, NewLoad, ProgrammeFacts
from orders.costing.new_loads import with_new_loads
from orders.costing.working.terms import recompute
from orders.costing.working.tree import order_tree
from tests.costing.builders import (
    D,
    make_bead,
    make_design,
    make_kiln,
    make_order,
    make_rate,
    make_workshop,
)
from tests.costing.test_working import same
from tests.physics.builders import fuel_needed, heat_of_load_mj
from workshop.costs.kiln_share import UsualRun
from workshop.physics.cycle import ClosedKiln, Soak
from workshop.physics.kiln_body import fair_heat_mj

RUN = UsualRun(D(70), D(10), D(15), D(7))


def _costing(kiln, *, programme=None, rates=None, **bead):
    programme = programme or ProgrammeFacts("chunks", "Chunks", D(800), D(30))
    moulds = {"m": MouldFacts("m", "Moulds", 1, 100, 1, D(800))}
    pea = make_bead(firings=(BeadFiringFacts("chunks", "m", D(0)),), **bead)
    workshop = make_workshop(
        beads={"pea": pea}, moulds=moulds, programmes={"chunks": programme}, kilns=(kiln,),
        rates=(make_rate(),) if rates is None else rates,
    )  # fmt: skip
    return cost_order(make_order(workshop=workshop))


def _firing(costing):
    return costing.beads[0].firings[0]


def test_fair_minutes_of_an_order_in_a_kiln_kept_hot():
    kiln = make_kiln(places=24, usual=RUN, hands=2)
    firing = _firing(_costing(kiln, pierced=True, pierce_min=D("0.7")))
    loads = D(firing.places) / 24
    # 10 + 30 + (70 + 15)/7 = 52.142857 minutes a round, and its own moulds drawn one by one.
    by_hand = loads * (D(40) + D(85) / 7) + firing.fills * D("0.7") / 2
    assert firing.kiln_min == pytest.approx(by_hand)
    assert firing.load_min == pytest.approx(D("52.142857"), abs=D("0.000001"))


def test_moulds_that_come_out_together_keep_no_kiln_waiting():
    kiln = make_kiln(places=24, usual=RUN, hands=2)
    firing = _firing(_costing(kiln, pierced=True))
    assert firing.kiln_min == pytest.approx(firing.load_min * firing.share)


def test_a_closed_load_with_a_soak_takes_what_its_curve_takes():
    """553.02 min: Newton's cooling from 820 to 60 °C in 300, 45 at 565, then 1 °C/min to 480."""
    closed = ClosedKiln(60, 300, heat_c_per_min=8, open_c=60, ref_c=820)
    thick = ProgrammeFacts("chunks", "Thick", D(820), D(40), soak=Soak(565, 45, 480, 1))
    firing = _firing(_costing(make_kiln(closed=closed), programme=thick))
    assert firing.load_min == pytest.approx(D("553.02"), abs=D("0.02"))


def test_fuel_of_an_order_by_body_loss_and_fire():
    kiln = make_kiln(
        places=24,
        usual=RUN,
        fuel_per_load=None,
        body_mj=D("68.79"),
        loss_kw=D("6.832"),
        fire_efficiency=D("0.36"),
    )
    costing = _costing(kiln)
    firing = _firing(costing)
    glass_kg = float(costing.beads[0].fired_g) * firing.fills / 1000
    loads, hours = firing.places / 24, float(firing.load_min) / 60
    contents = heat_of_load_mj(glass_kg, 0.8 * firing.fills, 800)
    by_hand = fuel_needed(fair_heat_mj(contents, loads, hours, 68.79, 6.832, 7), 14.3114, 0.36)
    assert float(firing.fuel_amount) == pytest.approx(by_hand)


@pytest.mark.parametrize("pierced", [None, D("0.7")])
def test_every_figure_of_a_round_can_be_worked_again_from_its_children(pierced):
    kiln = make_kiln(
        places=24, usual=RUN, hands=2, fuel_per_load=None, body_mj=D("68.79"), loss_kw=D("6.832"),
        fire_efficiency=D("0.36"),
    )  # fmt: skip
    tree = order_tree(_costing(kiln, pierced=pierced is not None, pierce_min=pierced))
    for path, term in tree.paths():
        assert same(recompute(term), term.value), path


def test_a_pierced_bead_goes_into_the_kiln_kept_hot_and_another_where_it_may():
    closed, hot = make_kiln("drum"), make_kiln("clay", usual=RUN)
    workshop = make_workshop(kilns=(closed, hot))
    pierced = make_bead(pierced=True)
    for bead, key in (
        (pierced, "clay"),
        (make_bead(), "drum"),
        (make_bead(fired_in="hot"), "clay"),
    ):
        order = make_order(workshop=make_workshop(kilns=workshop.kilns, beads={"pea": bead}))
        assert _firing(cost_order(order)).kiln == key


def test_what_is_done_once_a_run_is_borne_by_the_fair_share_of_its_rounds():
    kiln, rounds = make_kiln(places=24, usual=RUN, hands=2), 7
    rate = make_rate("Lighting", skill="firing", basis="run", minutes_each=D(70))
    costing = _costing(kiln, rates=(rate,))
    (lighting,) = costing.labour
    # Fair rounds ÷ 7 rounds a run, 70 minutes each.
    share = _firing(costing).share
    assert lighting.units == pytest.approx(share / rounds)
    assert lighting.minutes == pytest.approx(share / rounds * 70)
    for path, term in order_tree(costing).paths():
        assert same(recompute(term), term.value), path


def test_a_closed_kiln_has_no_runs_to_bear():
    rate = make_rate("Lighting", skill="firing", basis="run", minutes_each=D(70))
    costing = _costing(make_kiln("drum"), rates=(rate,))
    assert all(step.minutes == 0 for step in costing.labour)


def test_what_a_load_takes_out_of_the_drawer_holds_its_part_of_the_run_and_no_bead_the_whole():
    kiln = make_kiln(places=24, usual=RUN)
    by_run = make_rate("Lighting", skill="firing", basis="run", minutes_each=D(70), piece=D(14))
    paid, unpaid = _costing(kiln, rates=(by_run,)), _costing(kiln, rates=())
    assert paid.pocket == unpaid.pocket  # lighting is not paid by the bead
    lit = (NewLoad(kiln.key, (LoadPart("pea", 1, _firing(paid).fills),)),)
    found = [with_new_loads(each, lit).loads_cost for each in (paid, unpaid)]
    # 14.00 for lighting, 7 rounds a run: 2.00 of the round that is lit for it.
    assert found[0] - found[1] == pytest.approx(D(2))


def the_order_of_the_worked_example():
    """30 fills of one place: 24 kg of moulds, 0.72 kg of glass; two hands draw one by one."""
    hot = make_kiln(
        places=24, usual=RUN, hands=2, usual_fill=D("0.8"), wear_per_load=D("1.20"),
        fuel_per_load=None, fuel_price=D("0.14"), body_mj=D("68.79"), loss_kw=D("6.832"),
        fire_efficiency=D("0.36"),
    )  # fmt: skip
    bead = make_bead(
        firings=(BeadFiringFacts("chunks", "m", D(0)),), volume_mm3=D(9600), pierced=True,
        pierce_min=D("0.7"),
    )  # fmt: skip
    tending = make_rate("Tending", skill="firing", basis="load", minutes_each=D(10), hourly=D(6))
    lighting = make_rate("Lighting", skill="firing", basis="run", minutes_each=D(70), hourly=D(6))
    workshop = make_workshop(
        beads={"pea": bead}, kilns=(hot,), rates=(tending, lighting), workshop_minute=D("0.05"),
        moulds={"m": MouldFacts("m", "Moulds", 1, 100, 1, D(800))},
        programmes={"chunks": ProgrammeFacts("chunks", "Chunks", D(800), D(30))},
        designs={"bracelet": make_design(finished_mm=D(300))},
    )  # fmt: skip
    return hot, cost_order(make_order(1, workshop))


def test_an_order_bears_its_fair_rounds_and_their_part_of_the_run_on_the_full_cost_floor():
    """Rows share_fair_loads, share_hot and fuel_order of the published definition of fair rounds:
    30 ÷ (0.8 × 24) = 1.5625 rounds, 91.97 minutes, 14.03 kg of wood."""
    _hot, costing = the_order_of_the_worked_example()
    firing = _firing(costing)
    assert (firing.fills, firing.places, firing.share) == (30, 30, D("1.5625"))
    assert firing.kiln_min == pytest.approx(D("91.973"), abs=D("0.005"))
    assert firing.fuel_amount == pytest.approx(D("14.03"), abs=D("0.03"))
    lighting, tending = sorted(costing.labour, key=lambda step: step.step)
    assert tending.minutes == pytest.approx(D("15.625"))  # 10 a round
    assert lighting.minutes == pytest.approx(D("15.625"))  # 70 a run of 7 rounds
    # Wood at 0.14, wear 1.20 a round, hands at 0.10 and workshop costs at 0.05 a minute.
    hands = D("31.25") * (D("0.10") + D("0.05"))
    kiln = firing.fuel_amount * D("0.14") + D("1.5625") * D("1.20") + hands
    assert costing.cost - costing.glass_cost == pytest.approx(kiln, abs=D("0.000001"))


def test_a_round_lit_for_it_leaves_the_drawer_whole_and_one_it_joins_takes_nothing():
    """A usual round: 19.2 moulds of 0.8 kg and their glass, a seventh of the body, the loss of
    0.9810 hours. Sums of the worked example of a fair load, with n = 1."""
    hot, costing = the_order_of_the_worked_example()
    contents = heat_of_load_mj(0.024 * 19.2, 0.8 * 19.2, 800)
    hours = (10 + 30 + 85 / 7 + 19.2 * 0.7 / 2) / 60
    wood = fuel_needed(fair_heat_mj(contents, 1, hours, 68.79, 6.832, 7), 14.3114, 0.36)
    lit = NewLoad(hot.key, (LoadPart("pea", 1, 24),))
    assert costing.loads_cost == 0  # it joins what is planned
    assert float(with_new_loads(costing, (lit,)).loads_cost) == pytest.approx(
        wood * 0.14 + 1.20, abs=0.005
    )
    assert with_new_loads(costing, (lit, lit)).loads_cost == pytest.approx(
        2 * with_new_loads(costing, (lit,)).loads_cost
    )
