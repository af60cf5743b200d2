"""What the counter promises is what the plan can keep: both stand on one reading of the floor.

Floors are drawn: dinner hours, closed days, storms, kilns hired out, kilns kept hot, soaks, painted
beads. `AGREED_FLOORS=200` draws more of them.
"""

import os
import random
from datetime import time, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.utils import timezone

from orders.firing.queries.plan_effects import ready_days
from orders.firing.services.plan import accept_plan, propose_plan
from orders.floor.read_floor import read_floor
from orders.models import Order, WantedLine
from orders.planning.faults import faults
from orders.reckoning.reckon import reckon
from stock.models import GlassForm, KilnLoad, LoadTray
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_design,
    make_kiln,
    make_mould,
    make_order,
    make_person,
    make_programme,
    make_rate,
    put_glass,
)
from tests.orders.conftest import MONDAY
from workshop.models import ClosedDay, NoFiring, WorkingHours

pytestmark = pytest.mark.django_db

FLOORS = int(os.environ.get("AGREED_FLOORS", "6"))


def drawn_floor(draw: random.Random) -> list:
    """A workshop with hours, kilns, days off and beads as they come; its designs."""
    make_business(margin=Decimal("0.25"), overhead=Decimal("0.10"))
    dinner = draw.random() < 0.5
    for weekday in range(draw.choice([5, 6])):
        for opens, closes in ((8, 12), (13, 18)) if dinner else ((8, 17),):
            WorkingHours.objects.create(weekday=weekday, opens=time(opens), closes=time(closes))
    if draw.random() < 0.5:
        ClosedDay.objects.create(day=MONDAY.date() + timedelta(days=2), why="Feast of the nets")
    if draw.random() < 0.5:
        NoFiring.objects.create(day=MONDAY.date() + timedelta(days=1), why="storm")
    make_kiln(places=draw.choice([8, 12]), preheat_min=40, cooling_min=draw.choice([45, 90]))
    if draw.random() < 0.5:
        make_kiln("Small kiln", places=6, preheat_min=30, cooling_min=35)
    if draw.random() < 0.4:
        make_kiln(
            "Hot kiln", places=8, way="hot", warm_up_min=60, change_min=10, keep_hot_min=45,
            hotter_c_per_min=8, cooler_c_per_min=4,
        )  # fmt: skip
    soak = {"soak_c": 540, "soak_min": 20, "slow_to_c": 480, "slow_c_per_min": 3}
    firm = make_programme(
        "Firm", hold_c=770, from_c=740, to_c=800, hold_min=35, from_min=25, to_min=45,
        **(soak if draw.random() < 0.3 else {}),
    )  # fmt: skip
    paint = make_programme(
        "Paint", kind="painted", hold_c=620, hold_min=20, from_c=600, to_c=640, from_min=15,
        to_min=25,
    )  # fmt: skip
    wide = make_mould("Round fourteen", owned=5, cavities=8, held_min=draw.choice([0, 60]))
    beads = [
        make_bead(),
        make_bead("Firm round", programme=firm, mould=wide),
        make_bead("Painted round", kind="painted", second_programme=paint),
    ]
    make_rate()
    make_rate("Moulding", skill="moulding", basis="mould", minutes_each=Decimal(4))
    make_rate("Painting", skill="painting", basis="bead", minutes_each=Decimal("0.5"))
    make_rate("Polishing", skill="polishing", basis="bead", minutes_each=Decimal("0.2"))
    put_glass(make_colour(), GlassForm.POWDER, 50)
    for role in ("owner", "counter", "kiln", "bench"):
        make_person(role)
    return [make_design(bead.name, beads=bead) for bead in beads]


@pytest.mark.parametrize("seed", range(FLOORS))
def test_every_day_that_the_counter_promises_is_one_that_the_plan_keeps(seed):
    draw = random.Random(seed)
    designs = drawn_floor(draw)
    now = MONDAY + timedelta(minutes=draw.randrange(600))
    for number in range(5):
        with time_machine.travel(now, tick=False):
            design, strands = draw.choice(designs), draw.choice([1, 2, 4, 7])
            order = make_order(strands, design=design, customer=make_customer(f"C {number}"))
            floor = read_floor()
            assert not floor.refused
            whole = floor.whole_plan
            said = [f.sentence for load in whole.loads for f in faults(floor.instance, whole, load)]
            assert not said, "\n".join([str(seed), *said])
            ready = ready_days(floor)[str(order.number)]
            assert ready <= order.likely_on


def take(workshop, strands: int = 1, who: str = "Marisa Orlo") -> Order:
    return make_order(strands, design=workshop["design"], customer=make_customer(who))


def test_no_load_is_promised_across_the_dinner_hour(monday):
    """60 preheat, 30 held: lit at half past eleven it would burn alone from twelve to one."""
    WorkingHours.objects.all().delete()
    for weekday in range(5):
        WorkingHours.objects.create(weekday=weekday, opens=time(8), closes=time(12))
        WorkingHours.objects.create(weekday=weekday, opens=time(13), closes=time(17))
    with time_machine.travel(MONDAY + timedelta(hours=3), tick=False):
        take(monday)
        load = KilnLoad.objects.get()
        assert timezone.localtime(load.starts_at).time() == time(13)


def test_paint_dries_before_the_second_firing_that_is_promised(monday):
    """Preheat 60, held 25, cooling 90; two hours of drying lie between the two."""
    paint = make_programme(
        "Paint", kind="painted", hold_c=620, hold_min=20, from_c=600, to_c=640, from_min=15,
        to_min=25,
    )  # fmt: skip
    bead = make_bead("Painted round", kind="painted", second_programme=paint)
    make_order(1, design=make_design("Painted strand", beads=bead))
    first, second = KilnLoad.objects.order_by("starts_at")
    out = first.starts_at + timedelta(minutes=first.occupies_min)
    assert second.starts_at - out >= timedelta(minutes=120)


def test_a_load_that_nobody_lit_holds_no_kiln_and_its_beads_ask_for_room_again(monday):
    first = take(monday, 3)
    first.jobs.update(step="firing")
    asked = reckon_one(monday)
    load = KilnLoad.objects.get()
    with time_machine.travel(load.starts_at + timedelta(minutes=70), tick=False):
        # 60 strands more than fill what is left of the day: the first order's beads come before.
        late = reckon_one(monday)
        assert late.room is not None
        assert late.room.board.rows == {}
        moulds = [i for pin in late.room.board.instance.pinned for i in pin.load.items]
        assert sum(item.beads for item in moulds) == first.jobs.get().to_start
    assert asked.room is not None and len(asked.room.board.rows) == 1


def test_a_load_that_burns_in_a_kiln_no_longer_in_use_stops_no_promise(monday):
    old = make_kiln("Old kiln")
    load = KilnLoad.objects.create(
        number=90, kiln=old, starts_at=MONDAY, started_at=MONDAY, hold_c=720, hold_min=30,
        state=KilnLoad.State.FIRING,
    )  # fmt: skip
    LoadTray.objects.create(load=load, bead=monday["bead"], moulds=2, beads=24)
    old.in_use = False
    old.save()
    found = reckon_one(monday)
    assert found.room is not None
    assert {place.kiln for place in found.room.kilns} == {"Clay kiln"}


def reckon_one(workshop):
    return reckon(
        [WantedLine(workshop["design"].pk, 1)], customer=None, business=workshop["business"],
        today=timezone.localdate(),
    ).promise  # fmt: skip


def test_room_is_kept_at_the_heat_and_for_the_time_that_a_plan_would_take(monday):
    """Fired at 650 to 780 °C for 25 to 40 minutes, usually 720 °C for 30."""
    take(monday)
    kept = KilnLoad.objects.get()
    assert (kept.hold_c, kept.hold_min) == (720, 30)
    keeper = make_person("kiln")
    accept_plan(propose_plan(person=keeper, seconds=0.2, bound=False), person=keeper)
    planned = KilnLoad.objects.get()
    assert (planned.hold_c, planned.hold_min) == (kept.hold_c, kept.hold_min)


def test_a_load_that_is_joined_keeps_its_length_and_gets_a_heat_between(monday):
    """Powder usually 720 °C, Firm 770 °C (740 to 800): together round((720 + 770) / 2) = 745."""
    firm = make_programme("Firm", hold_c=770, from_c=740, to_c=800)
    bead = make_bead("Firm round", programme=firm, mould=monday["bead"].mould)
    take(monday)
    make_order(1, design=make_design("Firm strand", beads=bead))
    load = KilnLoad.objects.get()
    assert (load.hold_c, load.hold_min) == (745, 30)
