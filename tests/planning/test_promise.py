"""The counter promise: an honest date, from room in planned loads and new ones mixed."""

from dataclasses import replace
from random import Random

import pytest

from orders.planning.bench import Step
from orders.planning.errors import PlanningError
from orders.planning.instance import Firing, Instance, Item, Job, Load, Plan
from orders.planning.json_form import instance_from_json, instance_to_json, plan_to_json
from orders.planning.promise import Bounds, Wanted, promise
from orders.planning.replan import replan
from orders.planning.times import kiln_minutes, plan_times
from tests.planning.checker import violations
from tests.planning.every_plan import best_key
from tests.planning.instances import workshop
from tests.planning.small import instance, job, kiln, mould, planned, with_reservations
from tests.planning.test_best_of_every_plan import tiny_workshop

ASKED = Job("N1", "", 60, 0, 0, (Firing("round-12", 12, (700, 760), (25, 35)),))


def board(moulds_in_load: int, **changes) -> tuple[dict, Instance]:
    """One load planned at 480, with so many moulds of J1 in it; ten places, 20 moulds."""
    data = instance([job(qty=12 * moulds_in_load)], moulds=[mould(count=20)], **changes)
    load = Load("K1", 480, 700, 25, (Item("J1", 1, moulds_in_load, 12 * moulds_in_load),))
    base = instance_from_json(data)
    return data, planned(base, Plan((load,)))


def test_room_in_a_planned_load_is_used_and_costs_no_kiln_time():
    _, base = board(5)
    found = promise(base, [Wanted(ASKED)])
    assert found.ready_min == 655
    assert found.extra_kiln_min == 0
    (place,) = found.reservations
    assert (place.kiln, place.start_min, place.new) == ("K1", 480, False)
    assert place.items == (Item("N1", 1, 5, 60),)


def test_planned_room_and_a_new_load_are_mixed():
    # Five moulds wanted, two places free: two join at 480, three go in a new load at 655.
    _, base = board(8)
    found = promise(base, [Wanted(ASKED)])
    assert [(r.start_min, r.new, r.items[0].moulds) for r in found.reservations] == [
        (480, False, 2),
        (655, True, 3),
    ]
    assert sum(r.items[0].beads for r in found.reservations) == 60
    assert found.ready_min == 655 + 175
    assert found.extra_kiln_min == 175


def test_mixing_can_be_a_day_earlier_than_all_in_new_loads():
    # 16 moulds wanted, 10 places a load, one day with room for two more loads after the first;
    # eight join the planned load, eight go in one new load: out at 830, not 1005.
    _, base = board(2)
    found = promise(base, [Wanted(replace(ASKED, beads=16 * 12))])
    assert found.ready_min == 830
    assert found.extra_kiln_min == 175


def test_a_planned_load_warms_a_little_for_a_job_that_joins():
    _, base = board(5)
    hotter = replace(ASKED, firings=(Firing("round-12", 12, (720, 800), (20, 30)),))
    found = promise(base, [Wanted(hotter)])
    (place,) = found.reservations
    assert (place.temp_c, place.new) == (720, False)


def test_nothing_joins_a_sealed_load():
    data, base = board(5)
    base = planned(base, Plan(tuple(pin.load for pin in base.pinned)), sealed=frozenset({0}))
    found = promise(base, [Wanted(ASKED)])
    assert [(r.start_min, r.new) for r in found.reservations] == [(655, True)]
    assert data["jobs"][0]["id"] == "J1"


def test_bench_and_kiln_follow_one_another():
    # By hand: moulding 60 min at half a hand (270 free of 540) takes 120: ready 600; the planned
    # load left at 480, so a new one runs 655 to 830; stringing 54 min at 108 free of 540 (one
    # fifth of the clock) takes 270: 830 + 190 to closing at 1020, then 80 after 1920: 2000.
    _, base = board(5)
    free = {(d, "moulding"): 270.0 for d in range(3)} | {(d, "stringing"): 108.0 for d in range(3)}
    found = promise(
        base,
        [Wanted(ASKED, before=(Step("moulding", 60),))],
        Bounds(now_min=480, free_bench_min=free),
        assembly=(Step("stringing", 54),),
    )
    assert found.fired_min == 830
    assert found.ready_min == 2000
    assert sum(use.minutes for use in found.bench if use.skill == "stringing") == pytest.approx(54)
    assert found.terms[-1].value == 2000


def test_the_second_firing_waits_for_painting_and_gap():
    # Out at 655; painting 30 of the clock: 685, but the gap of 60 holds until 715.
    data = instance([], moulds=[mould(count=20)])
    twice = replace(ASKED, gap_min=60, firings=ASKED.firings * 2)
    free = {(0, "painting"): 540.0}
    found = promise(
        instance_from_json(data),
        [Wanted(twice, between=(Step("painting", 30),))],
        Bounds(free_bench_min=free),
    )
    starts = [r.start_min for r in found.reservations]
    assert starts == [480, 715]
    assert found.ready_min == 715 + 175


def test_the_reason_names_what_the_date_hangs_on():
    _, base = board(10)
    found = promise(base, [Wanted(ASKED)], Bounds(now_min=480))
    assert found.critical == "kiln"
    assert found.reason.startswith("The date hangs on kiln time: job N1")
    data = instance([job(qty=96)], kilns=[kiln("K1"), kiln("K2")], moulds=[mould(count=8)])
    load = Load("K1", 480, 700, 25, (Item("J1", 1, 8, 96),))
    found = promise(planned(instance_from_json(data), Plan((load,))), [Wanted(ASKED)])
    assert found.critical == "moulds"


def test_an_order_beyond_the_calendar_gets_a_sentence():
    _, base = board(5)
    with pytest.raises(PlanningError) as caught:
        promise(base, [Wanted(replace(ASKED, beads=12 * 500))])
    assert "N1" in str(caught.value) and "later working windows" in str(caught.value)


def test_a_closed_kiln_is_asked_for_no_hands_at_its_door_and_no_run():
    """Neither for room in a load that stands nor for a new one; only a round has these."""
    for moulds in (5, 10):
        _, base = board(moulds)
        found = promise(base, [Wanted(ASKED)])
        assert {(r.lit, r.hands, r.moved_to) for r in found.reservations} == {(False, 0, None)}


def test_kiln_minutes_of_closed_loads_are_those_from_lighting_to_free():
    # Preheat, 25 min of firing and cooling of one load take 175 min, as above.
    _, base = board(5)
    load = base.pinned[0].load
    for loads, minutes in (((), 0), ((load,), 175), ((load, replace(load, start_min=655)), 350)):
        assert kiln_minutes(plan_times(base, Plan(loads))) == minutes


def test_nothing_to_make_is_ready_now():
    _, base = board(5)
    assert promise(base, [], Bounds(now_min=500)).ready_min == 500


@pytest.mark.parametrize(
    ("seed", "kind"), [(1, {}), (2, {"past_closing": True}), (3, {"mixed_kilns": True})]
)
def test_a_chain_of_promises_moves_nothing_and_keeps_every_rule(seed, kind):
    data = workshop(120, 2, seed, **kind)
    everything = instance_from_json(data)
    jobs = list(everything.jobs[:90])
    plan = replan(replace(everything, jobs=tuple(jobs)), steps=30).plan
    for asked in everything.jobs[90:]:
        base = planned(replace(everything, jobs=tuple(jobs)), plan)
        found = promise(base, [Wanted(asked)])
        grown = with_reservations(plan, found)
        before = {(x.kiln, x.start_min): x for x in plan.loads}
        after = {(x.kiln, x.start_min): x for x in grown.loads}
        for place, load in before.items():
            assert after[place].minutes == load.minutes
            assert after[place].items[: len(load.items)] == load.items
        jobs.append(asked)
        plan = grown
    whole = instance_to_json(replace(everything, jobs=tuple(jobs)))
    assert violations(whole, plan_to_json(plan)) == []


def test_the_date_in_an_empty_workshop_is_the_earliest_there_is():
    """Against every plan of tiny one-job workshops; how often the earliest date is found."""
    found_earliest = 0
    tried = 0
    for seed in range(60):
        data = tiny_workshop(seed)
        data["jobs"] = data["jobs"][:1]
        data["orders"] = [{"id": data["jobs"][0]["order"], "due": 0}]
        best = best_key(data, horizon=90)
        base = instance_from_json({**data, "jobs": [], "orders": []})
        found = promise(base, [Wanted(instance_from_json(data).jobs[0])])
        assert found.ready_min >= best[4]
        tried += 1
        found_earliest += found.ready_min == best[4]
    assert found_earliest == tried


def test_extra_kiln_minutes_are_those_of_the_new_loads():
    rng = Random(1)
    data = workshop(60, 2, 4)
    everything = instance_from_json(data)
    base = replace(everything, jobs=everything.jobs[:50])
    plan = replan(base, steps=20).plan
    asked = rng.choice(everything.jobs[50:])
    found = promise(planned(base, plan), [Wanted(asked)])
    # 20 min preheat and 25 min turnaround in every kiln of this workshop.
    assert found.extra_kiln_min == sum(45 + r.minutes for r in found.reservations if r.new)
