"""When the hands at the bench have time."""

import pytest

from orders.planning.bench import Bench, Step, free_minutes
from orders.planning.errors import PlanningError
from orders.planning.instance import Calendar

DAYS = Calendar(((480, 1020), (1920, 2460)))


def test_a_hand_that_is_half_free_takes_twice_the_clock():
    # 270 free of 540 working minutes: 60 minutes of work take 120 of the clock.
    bench = Bench(DAYS, {(0, "moulding"): 270})
    done = bench.do(Step("moulding", 60), 480)
    assert done.done_min == 600
    assert [(u.day, u.minutes) for u in done.uses] == [(0, 60)]


def test_work_that_does_not_fit_today_goes_on_tomorrow():
    # From 750 half the day is left: 135 of 270 free minutes; 15 more tomorrow take 30.
    bench = Bench(DAYS, {(0, "moulding"): 270, (1, "moulding"): 270})
    done = bench.do(Step("moulding", 150), 750)
    assert done.done_min == 1950
    assert [(u.day, round(u.minutes)) for u in done.uses] == [(0, 135), (1, 15)]


def test_minutes_once_promised_are_gone():
    bench = Bench(DAYS, {(0, "moulding"): 270, (1, "moulding"): 270})
    bench.do(Step("moulding", 270), 480)
    assert bench.do(Step("moulding", 10), 480).done_min > 1920


def test_what_is_committed_is_not_free():
    free = free_minutes({"moulding": 480}, [0, 1], {(0, "moulding"): 500})
    assert free == {(0, "moulding"): 0, (1, "moulding"): 480}
    assert Bench(DAYS, free).do(Step("moulding", 1), 480).done_min > 1920


def test_a_skill_nobody_counts_takes_one_pair_of_hands_by_the_clock():
    assert Bench(DAYS, {}).do(Step("painting", 600), 480).done_min == 1980


def test_steps_follow_one_another():
    bench = Bench(DAYS, {(0, "polishing"): 540, (0, "stringing"): 540})
    done, times = bench.do_all([Step("polishing", 100), Step("stringing", 50)], 480)
    assert done == 630
    assert [t.done_min for t in times] == [580, 630]


def test_no_work_takes_no_time():
    assert Bench(DAYS, {}).do(Step("painting", 0), 1100).done_min == 1100


def test_a_bench_without_time_says_so():
    bench = Bench(DAYS, {(0, "stringing"): 30, (1, "stringing"): 20})
    with pytest.raises(PlanningError, match="70 minutes of stringing.*20 minutes find no place"):
        bench.do(Step("stringing", 70), 480)
    with pytest.raises(PlanningError, match="Add working days"):
        bench.do(Step("painting", 5000), 480)
