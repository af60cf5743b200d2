"""What a load, a minute, a mould and a bead cost, against rows worked outside the program."""

from datetime import date
from decimal import Decimal as D

import pytest

from tests.costing.checks import agrees
from workshop.costs.amounts import six
from workshop.costs.kiln import (
    EndedLoad,
    LoadCost,
    empty_places,
    into_goods,
    place_cost,
    usual_fill,
)
from workshop.costs.minutes import (
    employer_share,
    minute_pay,
    minutes_each,
    mould_wear,
    piece_each,
    usual_life,
    workshop_minute,
)
from workshop.costs.sorting import sort_value, usual_rejects
from workshop.costs.standard_bead import BeadSteps, FiringOf, GlassOf, standard_cost
from workshop.physics.heat import heat_mj, heating_value_mj

M, W = D("0.15"), D("0.10")
SANDBAR_LOAD = LoadCost(
    fuel=30 * D("0.14"),
    hands=minutes_each(D(55), D("0.10")) * M,
    workshop=minutes_each(D(55), D("0.10")) * W,
    wear=D("1.20"),
)


# --- minutes, pay, wear --------------------------------------------------------------------------


def test_a_minute_of_work_costs_pay_and_employers_share():
    agrees("PAY-MIN", minute_pay(D("7.20"), D("0.25")))
    agrees("RATE-NEW", six(D("581.18") * minute_pay(D("7.92"), D("0.25"))))


def test_workshop_costs_go_by_the_mean_minutes_of_closed_months():
    agrees("W-MIN", workshop_minute(D(90), [D(880), D(940), D(880)]))
    months = [5000, 5600, 4900, 5100, 5300, 5200, 4700, 5500, 5400, 5050, 5150, 5250, 5600]
    agrees("W-2", workshop_minute(D(520), [D(month) for month in months]))


def test_before_three_months_are_closed_the_owners_figure_or_the_opening_hours_stand_in():
    assert workshop_minute(D(90), [D(880)], owner_minutes=D(1000)) == D("0.09")
    # 0.60 × 25 days × 480 min × 2 hands = 14,400 min
    assert workshop_minute(D(144), [], open_minutes=D(25 * 480 * 2)) == D("0.01")
    assert workshop_minute(D(144), []) == 0


def test_minutes_follow_the_bead_or_its_pattern():
    agrees("MIN-PLAIN", minutes_each(D("6.5"), D("0.12")))
    agrees("MIN-STRIPES", minutes_each(D("6.5"), D("0.12"), factor=D(2)))
    agrees("MIN-OWN", minutes_each(D("6.5"), D("0.12"), factor=D(2), own_min=D(9)))
    agrees("MIN-BREAK", minutes_each(D(8), D("0.10")))
    agrees("MIN-POUND", minutes_each(D(26), D("0.10")))


def test_pay_by_the_piece_follows_the_work_in_the_piece():
    agrees("PIECE-FACTOR", piece_each(D("0.05"), D("0.22"), factor=D(2)))
    agrees("PIECE-OWN", piece_each(D("0.05"), D("0.22"), factor=D("1.5"), own_piece=D("0.09")))


def test_the_employers_share_holds_paid_time_not_worked_and_contributions():
    agrees("ONCOST", employer_share(D(2080), D(1832), D("0.2375")))
    assert employer_share(D(1), D(1), D("0.2375")) == D("0.2375")  # hands paid when they work


def test_a_mould_wears_by_its_fillings():
    agrees("WEAR", mould_wear(D(6), usual_life(0, 0)))
    agrees("LIFE", usual_life(430, 11))


# --- the kiln ------------------------------------------------------------------------------------


def test_usual_fill_is_measured_over_the_loads_of_a_year():
    ten = [EndedLoad(date(2026, 3, 5), p, 24) for p in (7, 12, 9, 6, 11, 8, 10, 9, 13, 11)]
    agrees("FILL-1", usual_fill(ten, date(2026, 4, 20)).share)
    loads = [
        EndedLoad(date(2025, 2, 20), 18, 20),
        EndedLoad(date(2025, 5, 6), 0, 20),
        EndedLoad(date(2025, 6, 3), 5, 20),
        *(EndedLoad(date(2025, 8, 1), p, 20) for p in (6, 4, 7, 8, 5, 6, 3, 7, 6, 5, 8)),
        EndedLoad(date(2026, 3, 2), 20, 20),
    ]
    agrees("FILL-2", usual_fill(loads, date(2026, 3, 6)).share)


def test_with_too_few_loads_the_whole_workshop_stands_in_and_then_a_starting_figure():
    loads = [EndedLoad(date(2026, 2, 1), 10, 30, "A")] * 6
    loads += [EndedLoad(date(2026, 2, 1), 5, 12, "B")] * 3
    found = usual_fill(loads, date(2026, 3, 1), kiln="B")
    agrees("FILL-3", found.share)
    assert (found.source, found.loads) == ("workshop", 9)
    agrees("FILL-4", usual_fill(loads[:7], date(2026, 3, 1)).share)


def test_the_owners_word_goes_before_what_was_measured_and_stands_beside_it():
    loads = [EndedLoad(date(2026, 2, 1), 31, 100)] * 9
    found = usual_fill(loads, date(2026, 3, 1), owner=D("0.50"))
    agrees("FILL-5", found.share)
    assert found.measured == D("0.31")


def test_only_the_latest_fifty_loads_count():
    old = [EndedLoad(date(2025, 6, 1), 20, 20)] * 30
    new = [EndedLoad(date(2026, 2, 1), 5, 20)] * 50
    assert usual_fill([*new, *old], date(2026, 3, 1)).share == D("0.25")


def test_a_load_costs_fuel_hands_workshop_and_wear():
    agrees("LOAD-1", SANDBAR_LOAD.whole)
    agrees("PLACE-1", place_cost(SANDBAR_LOAD, 24, D("0.40")))


def test_a_fuller_load_puts_in_what_it_costs_and_an_emptier_one_leaves_the_rest_over():
    agrees("FIRE-FULLER", sum(into_goods(SANDBAR_LOAD, 10, 24, D("0.40")).values()))
    agrees("FIRE-EMPTIER", sum(into_goods(SANDBAR_LOAD, 4, 24, D("0.40")).values()))
    agrees("EMPTY-1", six(empty_places(SANDBAR_LOAD, 4, 24, D("0.40"))))
    agrees("EMPTY-2", empty_places(SANDBAR_LOAD, 10, 24, D("0.40")))


def test_fuel_of_a_load_that_was_never_weighed_is_the_heat_of_a_usual_one():
    fills = D("0.40") * 24  # of a mould of one place
    heat = heat_mj(fills * 16 * D("2.156"), fills * 1200, D(760))
    agrees("HEAT-LOAD", heat / D("0.12") / heating_value_mj("wood", D("0.20")))


# --- sorting -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("check", "count", "rate"),
    [
        ("USUAL-160", 160, "0.08"),
        ("USUAL-10", 10, "0.08"),
        ("USUAL-500", 500, "0.034"),
        ("USUAL-208", 208, "0.10"),
        ("USUAL-50", 50, "0.5"),
    ],
)
def test_the_most_rejects_that_are_still_usual(check, count, rate):
    agrees(check, usual_rejects(count, D(rate)))


def test_a_limit_that_is_a_whole_number_is_itself_still_usual():
    # c 100, q 0.1: 10 + 3 × √9 = 19 exactly
    assert usual_rejects(100, D("0.1")) == 19


def test_normal_loss_brings_its_scrap_and_abnormal_loss_is_valued_like_good_output():
    whole = D(1000 * 18 + 1800 + 900)
    found = sort_value(whole, good=900, rejects=100, reject_rate=D("0.1"), scrap=100 * D("1.80"))
    agrees("PROC-1", found.each)
    found = sort_value(D(52800), good=2700, rejects=300, reject_rate=D("0.1"))
    agrees("PROC-2", round(found.each, 4))
    # 900 expected of 1,000, 860 came: 40 broke beyond the normal loss of 100
    found = sort_value(D(4500), good=860, rejects=100, broken=40, reject_rate=D("0.1"))
    assert (found.each, found.good, found.accidents) == (D(5), D(4300), D(200))  # PROC-3


def test_rejects_beyond_the_usual_are_expensed():
    found = sort_value(
        D(60), good=118, rejects=40, broken=2, reject_rate=D("0.08"), scrap=D("0.02")
    )
    agrees("ABN-GOOD", found.good)
    agrees("ABN-ACC", found.accidents)
    agrees("ABN-BEYOND", found.beyond)
    assert found.good + found.accidents + found.beyond + found.scrap == 60


def test_when_nothing_came_good_all_but_the_scrap_is_expense():
    found = sort_value(D(10), good=0, rejects=8, broken=2, reject_rate=D("0.08"), scrap=D(1))
    assert (found.good, found.scrap) == (0, 1)
    assert found.accidents + found.beyond == 9


# --- the standard cost of a good bead -------------------------------------------------------------


def firing(q: str, reject_g: D, cavities: int, fill_cost: str) -> FiringOf:
    return FiringOf(
        D(q), 1, cavities, place_cost(SANDBAR_LOAD, 24, D("0.40")), D(fill_cost), reject_g
    )


POWDER = GlassOf(D(1), D("0.00016"), D("0.97") * D("0.90"), minutes_each(D(30), D("0.1")) / 4000)


def test_the_standard_cost_of_a_tide_bead():
    bead = BeadSteps(
        fill_g=D("2.2"),
        glass=[POWDER],
        firings=[firing("0.08", D("2.09") / D("0.97"), 16, "0.17")],
        moulding=minutes_each(D("6.5"), D("0.12")) * (M + W) / 16,
        polishing=minutes_each(D("0.12"), D("0.10")) * (M + W),
    )
    agrees("STD-TIDE", standard_cost(bead))


def test_the_standard_cost_of_a_night_bead():
    bead = BeadSteps(
        fill_g=D("3.5"),
        glass=[POWDER],
        firings=[firing("0.10", D("3.3"), 12, "0.22")],
        moulding=minutes_each(D("6.5"), D("0.12"), factor=D("1.8")) * (M + W) / 12,
        polishing=minutes_each(D("0.12"), D("0.10")) * (M + W),
    )
    agrees("STD-NIGHT", standard_cost(bead))
