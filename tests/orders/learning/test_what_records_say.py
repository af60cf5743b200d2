"""What records say: rejects, yields, minutes and fuel, each beside its standard."""

from decimal import Decimal as D

import pytest
from scipy.stats import binomtest

from orders.learning.queries.lessons import fuel, lessons, minutes, rejects, rejects_by, yields
from orders.learning.queries.reject_records import by_load, reject_records
from stock.models import GlassForm
from stock.services.preparation import prepare_glass, raw_of, ready
from tests.builders import make_bead, make_colour, make_kiln, make_programme, make_rate, put_glass
from tests.orders.learning.conftest import (
    days_ago,
    fire,
    make_batch,
    make_load,
    make_ticket,
    make_tray,
)


def test_a_bead_sorted_out_later_is_a_reject_of_the_load_it_was_in(workshop):
    # 200 in, 15 thrown out at the kiln, 5 more when sorted: 20 of 200.
    batch = make_batch(workshop["bead"], 200, 180)
    make_tray(make_load(workshop["kiln"]), batch, 200, 15)
    (row,) = rejects(reject_records())
    assert (row.standard, row.learned.value, row.learned.count) == (D("0.08"), D("0.1"), 200)
    # Wilson's interval, by scipy's own: binomtest(20, 200), 90 %.
    interval = binomtest(20, 200).proportion_ci(0.90, method="wilson")
    assert float(row.learned.low) == pytest.approx(interval.low, abs=1e-9)
    assert float(row.learned.high) == pytest.approx(interval.high, abs=1e-9)
    assert row.agrees  # 7.0 % to 14.0 % holds 8 %


def test_what_is_sorted_out_of_a_batch_in_two_loads_is_shared_by_the_beads_they_left(workshop):
    # 60 + 40 in, 10 + 0 out at the kilns, 9 more sorted out: 50 and 40 left, so 5 and 4.
    batch = make_batch(workshop["bead"], 100, 81)
    make_tray(make_load(workshop["kiln"], starts_at=days_ago(5)), batch, 60, 10)
    make_tray(make_load(workshop["kiln"], starts_at=days_ago(4)), batch, 40, 0)
    assert [(out, n) for _first, out, n in by_load(reject_records())] == [(15, 60), (4, 40)]


def test_a_batch_that_is_not_sorted_yet_says_nothing(workshop):
    batch = make_batch(workshop["bead"], 100, 40, rejected=5)
    make_tray(make_load(workshop["kiln"]), batch, 100, 3)
    assert reject_records() == []


def test_the_two_firings_of_a_painted_bead_are_learned_apart(workshop):
    paint = make_programme("Paint", kind="painted", hold_c=660)
    bead = make_bead("Painted", kind="painted", second_programme=paint)
    # 100 in, 10 out; of 90 painted 9 more: 10 % and 10 %, not 19 %.
    batch = make_batch(bead, 100, 81)
    make_tray(make_load(workshop["kiln"], starts_at=days_ago(5)), batch, 100, 10)
    make_tray(make_load(workshop["kiln"], starts_at=days_ago(3)), batch, 90, 9, firing=2)
    found = {row.kind: row.learned for row in rejects(reject_records())}
    assert (found["rejects"].value, found["rejects"].count) == (D("0.1"), 100)
    assert (found["rejects-2"].value, found["rejects-2"].count) == (D("0.1"), 90)


def test_rejects_are_seen_by_kiln_mould_and_keeper_too(workshop):
    fire(workshop, 100, 10, keeper=workshop["keeper"])
    other = make_load(make_kiln("Pit"), keeper=workshop["keeper"])
    make_tray(other, make_batch(workshop["bead"], 50, 40), 50, 10)
    records = reject_records()
    assert [(r.name, r.learned.value) for r in rejects_by(records, "kiln")] == [
        ("Clay kiln", D("0.1")),
        ("Pit", D("0.2")),
    ]
    assert [r.learned.count for r in rejects_by(records, "mould")] == [150]
    assert [r.learned.count for r in rejects_by(records, "keeper")] == [150]


def test_older_records_are_left_out_when_a_day_is_given(workshop):
    fire(workshop, 100, 50, starts_at=days_ago(200))
    fire(workshop, 100, 10)
    assert rejects(reject_records(days_ago(91).date()))[0].learned.value == D("0.1")
    assert rejects(reject_records())[0].learned.value == D("0.3")


def test_a_yield_is_total_out_by_total_in_with_washing_divided_out(workshop):
    green = make_colour()
    put_glass(green, GlassForm.RAW, 15)
    for raw_kg, out_kg in ((10, D("8.5")), (5, D("4.4"))):
        prepare_glass(
            [raw_of(green, raw_kg * 1_000_000)],
            [ready(green, GlassForm.POWDER, int(out_kg * 1_000_000))],
            form=GlassForm.POWDER,
            person=workshop["owner"],
            minutes=60,
        )
    (row,) = yields()
    # 12.9 kg of 15 kg is 0.86; washing leaves 0.97; 0.86 / 0.97 = 0.886598.
    assert (row.subject, row.standard, row.learned.value) == ("green", D("0.9"), D("0.8866"))
    assert row.learned.count == 2


def test_glass_of_two_colours_ground_together_tells_nothing_of_either(workshop):
    green, amber = make_colour(), make_colour("amber")
    put_glass(green, GlassForm.RAW, 5)
    put_glass(amber, GlassForm.RAW, 5)
    prepare_glass(
        [raw_of(green, 2_000_000), raw_of(amber, 2_000_000)],
        [ready(green, GlassForm.POWDER, 3_400_000)],
        form=GlassForm.POWDER,
        person=workshop["owner"],
    )
    assert yields() == []


def test_minutes_of_a_step_leave_out_one_set_up_an_order(workshop):
    make_rate("Threading", minutes_each=D(6), setup_min=D(5), allowance=D("0.10"), hourly=D(10))
    make_ticket("Threading", 6, 40, ref="order 1")
    make_ticket("Threading", 4, 25, ref="order 1")
    make_ticket("Threading", 10, 75, ref="order 2")
    (row,) = minutes()
    # (40 + 25 − 5) + (75 − 5) = 130 min for 20 strands; the standard is 6 × 1.10.
    assert (row.learned.value, row.learned.count) == (D("6.5"), 2)
    assert row.standard == D("6.6")


def test_minutes_of_preparing_are_those_of_all_its_steps(workshop):
    make_rate("Washing", skill="preparing", basis="kg", minutes_each=D(9), allowance=D("0.10"))
    make_rate("Grinding", skill="preparing", basis="kg", minutes_each=D(20), allowance=D("0.10"))
    green = make_colour()
    put_glass(green, GlassForm.RAW, 5)
    prepare_glass(
        [raw_of(green, 5_000_000)],
        [ready(green, GlassForm.POWDER, 4_000_000)],
        form=GlassForm.POWDER,
        person=workshop["owner"],
        minutes=140,
    )
    (row,) = minutes()
    # 140 min for 4 kg; the standards are (9 + 20) × 1.10.
    assert (row.learned.value, row.standard) == (D(35), D("31.9"))


def test_fuel_is_the_mean_of_the_loads_that_were_weighed(workshop):
    # Mean and interval of a textbook sample: 1.25 ± 2.13185 × 0.0790569 / √5 at 90 % (t with 4
    # degrees of freedom, from memory; scipy gives the same), here ten times as much.
    for amount in ("12", "13", "12.5", "13.5", "11.5"):
        make_load(workshop["kiln"], fuel_used=D(amount))
    make_load(workshop["kiln"])
    (row,) = fuel()
    assert (row.standard, row.learned.value, row.learned.count) == (None, D("12.5"), 5)
    assert float(row.learned.high) == pytest.approx(
        12.5 + 10 * 2.13185 * 0.0790569 / 5**0.5, abs=1e-4
    )


def test_the_number_of_queries_does_not_grow_with_the_records(
    workshop, django_assert_max_num_queries
):
    for number in range(12):
        bead = make_bead(f"Bead {number}")
        make_tray(make_load(workshop["kiln"], fuel_used=D(20)), make_batch(bead, 50, 45), 50, 5)
    with django_assert_max_num_queries(17):
        assert len(lessons().rejects) == 12
