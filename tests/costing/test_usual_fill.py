"""An order bears its part of a usual load, and the time its own beads take.

Source: IAS 2.13 (normal capacity); the rows of true_cost_checks.csv.
"""

from dataclasses import replace

from orders.costing.cost_order import cost_order
from tests.costing.builders import D, make_bead, make_kiln, make_order, make_rate, make_workshop


def hands(costing, step: str):
    return next(work for work in costing.labour if work.step == step)


def order_of(kiln=None, bead=None, rates=()):
    changes = {}
    if kiln:
        changes["kilns"] = (kiln,)
    if bead:
        changes["beads"] = {bead.key: bead}
    if rates:
        changes["rates"] = tuple(rates)
    return cost_order(make_order(workshop=make_workshop(**changes)))


def test_a_place_of_a_kiln_that_is_never_full_costs_its_part_of_a_usual_load():
    full = make_kiln(places=24, fuel_per_load=D(30), fuel_price=D("0.14"))
    usual = replace(full, usual_fill=D("0.40"))
    # A place costs L ÷ 9.6, not L ÷ 24: 2.5 times as much (PLACE-1 works with the same kiln).
    assert abs(order_of(usual).fuel_cost - order_of(full).fuel_cost * D("2.5")) < D("1e-20")


def test_striped_beads_take_longer_by_their_pattern_and_pay_follows():
    rate = make_rate(step="Moulding", skill="moulding", basis="mould", minutes_each=D("6.5"))
    plain = order_of(rates=[rate])
    bead = make_bead(times_longer=(("moulding", D(2)),))
    longer = order_of(bead=bead, rates=[rate])
    base = hands(plain, "Moulding").setup_min
    took = hands(plain, "Moulding").minutes - base
    assert hands(longer, "Moulding").minutes - base == 2 * took
    own = order_of(bead=make_bead(own_minutes=(("moulding", D(13)),)), rates=[rate])
    assert hands(own, "Moulding").minutes == hands(longer, "Moulding").minutes


def test_breaking_is_not_pounding():
    pound = make_rate(key=1, step="Pounding", skill="preparing", basis="kg", form="powder")
    broken = make_rate(key=2, step="Breaking", skill="preparing", basis="kg", form="chunks")
    wash = make_rate(key=3, step="Washing", skill="preparing", basis="kg")
    bead = make_bead()
    steps = {work.step for work in order_of(rates=[pound, broken, wash]).labour}
    wanted = {"Washing", "Pounding" if bead.form == "powder" else "Breaking"}
    assert {"Washing", "Pounding", "Breaking"} & steps <= wanted


def test_the_employers_share_comes_on_top_of_every_hour():
    rate = make_rate(step="Moulding", skill="moulding", basis="mould", hourly=D("7.20"))
    without = hands(order_of(rates=[rate]), "Moulding").cost
    on_top = hands(order_of(rates=[replace(rate, employer_share=D("0.25"))]), "Moulding")
    assert on_top.cost == without * D("1.25")
