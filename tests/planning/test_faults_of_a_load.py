"""Rules that stand against a load a keeper moved by hand. The workshops are invented."""

import pytest

from orders.planning.faults import faults
from orders.planning.instance import Item, Load, Plan
from orders.planning.json_form import instance_from_json
from tests.planning.small import firing, instance, job, kiln, mould


def load(start, *items, in_kiln="K1", temp=730, minutes=30):
    return Load(in_kiln, start, temp, minutes, tuple(items))


def templates(given, loads, of):
    return [fault.sentence for fault in faults(given, Plan(tuple(loads)), of)]


@pytest.mark.parametrize(("dries_min", "stands"), [(0, True), (60, True), (61, False)])
def test_the_second_firing_waits_until_the_paint_is_dry(dries_min, stands):
    """Lit at 480, 60 to heat, 30 to hold, 90 to cool: out at 660; the second is lit at 720."""
    twice = job(gap_min=dries_min, qty=12, firings=[firing(), firing()])
    given = instance_from_json(instance([twice]))
    first, second = load(480, Item("J1", 1, 1, 12)), load(720, Item("J1", 2, 1, 12))
    assert (templates(given, (first, second), second) == []) is stands


@pytest.mark.parametrize(("rests_min", "stands"), [(0, True), (60, True), (61, False)])
def test_a_mould_that_rests_after_another_load_is_not_free_for_this_one(rests_min, stands):
    """One mould is owned. The first load ends at 660; this one, in another kiln, begins at 720."""
    given = instance_from_json(
        instance(
            [job(qty=12), job("J2", "O2", qty=12)],
            kilns=[kiln(), kiln("K2")],
            moulds=[mould(count=1, hold_min=rests_min)],
        )
    )
    other = load(480, Item("J1", 1, 1, 12))
    this = load(720, Item("J2", 1, 1, 12), in_kiln="K2")
    assert (templates(given, (other, this), this) == []) is stands


def test_two_that_share_no_heat_are_named_with_both_their_windows():
    cool, warm = firing(temp=(600, 700)), firing(temp=(720, 800))
    jobs = [job(qty=12, firings=[cool]), job("J2", "O2", qty=12, firings=[warm])]
    given = instance_from_json(instance(jobs, moulds=[mould(count=4)]))
    both = load(480, Item("J1", 1, 1, 12), Item("J2", 1, 1, 12), temp=710)
    told = faults(given, Plan((both,)), both)[0].params
    assert told == {
        "one": "J1", "one_low": "600", "one_high": "700",
        "two": "J2", "two_low": "720", "two_high": "800",
    }  # fmt: skip
