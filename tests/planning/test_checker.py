"""The judge of plans notices every rule that is broken, one by one."""

import copy

import pytest

from tests.planning.checker import measured, violations
from tests.planning.small import firing, instance, job, kiln, mould

WORKSHOP = instance(
    [
        job("J1", "O1", 60, gap_min=60, firings=[firing(), firing()]),
        job("J2", "O2", 36, release=500, firings=[firing(temp=(720, 800), minutes=(20, 30))]),
    ],
    kilns=[kiln("K1"), kiln("K2")],
    moulds=[mould(count=8, hold_min=10)],
)
# Loads of 60 + 25 + 90 = 175 minutes; J1 is out at 675 and may be fired again from 735.
GOOD = {
    "loads": [
        {
            "kiln": "K1",
            "start": 500,
            "temp": 720,
            "minutes": 25,
            "items": [
                {"job": "J1", "firing": 1, "moulds": 5, "beads": 60},
                {"job": "J2", "firing": 1, "moulds": 3, "beads": 36},
            ],
        },
        {
            "kiln": "K1",
            "start": 735,
            "temp": 700,
            "minutes": 25,
            "items": [{"job": "J1", "firing": 2, "moulds": 5, "beads": 60}],
        },
    ]
}


def first(plan):
    return plan["loads"][0]


def spoiled(act):
    plan = copy.deepcopy(GOOD)
    act(plan)
    return violations(WORKSHOP, plan)


def test_a_good_plan_is_let_through_and_measured():
    assert violations(WORKSHOP, GOOD) == []
    # Due 5,000: nothing late. Twice 175 minutes. Out at 735 + 175.
    assert measured(WORKSHOP, GOOD) == (0, 0, 350, 2, 910)


BROKEN = {
    "too cold for the kiln": (lambda p: first(p).update(temp=499), "its kiln does not reach"),
    "too hot for one job": (lambda p: first(p).update(temp=790), "temperature for job J1"),
    "too short": (lambda p: first(p).update(minutes=24), "wrong time for job J1"),
    "half a minute": (lambda p: first(p).update(start=500.5), "not a whole minute"),
    "before the opening": (lambda p: first(p).update(start=400), "working window"),
    "ends after closing": (lambda p: p["loads"][1].update(start=846), "working window"),
    "before its release": (lambda p: first(p).update(start=499), "before job J2 is released"),
    "too many beads in a mould": (
        lambda p: first(p)["items"][0].update(moulds=4),
        "than cavities",
    ),
    "no mould": (lambda p: first(p)["items"][0].update(moulds=0), "counts moulds"),
    "a bead lost": (lambda p: first(p)["items"][0].update(beads=59), "59 beads of 60"),
    "a bead too many": (lambda p: p["loads"][1]["items"][0].update(beads=61), "of 60"),
    "a firing left out": (lambda p: p["loads"].pop(), "firing 2 fires 0"),
    "a third firing": (lambda p: first(p)["items"][0].update(firing=3), "does not have"),
    "painted too soon": (lambda p: p["loads"][1].update(start=734), "too early"),
    "an empty load": (lambda p: first(p).update(items=[]), "is empty"),
    "another field": (lambda p: first(p).update(note="hot"), "other fields"),
    "more than the shelf holds": (
        lambda p: first(p)["items"][1].update(moulds=6),
        "11 places of 10",
    ),
    "more moulds than owned": (lambda p: first(p)["items"][1].update(moulds=4), "9 moulds"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_one_broken_rule_is_noticed(case):
    act, words = BROKEN[case]
    found = spoiled(act)
    assert any(words in sentence for sentence in found), found


def test_two_loads_in_one_kiln_at_once():
    found = spoiled(lambda p: p["loads"].append({**p["loads"][1], "start": 800, "items": []}))
    assert any("overlap in kiln K1" in sentence for sentence in found)


def test_moulds_still_held_after_another_kilns_load():
    # Loads of 500 to 675 hold their moulds to 685: at 680 five more make thirteen of eight.
    def act(plan):
        plan["loads"][1].update(kiln="K2", start=680)

    assert any("in use at minute 680" in sentence for sentence in spoiled(act))


def test_beads_that_nobody_takes_out():
    data = {**WORKSHOP, "calendar": {"open": [[480, 700]], "cooling_may_run_past_closing": True}}
    plan = copy.deepcopy(GOOD)
    plan["loads"][0]["start"] = 600
    assert any("nobody ever comes again" in sentence for sentence in violations(data, plan))
