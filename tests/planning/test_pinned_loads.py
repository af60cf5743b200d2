"""Loads the keeper has fixed stay as they are; days without firing stay empty."""

from dataclasses import replace

import pytest

from orders.planning.instance import Calendar, Item, Load, PinnedLoad
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.replan import replan
from tests.planning.checker import violations
from tests.planning.instances import workshop
from tests.planning.small import firing, instance, job, two_that_may_share

PINNED = Load("K1", 700, 740, 28, (Item("J1", 1, 3, 36),))


@pytest.mark.parametrize("sealed", [True, False])
def test_a_pinned_load_keeps_its_place_and_what_is_in_it(sealed):
    data = two_that_may_share()
    pinned = PinnedLoad(PINNED, sealed=sealed)
    base = replace(instance_from_json(data), pinned=(pinned,))
    found = replan(base, steps=100)
    assert violations(data, plan_to_json(found.plan)) == []
    (kept,) = [load for load in found.plan.loads if load.start_min == 700]
    assert (kept.temp_c, kept.minutes) == (740, 28)
    assert PINNED.items[0] in kept.items
    # Sealed, nothing joins: the other 24 beads of J1 and all of J2 need a load of their own.
    # Not sealed, the five moulds still to place find five free moulds in the load itself.
    assert found.key.loads == (2 if sealed else 1)


def test_work_planned_around_many_pinned_loads_keeps_every_rule():
    data = workshop(80, 2, 3)
    base = instance_from_json(data)
    first = replan(base, steps=50).plan
    kept = first.loads[::3]
    pins = tuple(PinnedLoad(load, sealed=n % 2 == 0) for n, load in enumerate(kept))
    again = replan(replace(base, pinned=pins), steps=150, seed=4).plan
    assert violations(data, plan_to_json(again)) == []
    places = {(load.kiln, load.start_min): load for load in again.loads}
    for number, load in enumerate(kept):
        stands = places[load.kiln, load.start_min]
        assert (stands.temp_c, stands.minutes) == (load.temp_c, load.minutes)
        assert stands.items[: len(load.items)] == load.items
        if number % 2 == 0:
            assert stands.items == load.items


def test_a_temperature_that_may_move_lets_a_hotter_job_join():
    # Planned at 700 °C for J1 (700 to 760); J2 needs 720 to 800: together 720.
    data = two_that_may_share()
    planned = Load("K1", 480, 700, 25, (Item("J1", 1, 5, 60),))
    base = instance_from_json(data)
    for fixed, loads in ((True, 2), (False, 1)):
        pin = PinnedLoad(planned, sealed=False, temp_fixed=fixed)
        found = replan(replace(base, pinned=(pin,)), steps=50)
        assert found.key.loads == loads
        assert violations(data, plan_to_json(found.plan)) == []


def test_a_temperature_that_may_move_stays_where_it_suits():
    # More of J1 joins it, 700 to 760 °C as well: nothing asks for another than the 740 planned.
    planned = PinnedLoad(PINNED, sealed=False, temp_fixed=False)
    base = replace(instance_from_json(instance([job(qty=60)])), pinned=(planned,))
    (kept,) = replan(base, steps=20).plan.loads
    assert (kept.start_min, kept.temp_c) == (700, 740)
    assert sum(item.beads for item in kept.items) == 60


def test_no_load_on_a_day_without_firing():
    calendar = Calendar(((480, 1020), (1920, 2460), (3360, 3900))).without_days({0})
    base = instance_from_json(instance())
    found = replan(replace(base, calendar=calendar), steps=20)
    assert min(load.start_min for load in found.plan.loads) >= 1920


def test_a_night_shift_is_cut_at_midnight_by_a_day_without_firing():
    assert Calendar(((1200, 1800),)).without_days({1}).open == ((1200, 1440),)
    assert Calendar(((1200, 1800),)).without_days({0}).open == ((1440, 1800),)


def test_the_one_minute_past_midnight_is_of_the_next_day():
    assert Calendar(((1200, 1441),)).without_days({1}).open == ((1200, 1440),)
    assert Calendar(((1200, 1440),)).without_days({1}).open == ((1200, 1440),)
    assert Calendar(((1200, 1800),)).without_days({5}).open == ((1200, 1800),)


def test_a_kiln_under_repair_stays_cold():
    base = instance_from_json(instance())
    kiln = replace(base.kilns[0], closed=((0, 600), (700, 2000)))
    found = replan(replace(base, kilns=(kiln,)), steps=20)
    (load,) = found.plan.loads
    # 600 to 700 is too short for 175 minutes.
    assert load.start_min == 2000
    assert found.key.loads == 1


def test_the_second_firing_waits_for_a_pinned_first():
    data = instance(
        [job(qty=24, gap_min=30, firings=[firing(), firing()])],
    )
    pin = PinnedLoad(Load("K1", 480, 700, 25, (Item("J1", 1, 2, 24),)))
    found = replan(replace(instance_from_json(data), pinned=(pin,)), steps=20)
    assert violations(data, plan_to_json(found.plan)) == []
    second = max(load.start_min for load in found.plan.loads)
    # 480 + 175 + 30.
    assert second == 685
