"""The day an order is promised for: hours, hands, kilns and what waits before it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from orders.models import WantedLine, WorkOrder
from orders.reckoning.reckon import reckon
from stock.models import Bead, KilnLoad, LoadTray
from tests.builders import (
    make_bead,
    make_customer,
    make_design,
    make_kiln,
    make_order,
    make_person,
    make_rate,
    put_beads,
)
from tests.orders.conftest import MONDAY
from tests.orders.counter.selling import ready_strands
from workshop.models import ClosedDay, NoFiring

pytestmark = pytest.mark.django_db


def promise(workshop, strands: int):
    return reckon(
        [WantedLine(workshop["design"].pk, strands)],
        customer=None,
        business=workshop["business"],
        today=timezone.localdate(),
    ).promise


def test_strands_whose_beads_lie_ready_are_strung_today(monday):
    put_beads(monday["bead"], 180)
    # 10 strands at 6 minutes: one hour
    found = promise(monday, 10)
    assert found.likely_on == date(2027, 3, 1)
    assert found.p90_on == found.likely_on


def test_what_lies_ready_never_queues_behind_other_work(monday):
    put_beads(monday["bead"], 18 * 90)
    make_rate("Packing", skill="stringing", basis="order", minutes_each=Decimal(20))
    # nine hours of stringing for somebody else: the hand is busy today and into tomorrow
    make_order(90, design=monday["design"], customer=make_customer("Tomas Reku"))
    ready_strands(monday["design"].name, 5)
    assert promise(monday, 5).p90_on == date(2027, 3, 1)
    assert promise(monday, 6).p90_on > date(2027, 3, 1)


def test_stringing_goes_on_into_the_next_open_day(monday):
    put_beads(monday["bead"], 18 * 90)
    # 90 strands at 6 minutes: nine hours, and a day has eight
    assert promise(monday, 90).likely_on == date(2027, 3, 2)


def test_a_closed_day_is_passed_over(monday):
    put_beads(monday["bead"], 18 * 90)
    ClosedDay.objects.create(day=date(2027, 3, 2), why="Feast of the nets")
    assert promise(monday, 90).likely_on == date(2027, 3, 3)


def test_two_pairs_of_hands_take_half_as_long(monday):
    put_beads(monday["bead"], 18 * 90)
    make_person("bench", username="second pair")
    assert promise(monday, 90).likely_on == date(2027, 3, 1)


def test_beads_that_must_be_fired_take_longer_and_get_a_spare_day(monday):
    found = promise(monday, 1)
    assert found.loads_new == 1
    assert found.p90_on > found.likely_on
    assert [step.name for step in found.steps][-1] == "Strung"


def test_orders_that_wait_for_the_bench_go_first(monday):
    make_rate("Moulding", skill="moulding", basis="bead", minutes_each=Decimal(1))
    alone = promise(monday, 1)
    # 30 strands of 18 beads and some rejects: over nine hours of moulding before it
    make_order(30, design=monday["design"], customer=make_customer("Tomas Reku"))
    assert promise(monday, 1).likely_on > alone.likely_on


def test_beads_that_wait_for_the_kiln_keep_their_room(monday):
    alone = promise(monday, 1)
    # Moulded and in no load yet: 60 strands are over 1,080 beads in 12-cavity moulds,
    # so over 90 fills, with 6 moulds owned: 16 loads and more.
    order = make_order(60, design=monday["design"], customer=make_customer("Tomas Reku"))
    order.jobs.update(step=WorkOrder.Step.FIRING)
    assert promise(monday, 1).likely_on > alone.likely_on


def make_bead_once():
    return Bead.objects.filter(name="Other round").first() or make_bead("Other round")


def plan_load(starts_at, *, moulds: int, pinned: bool = False) -> KilnLoad:
    load = KilnLoad.objects.create(
        number=KilnLoad.objects.count() + 1, kiln=make_kiln(), starts_at=starts_at, hold_c=720,
        hold_min=30, pinned=pinned,
    )  # fmt: skip
    bead = make_design("Other", beads=None).parts.get().bead
    LoadTray.objects.create(load=load, bead=bead, moulds=moulds, beads=moulds * 12)
    return load


def test_room_in_a_planned_load_is_used_before_a_new_load(monday):
    # It burns from half past eight, so no new load could be out of the kiln sooner.
    plan_load(MONDAY + timedelta(minutes=30), moulds=2)
    found = promise(monday, 1)
    assert (found.loads_used, found.loads_new) == (1, 0)


def test_a_load_that_the_keeper_pinned_takes_nothing_more(monday):
    plan_load(MONDAY + timedelta(minutes=30), moulds=2, pinned=True)
    found = promise(monday, 1)
    assert found.loads_used == 0


def test_glass_that_is_missing_is_said_with_the_day(workshop):
    found = promise(workshop, 5)
    assert found.condition.startswith("once the missing glass is here: green")


def burnt(days_ago: int, *, spoiled: bool = False) -> None:
    """A load of a hundred beads on some day before; all good if it was not spoiled."""
    load = KilnLoad.objects.create(
        number=1000 + days_ago, kiln=make_kiln(), hold_c=720, hold_min=30,
        starts_at=MONDAY - timedelta(days=days_ago),
        state=KilnLoad.State.SPOILED if spoiled else KilnLoad.State.COOLED,
    )  # fmt: skip
    good = 0 if spoiled else 100
    LoadTray.objects.create(
        load=load, bead=make_bead_once(), moulds=9, beads=100, good=good, rejected=100 - good
    )


def test_the_careful_day_comes_from_the_lost_days_on_record(monday):
    """Six weeks back are 30 working days, of which loads were spoiled on 10: w = 1/3.

    For one firing day nine times in ten (exact sums of the negative binomial): one day gives
    1 − 1/3 = 0.667, two 1 − 1/9 = 0.889, three 1 − 1/27 = 0.963, so two more days are told. No
    bead was rejected, so no second firing is reckoned with. Five times in ten one day is enough.
    """
    working = [n for n in range(1, 43) if (MONDAY - timedelta(days=n)).weekday() < 5]
    for number, days_ago in enumerate(working):
        burnt(days_ago, spoiled=number % 3 == 0)
    found = promise(monday, 1)
    assert "of 30 working days on record 10 were lost" in found.careful_how
    assert found.likely_on == date(2027, 3, 1)
    assert found.p90_on == date(2027, 3, 3)


def test_a_storm_that_kept_the_kilns_cold_counts_as_a_lost_day(monday):
    for days_ago in (42, 5, 4):
        burnt(days_ago)
    for days_ago in range(7, 12):
        NoFiring.objects.create(day=(MONDAY - timedelta(days=days_ago)).date(), why="storm")
    # Monday to Friday of the week before last: five of the 30 working days.
    assert "of 30 working days on record 5 were lost" in promise(monday, 1).careful_how


def test_few_records_give_a_range_that_says_so(monday):
    burnt(3)
    found = promise(monday, 1)
    assert found.careful_how.startswith("a range, with 1 spare day for the firing: 1 working day")
    assert (found.p90_on - found.likely_on).days == 1


def test_a_customer_is_told_a_day_in_hand_even_where_no_day_was_ever_lost(monday):
    """Thirty working days, none lost: the sums ask for no spare day, and one is kept."""
    for days_ago in range(1, 43):
        if (MONDAY - timedelta(days=days_ago)).weekday() < 5:
            burnt(days_ago)
    found = promise(monday, 1)
    assert "of 30 working days on record 0 were lost" in found.careful_how
    assert found.likely_on == date(2027, 3, 1)
    assert found.p90_on == date(2027, 3, 2)
